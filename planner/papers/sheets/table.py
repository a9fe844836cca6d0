"""A table that was read from a sheet: its rows of texts, how much of it is read, and why not."""

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
