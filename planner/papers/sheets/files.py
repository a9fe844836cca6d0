"""The sheets that leave the tool: what is in them, and the files they become.

::

    sheet, mine = allocation_sheet(plan), imprint(plan, revision="B")
    write_csv(sheet)
    write_xlsx([sheet, port_sheet(plan)], mine)
    write_xlsx(workbook_sheets(plan, mine), mine)
"""

from planner.papers.sheets.allocation import allocation_sheet
from planner.papers.sheets.checks import check_sheet
from planner.papers.sheets.csv_file import write_csv
from planner.papers.sheets.parts import Column, Imprint, Sheet, imprint
from planner.papers.sheets.ports import port_sheet
from planner.papers.sheets.records import datastore_sheet, host_sheet, seat_sheet, template_sheet
from planner.papers.sheets.workbook import about_sheet, workbook_sheets
from planner.papers.sheets.xlsx_file import write_xlsx

__all__ = [
    "Column",
    "Imprint",
    "Sheet",
    "about_sheet",
    "allocation_sheet",
    "check_sheet",
    "datastore_sheet",
    "host_sheet",
    "imprint",
    "port_sheet",
    "seat_sheet",
    "template_sheet",
    "workbook_sheets",
    "write_csv",
    "write_xlsx",
]
