"""A sheet as CSV: UTF-8 with a byte order mark, CRLF (RFC 4180), every field quoted, no cell that is run."""

from __future__ import annotations

import csv
import datetime as dt
import io
import math

from planner.papers import defuse
from planner.papers.sheets.parts import Sheet, Value


def write_csv(sheet: Sheet) -> bytes:
    """The sheet as a file: a line of headings, then its rows. Numbers with a point, days as ISO 8601."""
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\r\n", quoting=csv.QUOTE_ALL)
    writer.writerow([defuse.for_csv(column.title) for column in sheet.columns])
    writer.writerows([_text(value) for value in row] for row in sheet.rows)
    return b"\xef\xbb\xbf" + file.getvalue().encode()


def _text(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float):
        if not math.isfinite(value):
            return ""
        if value.is_integer() and abs(value) < 1e15:
            return str(int(value))
        return repr(value)
    if isinstance(value, int):
        return str(value)
    return defuse.for_csv(value)
