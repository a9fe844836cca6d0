"""CSV as spreadsheets write it: commas, semicolons or tabs; UTF-8, UTF-16 with its mark, or Western European."""

from __future__ import annotations

import csv
import io

from planner.papers import defuse
from planner.papers.sheets.table import Gatherer, Limits, Table, Unreadable

SIGNS = ",;\t|"
WESTERN = "windows-1252"


def read_csv(data: bytes, wanted: tuple[str, ...], limits: Limits) -> Table:
    """As :func:`planner.papers.sheets.reading.read_table`, for text."""
    text, notes = _decoded(data)
    for sign in sorted(SIGNS, key=text[:4096].count, reverse=True):
        gatherer = Gatherer(wanted, limits)
        try:
            _read(text, sign, gatherer)
        except csv.Error as error:
            raise Unreadable(f"The file cannot be read as CSV: {error}.") from error
        if gatherer.headings:
            return gatherer.table("CSV", notes)
    return gatherer.table("CSV", notes)  # says that there is no heading


def _read(text: str, sign: str, gatherer: Gatherer) -> None:
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=sign, strict=True)
    for number, cells in enumerate(rows, 1):
        if not gatherer.searching(number):
            return
        gatherer.take(number, [defuse.from_csv(cell) for cell in cells])


def _decoded(data: bytes) -> tuple[str, list[str]]:
    """The text of a file and what to say of it. Raises :class:`Unreadable` when it is no text."""
    if data.startswith((b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff")):
        raise Unreadable("The file is written in UTF-32. Save it as CSV in UTF-8.")
    try:
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            return data.decode("utf-16"), []
        if b"\0" in data:
            raise Unreadable(
                "This is neither an XLSX file nor text. Save the sheet as XLSX, or as CSV in UTF-8."
            )
        return data.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        pass
    try:
        return data.decode(WESTERN), [
            f"The file is not UTF-8; it was read as {WESTERN}. Look at accented letters."
        ]
    except UnicodeDecodeError as error:
        raise Unreadable(
            "The file's letters cannot be told. Save the sheet as XLSX, or as CSV in UTF-8."
        ) from error
