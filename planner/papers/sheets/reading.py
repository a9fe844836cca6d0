"""A sheet that comes back: its bytes become rows of texts, or a plain reason why not.

What a file is, is told by its content, never by its name. Time and memory are bounded whatever it holds:
see :data:`LIMITS`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

MIB = 1024 * 1024


class Unreadable(Exception):
    """This file cannot be read; the message says why, and what to do, in one or two sentences."""


@dataclass(frozen=True, slots=True)
class Limits:
    """The most that is read.

    ``file_bytes`` of a file as it comes; of an XLSX file ``parts`` in its archive, ``unpacked_bytes`` of all
    of them, ``ratio`` to which a part may unpack (parts under 1 MiB may more), ``elements`` of XML for rows,
    cells and texts, ``others`` for everything else, ``readings`` of elements over all tabs, and ``depth`` of
    their nesting; ``rows``, ``columns`` and ``letters`` of a cell of any table.
    """

    file_bytes: int = 4 * MIB
    parts: int = 500
    unpacked_bytes: int = 32 * MIB
    ratio: int = 200
    elements: int = 400_000
    others: int = 20_000
    readings: int = 2_000_000
    depth: int = 40
    rows: int = 5_000
    columns: int = 60
    letters: int = 32_767


LIMITS = Limits()


@dataclass(frozen=True)
class Table:
    """Rows of texts under headings. ``kind`` is CSV or XLSX, ``numbers`` are the rows' numbers in the file,
    ``notes`` say what a person should know of how it was read."""

    kind: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...]
    notes: tuple[str, ...] = field(default=())


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
    from planner.papers.sheets.reading_csv import read_csv
    from planner.papers.sheets.reading_xlsx import read_xlsx

    if len(data) > limits.file_bytes:
        raise Unreadable(
            f"The file is larger than {limits.file_bytes // MIB} MiB. That is no sheet of ours."
        )
    if not data.strip(b"\0 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise Unreadable("The file is empty.")
    for start, why in _OTHERS:
        if data.startswith(start):
            raise Unreadable(why)
    read = read_xlsx if data.startswith(ARCHIVES) else read_csv
    return read(data, tuple(wanted), limits)


class Gatherer:
    """Takes the rows of a file one by one: finds the heading row, then keeps what is under it."""

    SEARCHED = 30  # rows in which the heading is looked for

    def __init__(self, wanted: tuple[str, ...], limits: Limits):
        self.wanted, self.limits = wanted, limits
        self.headings: tuple[str, ...] = ()
        self.rows: list[tuple[str, ...]] = []
        self.numbers: list[int] = []
        self.beside = 0  # the first row that has something under no heading

    def searching(self, number: int) -> bool:
        """Whether a row of this number can still be part of the table."""
        return bool(self.headings) or number <= self.SEARCHED

    def take(self, number: int, cells: list[str]) -> None:
        """Raises :class:`Unreadable` when there are too many rows, or letters in a cell."""
        texts = tuple(cell.strip() for cell in cells[: self.limits.columns])
        if not any(texts):
            return
        if not self.headings:
            if {one.casefold() for one in self.wanted} <= {one.casefold() for one in texts}:
                self.headings = texts[: max(at for at, text in enumerate(texts, 1) if text)]
            return
        if len(self.rows) >= self.limits.rows:
            raise Unreadable(
                f"The sheet has more than {self.limits.rows} rows. Take it apart and bring it in pieces."
            )
        if any(len(text) > self.limits.letters for text in texts):
            raise Unreadable(
                f"A cell in row {number} holds more than {self.limits.letters} letters."
            )
        width = len(self.headings)
        named = [text for text, heading in zip(texts, self.headings, strict=False) if heading]
        if not self.beside and sum(map(bool, texts)) > sum(map(bool, named)):
            self.beside = number
        self.rows.append((texts + ("",) * (width - len(texts)))[:width])
        self.numbers.append(number)

    def table(self, kind: str, notes: Iterable[str] = ()) -> Table:
        if not self.headings:
            names = ", ".join(f"“{one}”" for one in self.wanted)
            raise Unreadable(
                f"No row has the headings {names}. Take a sheet that was downloaded here; its heading row must stay."
            )
        told = list(notes)
        if self.beside:
            told.append(
                f"What stands under no heading is not read; row {self.beside} is the first with such a cell."
            )
        return Table(kind, self.headings, tuple(self.rows), tuple(self.numbers), tuple(told))
