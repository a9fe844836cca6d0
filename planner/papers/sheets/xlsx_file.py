"""Sheets as an XLSX workbook, typed, ready to filter and to print."""

from __future__ import annotations

import datetime as dt
import io
import math
from collections.abc import Iterator, Mapping, Sequence

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet._write_only import WriteOnlyWorksheet

from planner.papers import defuse
from planner.papers.sheets.parts import Column, ColumnKind, Imprint, Sheet, Value
from planner.record.choices import PaperSize

# Source: ECMA-376-1, 18.3.1.63 pageSetup, paperSize
PAPERS: Mapping[str, int] = {PaperSize.LETTER: 1, PaperSize.A4: 9}
ROWS = 1_048_576  # of one sheet, the headings included
DIGITS = 10**15  # a spreadsheet keeps fifteen digits of a number
FIRST_DAY = dt.date(1900, 3, 1)  # before it, spreadsheets disagree about days
HEADER = 110  # letters of each part of a page's head or foot, which hold 255 together
FORMATS = {
    ColumnKind.TEXT: "@",
    ColumnKind.ADDRESS: "@",
    ColumnKind.NUMBER: "#,##0.0##",
    ColumnKind.INTEGER: "0",
    ColumnKind.DATE: "yyyy-mm-dd",
}
HEAD = {
    "font": Font(bold=True),
    "border": Border(bottom=Side(style="medium")),
    "alignment": Alignment(wrap_text=True, vertical="bottom"),
}
LONG = Alignment(wrap_text=True, vertical="top")
SHORT = Alignment(vertical="top")


def write_xlsx(sheets: Sequence[Sheet], imprint: Imprint) -> bytes:
    """One workbook with a tab a sheet. Every text is a string cell: nothing in it is ever a formula.

    Rows beyond what a tab holds are left out; its last row then says how many.
    """
    book = Workbook(write_only=True)
    book.properties.creator = "Deskwright"
    book.properties.title = defuse.clean(", ".join(sheet.title for sheet in sheets))[:250]
    book.properties.subject = defuse.clean(imprint.where)[:250]
    book.properties.description = defuse.clean(imprint.state)[:250]
    names: set[str] = set()
    for sheet in sheets:
        _write(book.create_sheet(_tab(sheet.name, names)), sheet, imprint)
    if not sheets:
        book.create_sheet("Empty")
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def _tab(name: str, taken: set[str]) -> str:
    """A name a tab may have: 31 letters, none of []:*?/\\, no apostrophe at its ends, none twice."""
    plain = (
        "".join(" " if one in "[]:*?/\\" else one for one in defuse.clean(name)).strip("' ")[:28]
        or "Sheet"
    )
    found, number = plain, 1
    while found.casefold() in taken:
        number += 1
        found = f"{plain[:24]} {number}"
    taken.add(found.casefold())
    return found


def _write(tab: WriteOnlyWorksheet, sheet: Sheet, imprint: Imprint) -> None:
    for at, column in enumerate(sheet.columns, 1):
        tab.column_dimensions[get_column_letter(at)].width = column.width
    tab.freeze_panes = "A2"
    _print_setup(tab, sheet, imprint)
    rows = sheet.rows[: ROWS - 2]
    if sheet.columns:
        tab.auto_filter.ref = f"A1:{get_column_letter(len(sheet.columns))}{len(rows) + 1}"
        printed = sum(column.printed for column in sheet.columns)
        tab.print_area = f"A1:{get_column_letter(max(1, printed))}{len(rows) + 1}"
        tab.append([_string(tab, column.title, HEAD) for column in sheet.columns])
    for row in rows:
        tab.append(list(_cells(tab, sheet.columns, row)))
    if len(sheet.rows) > len(rows):
        tab.append(
            [_string(tab, f"and {len(sheet.rows) - len(rows)} more rows: take the CSV file", {})]
        )


def _print_setup(tab: WriteOnlyWorksheet, sheet: Sheet, imprint: Imprint) -> None:
    tab.page_setup.orientation = "landscape"
    tab.page_setup.paperSize = PAPERS.get(imprint.paper, PAPERS[PaperSize.A4])
    tab.page_setup.fitToWidth, tab.page_setup.fitToHeight = 1, 0
    tab.sheet_properties.pageSetUpPr.fitToPage = True
    tab.print_title_rows = "1:1"
    margins = tab.page_margins
    margins.left = margins.right = 0.5
    margins.top = margins.bottom = 0.8
    margins.header = margins.footer = 0.35
    tab.oddHeader.left.text = _page_words(imprint.where)
    tab.oddHeader.right.text = _page_words(sheet.title)
    tab.oddFooter.left.text = _page_words(imprint.state)
    tab.oddFooter.right.text = "page &P of &N"


def _page_words(text: str) -> str:
    """Text for a page's head or foot, where & begins a code: doubled, it is an ampersand."""
    words = defuse.clean(text)
    while len(words.replace("&", "&&")) > HEADER:
        words = words[: min(len(words) - 1, HEADER)]
    return words.replace("&", "&&")


def _cells(
    tab: WriteOnlyWorksheet, columns: tuple[Column, ...], row: tuple[Value, ...]
) -> Iterator[WriteOnlyCell | None]:
    for column, value in zip(columns, row, strict=False):
        yield None if value is None or value == "" else _cell(tab, column, value)


def _cell(tab: WriteOnlyWorksheet, column: Column, value: Value) -> WriteOnlyCell | None:
    if isinstance(value, dt.datetime):
        value = value.date()
    if isinstance(value, dt.date):
        if value < FIRST_DAY:
            return _string(tab, value.isoformat(), {"alignment": SHORT})
        cell = WriteOnlyCell(tab, value)
        cell.number_format = FORMATS[ColumnKind.DATE]
    elif isinstance(value, int | float) and math.isfinite(value) and abs(value) < DIGITS:
        cell = WriteOnlyCell(tab, int(value) if isinstance(value, bool) else value)
        whole = column.kind == ColumnKind.INTEGER
        cell.number_format = FORMATS[ColumnKind.INTEGER if whole else ColumnKind.NUMBER]
    elif isinstance(value, float):
        if not math.isfinite(value):
            return None
        return _string(tab, repr(value), {"alignment": SHORT})
    else:
        return _string(
            tab, str(value), {"alignment": LONG if column.width >= 20 and column.printed else SHORT}
        )
    cell.alignment = SHORT
    return cell


def _string(tab: WriteOnlyWorksheet, text: str, look: dict[str, Alignment]) -> WriteOnlyCell | None:
    """A cell that is a string whatever it begins with. The text format keeps it one when somebody edits it."""
    cell = WriteOnlyCell(tab)
    cell._value = defuse.for_xlsx(text)  # past the guessing that would take "=…" for a formula
    if not cell._value:
        return None  # all of it was illegal
    cell.data_type = "s"
    cell.number_format = FORMATS[ColumnKind.TEXT]
    for name, value in look.items():
        setattr(cell, name, value)
    return cell
