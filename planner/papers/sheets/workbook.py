"""The workbook: a site's plan in one file, a tab a sheet, with a first tab that says what it is."""

from __future__ import annotations

from collections.abc import Mapping

from planner.papers.sheets.allocation import allocation_sheet
from planner.papers.sheets.checks import check_sheet
from planner.papers.sheets.parts import Column, Imprint, Sheet
from planner.papers.sheets.ports import port_sheet
from planner.papers.sheets.records import datastore_sheet, host_sheet, seat_sheet, template_sheet
from planner.plan import Plan

ABOUT = (Column("What", width=22), Column("This file", width=90))
FILLING = (
    "The allocation sheet can be filled in and read back on the page “Read back” of chapter 11. Change what is not so; "
    "give an address to whoever has none; add a row without a key for a device that nobody wrote down. An empty "
    "cell leaves what stands; the word “nothing” empties it. A row that is left out changes nothing."
)
KEYS = "The last column of the allocation sheet tells the rows apart. Leave it as it is, and sort whole rows only."


def workbook_sheets(
    plan: Plan, imprint: Imprint, edits: Mapping[str, int] | None = None
) -> tuple[Sheet, ...]:
    """Every sheet of the workbook, in the order of its tabs; ``edits`` as for :func:`allocation_sheet`."""
    sheets = (
        allocation_sheet(plan, edits),
        port_sheet(plan),
        host_sheet(plan),
        datastore_sheet(plan),
        template_sheet(plan),
        seat_sheet(plan),
        check_sheet(plan),
    )
    return (about_sheet(imprint, sheets), *sheets)


def about_sheet(imprint: Imprint, sheets: tuple[Sheet, ...]) -> Sheet:
    """Whose plan the file holds, in which state, and what is on its tabs."""
    rows = [
        ("Customer", imprint.customer),
        ("Site", imprint.site),
        ("Revision", imprint.revision or "not a revision"),
        ("Fingerprint", imprint.fingerprint),
        *((f"Tab {sheet.name}", f"{sheet.title} ({_rows(len(sheet.rows))})") for sheet in sheets),
    ]
    if any(sheet.name == "Allocation" for sheet in sheets):
        rows += [("To fill in", FILLING), ("The keys", KEYS)]
    return Sheet("About", "What this file is", ABOUT, tuple(rows))


def _rows(count: int) -> str:
    if count == 1:
        return "1 row"
    return f"{count} rows"
