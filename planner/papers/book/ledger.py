"""Ledgers: tables of records. Columns find their own widths; a row may be as long as it likes."""

from __future__ import annotations

import dataclasses
import itertools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from planner.papers.book.bands import (
    Band,
    Flow,
    Piece,
    Run,
    Shape,
    baseline,
    line_shape,
    mixed_lines,
)
from planner.papers.book.look import CELL, CELL_BOLD, FAINT, HEAD, INK, SMALL, SOFT, TEXT, Style
from planner.papers.book.parts import Mark, mark_pieces, marks_width
from planner.papers.book.words import clean, lines, shortened, width

GUTTER = 10.0
LEAST = 5.0
WIDER = 6.0  # more, between a number and the words that follow it
PAD = 2.8
INDENT = 10.0  # of what stands below a row
LONGEST_CELL = 300  # characters; the whole text of a record stands in its own chapter
TOGETHER = 14  # lines of a row that are kept on one page
UNBROKEN = 16  # letters of a word that should not be broken
AIRY = 1.7  # times what it needs a column is at most: figures far apart are read in the wrong row
SLACK = 0.2  # points, against rounding
_SIGNS = re.compile(r"(?<=[-/.,;:=_@])")
MOST_ROWS = 3000  # of one table: paper is no place for more
SAMPLE = 400  # rows looked at to find the widths


@dataclass(frozen=True, slots=True)
class Column:
    """``least`` and ``widest`` are shares of the measure that bound its width; ``blank`` is written by hand."""

    head: str
    numeric: bool = False
    bold: bool = False
    widest: float = 0.34
    least: float = 0.0
    blank: bool = False


@dataclass(frozen=True, slots=True)
class Cell:
    text: str = ""
    marks: tuple[Mark, ...] = ()
    style: Style | None = None
    shape: Shape | None = None
    wide: float = 0.0  # how much room the shape takes
    page_of: str = ""  # an anchor whose page number stands here


@dataclass(frozen=True, slots=True)
class Grid:
    """Small entries side by side in equal columns; a long one takes two of them, or a line of its own."""

    entries: tuple[tuple[Run, ...], ...]
    columns: int = 3

    def lines(self, room: float) -> list[tuple[Piece, ...]]:
        step = (room + GUTTER) / self.columns
        found: list[list[Piece]] = []
        at, row = self.columns, 0
        for runs in self.entries:
            natural = sum(width(clean(text, LONGEST_CELL), style) + 3 for text, style in runs)
            span = min(max(math.ceil((natural + GUTTER) / step), 1), self.columns)
            if at + span > self.columns:
                at, row = 0, len(found)
            for count, line in enumerate(mixed_lines(runs, span * step - GUTTER)):
                if row + count == len(found):
                    found.append([])
                found[row + count] += [piece._replace(x=piece.x + at * step) for piece in line]
            at += span
        return [tuple(line) for line in found]


@dataclass(frozen=True, slots=True)
class Row:
    """Cells, and texts in one or several styles beneath them over the whole width."""

    cells: tuple[Cell | str, ...]
    under: tuple[tuple[Run, ...] | Grid, ...] = field(default=())


def ledger(
    flow: Flow,
    columns: Sequence[Column],
    rows: Sequence[Row],
    left: float = 0.0,
    blanks: bool = True,
) -> None:
    """Draws a table: heads in small bold over a dark rule, again on each page; rows over light rules.

    An empty cell is a dotted line to write on; without ``blanks`` it holds a dash.
    """
    more = len(rows) - MOST_ROWS
    rows = rows[:MOST_ROWS]
    table = _Table(flow, columns, [_cells(row, columns, blanks) for row in rows], left)
    flow.gap(LEAST)  # words before it do not touch its heads
    for band in flow.bands[-2:]:
        band.keep = True  # and are on its page
    flow.add(table.head)
    for at, (row, cells) in enumerate(zip(rows, table.cells, strict=True)):
        bands = table.row(cells, row.under)
        if at in (0, len(rows) - 2) and len(rows) > 1 and len(bands) < 6:
            bands[-1].keep = True  # no row stands alone at a page's end or head
        flow.add(*bands)
    if more > 0:
        flow.text(
            f"And {more:,} rows more, on screen and in the sheets that can be taken as files.",
            TEXT,
            left=left,
        )
    flow.gap(4)


def _cells(row: Row, columns: Sequence[Column], blanks: bool) -> list[Cell]:
    found = [cell if isinstance(cell, Cell) else Cell(cell) for cell in row.cells[: len(columns)]]
    found += [Cell()] * (len(columns) - len(found))
    cleaned = [dataclasses.replace(one, text=clean(one.text, LONGEST_CELL)) for one in found]
    if blanks:
        return cleaned
    return [
        one if one.text or one.marks or one.shape or one.page_of else Cell("—") for one in cleaned
    ]


class _Table:
    """One ledger's widths, worked out once."""

    def __init__(self, flow: Flow, columns: Sequence[Column], cells: list[list[Cell]], left: float):
        self.columns, self.cells, self.left = columns, cells, left
        self.room = flow.measure - left
        self.heads = [clean(column.head) for column in columns]
        self.gutters = [
            GUTTER + (WIDER if one.numeric and not other.numeric else 0.0)
            for one, other in itertools.pairwise(columns)
        ]
        self.widths = self._widths()
        self.starts = [left]
        for wide, gutter in zip(self.widths, self.gutters, strict=False):
            self.starts.append(self.starts[-1] + wide + gutter)
        self.head = self._head()

    def _style(self, column: Column, cell: Cell) -> Style:
        return cell.style or (CELL_BOLD if column.bold else CELL)

    def _widths(self) -> list[float]:
        room = self.room - sum(self.gutters)
        natural, needed = [], []
        for at, column in enumerate(self.columns):
            cap = max(column.widest, column.least) * self.room
            head = _longest_word(self.heads[at], HEAD) + SLACK
            whole, word = width(self.heads[at], HEAD) + SLACK, 0.0
            for row in self.cells[:SAMPLE]:
                cell = row[at]
                style = self._style(column, cell)
                extra = marks_width(cell.marks, style) + cell.wide
                whole = max(whole, width(cell.text, style) + extra + SLACK)
                word = max(word, _longest_word(cell.text, style) + cell.wide + SLACK, extra)
            floor = max(column.least * self.room, head)
            natural.append(max(min(whole, cap), floor))
            needed.append(max(min(word, cap), floor))
        return _share(natural, needed, room, 9.0 if self.columns[-1].blank else AIRY)

    def _head(self) -> Band:
        broken = [
            lines(head, wide, HEAD) for head, wide in zip(self.heads, self.widths, strict=True)
        ]
        count = max((len(one) for one in broken), default=1) or 1
        pieces = []
        for column, start, wide, parts in zip(
            self.columns, self.starts, self.widths, broken, strict=True
        ):
            for at, part in enumerate(parts):
                down = (count - len(parts) + at) * HEAD.leading + baseline(HEAD)
                if column.numeric:
                    x = start + wide - width(part, HEAD)
                else:
                    x = start
                pieces.append(Piece(x, down, part, HEAD))
        height = count * HEAD.leading + 3.5
        return Band(
            height,
            tuple(pieces),
            (line_shape(self.left, self.left + self.room, height, INK, 0.8),),
            keep=True,
        )

    def row(self, cells: Sequence[Cell], under: Sequence[tuple[Run, ...] | Grid]) -> list[Band]:
        """The bands of one row; a short row stays on one page."""
        broken = [self._broken(at, cell) for at, cell in enumerate(cells)]
        count = max((len(one) for one in broken), default=1) or 1
        bands = []
        for line in range(count):
            pieces: list[Piece] = []
            for parts in broken:
                if line < len(parts):
                    pieces += parts[line]
            bands.append(Band(CELL.leading, tuple(pieces), self._drawn(cells) if line == 0 else ()))
        bands += self._under(under)
        return self._finished(bands, cells, count)

    def _drawn(self, cells: Sequence[Cell]) -> tuple[Shape, ...]:
        """What the cells of a row draw: their shapes, page numbers."""
        found = []
        for cell, start, wide in zip(cells, self.starts, self.widths, strict=True):
            if cell.shape:
                found.append(_shifted(cell.shape, start))
            if cell.page_of:
                found.append(_page_number(cell.page_of, start + wide))
        return tuple(found)

    def _broken(self, at: int, cell: Cell) -> list[list[Piece]]:
        column, start, wide = self.columns[at], self.starts[at], self.widths[at]
        style = self._style(column, cell)
        down = baseline(CELL)
        room = wide - cell.wide
        if cell.text:
            parts = lines(cell.text, room, style)
        else:
            parts = []
        found = []
        for part in parts:
            if column.numeric:
                x = start + wide - width(part, style)
            else:
                x = start + cell.wide
            found.append([Piece(x, down, part, style)])
        if cell.marks:
            self._add_marks(found, cell, start, wide, style, column.numeric)
        return found

    def _add_marks(
        self,
        found: list[list[Piece]],
        cell: Cell,
        start: float,
        wide: float,
        style: Style,
        numeric: bool,
    ) -> None:
        """Puts the marks after the last line where there is room, else below it."""
        marks = cell.marks
        while len(marks) > 1 and marks_width(marks, style) > wide:
            marks = marks[:-1]
        room = marks_width(marks, style)
        end = start
        if found:
            last = found[-1][0]
            end = last.x + width(last.text, style)
        if numeric:
            fits = room <= GUTTER + 1
        else:
            fits = end + room <= start + wide
        if found and fits:
            found[-1] += mark_pieces(marks, end + 2.5, baseline(CELL), style)
        elif found and numeric and width(found[-1][0].text, style) + room <= wide:
            last = found[-1][0]
            found[-1] = [
                last._replace(x=last.x - room),
                *mark_pieces(marks, end - room + 2.5, baseline(CELL), style),
            ]
        else:
            if numeric:
                x = start + wide - room
            else:
                x = start
            found.append(list(mark_pieces(marks, x, baseline(CELL), style)))

    def _under(self, under: Sequence[tuple[Run, ...] | Grid]) -> list[Band]:
        found = []
        for one in under:
            if isinstance(one, Grid):
                broken = one.lines(self.room - INDENT)
            else:
                broken = mixed_lines(one, self.room - INDENT)
            for line in broken:
                moved = tuple(
                    piece._replace(x=piece.x + self.left + INDENT, down=baseline(SMALL))
                    for piece in line
                )
                found.append(Band(SMALL.leading, moved))
        return found

    def _blanks(self, cells: Sequence[Cell]) -> list[Shape]:
        """Dotted lines where nothing stands: to be written on."""
        found = []
        for column, start, wide, cell in zip(
            self.columns, self.starts, self.widths, cells, strict=True
        ):
            if not (cell.text or cell.marks or cell.shape or cell.page_of):
                end = start + (wide if column.blank else min(wide, 46))
                found.append(line_shape(start, end, CELL.leading + PAD - 1, SOFT, 0.5, (0.6, 1.8)))
        return found

    def _finished(self, bands: list[Band], cells: Sequence[Cell], count: int) -> list[Band]:
        """White above and below, the rule, blanks to write on, and what is kept together."""
        first, last = bands[0], bands[-1]
        first.height += PAD
        first.pieces = tuple(piece._replace(down=piece.down + PAD) for piece in first.pieces)
        if len(bands) > count:
            bands[count - 1].height += 0.6
        last.height += PAD
        for band in bands:
            band.again = (self.head,)
        rule = line_shape(self.left, self.left + self.room, last.height, FAINT, 0.4)
        blanks = self._blanks(cells)
        first.shapes = (*first.shapes, *blanks)
        last.shapes = (*last.shapes, rule)
        if len(bands) <= TOGETHER:
            held = len(bands) - 1
        else:
            held = 1
        for band in bands[:held]:
            band.keep = True
        if len(bands) > TOGETHER:
            bands[-2].keep = True
        return bands


def _shifted(shape: Shape, by: float) -> Shape:
    return lambda canvas, x, top: shape(canvas, x + by, top - PAD)


def _page_number(key: str, right: float) -> Shape:
    return lambda canvas, x, top: canvas.put_page_of(
        key, x + right, top - PAD - baseline(CELL), CELL
    )


def _longest_word(text: str, style: Style) -> float:
    """The widest word; a long one counts by its parts, it may be broken after a sign like - or /."""
    parts = (
        part
        for word in text.split(" ")
        for part in (_SIGNS.split(word) if len(word) > UNBROKEN else (word,))
    )
    return max((width(part, style) for part in parts), default=0.0)


def _share(natural: list[float], needed: list[float], room: float, widest: float) -> list[float]:
    """Widths for the room: what each would like and up to ``widest`` times that, else its longest word and a
    part of the rest."""
    wanted, least = sum(natural), sum(needed)
    if wanted <= room:
        grow = min(room / (wanted or 1), widest)
        return [one * grow for one in natural]
    if least <= room:
        part = (room - least) / ((wanted - least) or 1)
        return [low + (high - low) * part for low, high in zip(needed, natural, strict=True)]
    return [max(one * room / least, 4.0) for one in needed]


def short(text: str, room: float) -> str:
    """A cell's text cut to one line."""
    return shortened(clean(text, LONGEST_CELL), room, CELL)
