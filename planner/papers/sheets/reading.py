"""A sheet that comes back: its bytes become rows of texts, or a plain reason why not.

What a file is, is told by its content, never by its name. Time and memory are bounded whatever it holds:
see :data:`planner.papers.sheets.table.LIMITS`.
"""

from __future__ import annotations

from collections.abc import Iterable

from planner.papers.sheets.reading_csv import read_csv
from planner.papers.sheets.reading_xlsx import read_xlsx
from planner.papers.sheets.table import LIMITS, MIB, Limits, Table, Unreadable

ARCHIVES = (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")
# What a file that is neither begins with, and what to say of it.
_OTHERS = (
    (
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
        "This is a spreadsheet of the old binary kind, or one locked with a "
        "password. Save it as XLSX without a password, or as CSV.",
    ),
    (b"%PDF", "This is a PDF. Take the sheet itself: XLSX or CSV."),
    (b"\x89PNG", "This is a picture. Take the sheet itself: XLSX or CSV."),
    (b"\xff\xd8\xff", "This is a picture. Take the sheet itself: XLSX or CSV."),
    (b"\x1f\x8b", "This is a packed file. Unpack it first."),
    (b"7z\xbc\xaf", "This is a packed file. Unpack it first."),
    (b"{\\rtf", "This is a text document. Take the sheet itself: XLSX or CSV."),
)


def read_table(data: bytes, wanted: Iterable[str], limits: Limits = LIMITS) -> Table:
    """The rows under the heading row that bears all of the ``wanted`` headings.

    Raises :class:`Unreadable` for whatever is no such sheet, or too much of one.
    """
    if len(data) > limits.file_bytes:
        raise Unreadable(
            f"The file is larger than {limits.file_bytes // MIB} MiB. That is no sheet of ours."
        )
    if not data.strip(b"\0 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise Unreadable("The file is empty.")
    for start, why in _OTHERS:
        if data.startswith(start):
            raise Unreadable(why)
    if data.startswith(ARCHIVES):
        read = read_xlsx
    else:
        read = read_csv
    return read(data, tuple(wanted), limits)
