"""The sheets that leave the tool: what is in them, and the files they become.

::

    sheet = allocation_sheet(plan)
    write_xlsx([sheet, port_sheet(plan)], imprint(plan, revision="B"))
    write_csv(sheet)
"""

from planner.papers.sheets_allocation import allocation_sheet
from planner.papers.sheets_csv import write_csv
from planner.papers.sheets_parts import Column, Imprint, Sheet, imprint
from planner.papers.sheets_ports import port_sheet
from planner.papers.sheets_xlsx import write_xlsx

__all__ = ["Column", "Imprint", "Sheet", "allocation_sheet", "imprint", "port_sheet", "write_csv", "write_xlsx"]
