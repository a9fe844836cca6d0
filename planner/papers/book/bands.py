"""Bands: the book is a pile of horizontal strips of known height, broken into pages between them.

Every part of the book (a line of text, a row of a ledger, a heading) is one or more bands, laid out
for the measure of the paper. A band is never higher than a page, so nothing can fail to fit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus.doctemplate import PageBreak
from reportlab.platypus.flowables import Flowable

from planner.papers.book.look import INK, TEXT, Sheet, Style
from planner.papers.book.words import clean, lines, paragraphs, width

FUZZ = 0.01  # points: what reportlab itself allows when it compares heights


class Piece(NamedTuple):
    """A cleaned text on a band: ``x`` from the left, its baseline ``down`` from the band's top."""

    x: float
    down: float
    text: str
    style: Style


Shape = Callable[[Canvas, float, float], None]  # draws on a canvas from (left, top) of its band


class Anchor(NamedTuple):
    """A place that the outline and the contents name; ``running`` is what the page head says from here on."""

    key: str
    title: str
    level: int
    running: str = ""


@dataclass(slots=True)
class Band:
    """One strip. ``keep``: no page ends after it. ``gap``: white, dropped at the top of a page.

    ``again`` are bands drawn once more above it when a page begins with it: a table's head.
    """

    height: float
    pieces: tuple[Piece, ...] = ()
    shapes: tuple[Shape, ...] = ()
    keep: bool = False
    gap: bool = False
    again: tuple[Band, ...] = ()
    anchor: Anchor | None = None

    def draw(self, canvas: Any, x: float, top: float) -> None:
        if self.anchor:
            canvas.put_anchor(self.anchor, top)
        if self.pieces:
            canvas.put_pieces(self.pieces, x, top)
        for shape in self.shapes:
            shape(canvas, x, top)


class Pile(Flowable):
    """Bands one below the other, broken between pages where :attr:`Band.keep` allows."""

    def __init__(self, bands: list[Band], sheet: Sheet):
        super().__init__()
        self.bands, self.sheet = bands, sheet

    def wrap(self, aw: float, ah: float) -> tuple[float, float]:
        if ah >= self.sheet.room - 1:  # no white at the top of a page
            while self.bands and self.bands[0].gap:
                self.bands = self.bands[1:]
        self.width, self.height = aw, sum(band.height for band in self.bands)
        return aw, self.height

    def split(self, aw: float, ah: float) -> list[Flowable]:
        """The bands that fit in ``ah``, and the rest; nothing when all of them should move to a new page."""
        end = _fitting(self.bands, ah)
        cut = end
        while cut and self.bands[cut - 1].keep:
            cut -= 1
        if not cut:
            if ah < self.sheet.room - 1:
                return []
            cut = max(end, 1)  # kept together, but higher than a page
        while cut < len(self.bands) and self.bands[cut].gap:
            cut += 1
        first = Pile(_without_gaps(self.bands[:cut]), self.sheet)
        rest = self.bands[cut:]
        if not rest:
            return [first]
        return [first, PageBreak(), Pile([*rest[0].again, *rest], self.sheet)]

    def draw(self) -> None:
        top = self.height
        for band in self.bands:
            band.draw(self.canv, 0, top)
            top -= band.height


def _fitting(bands: list[Band], room: float) -> int:
    """How many bands from the start fit."""
    used = 0.0
    for count, band in enumerate(bands):
        used += band.height
        if used > room + FUZZ:
            return count
    return len(bands)


def _without_gaps(bands: list[Band]) -> list[Band]:
    """Bands without the white at their end."""
    last = len(bands)
    while last and bands[last - 1].gap:
        last -= 1
    return bands[:last]


class Flow:
    """Collects bands from top to bottom of one part of the book."""

    def __init__(self, sheet: Sheet):
        self.sheet, self.measure = sheet, sheet.measure
        self.bands: list[Band] = []

    def add(self, *bands: Band) -> None:
        self.bands.extend(bands)

    def gap(self, height: float) -> None:
        """White; two gaps in a row are as high as the higher one."""
        if self.bands and self.bands[-1].gap:
            last = self.bands[-1]
            self.bands[-1] = Band(max(height, last.height), gap=True, keep=last.keep)
        elif self.bands:
            self.bands.append(Band(height, gap=True, keep=self.bands[-1].keep))

    def before(self, height: float) -> None:
        """White above all of it, where it does not begin a page."""
        self.bands.insert(0, Band(height, gap=True, keep=True))

    def rule(
        self, grey: float = INK, thick: float = 0.5, left: float = 0.0, right: float | None = None
    ) -> None:
        if right is None:
            end = self.measure
        else:
            end = right
        self.add(Band(thick, shapes=(line_shape(left, end, thick / 2, grey, thick),), keep=True))

    def text(
        self,
        text: object,
        style: Style = TEXT,
        *,
        left: float = 0.0,
        room: float | None = None,
        lead: str = "",
        lead_style: Style | None = None,
        keep: bool = False,
        most: int = 0,
    ) -> None:
        """A text, paragraph by paragraph; ``lead`` are words in another style that its first line begins with."""
        if room is None:
            wide = self.measure - left
        else:
            wide = room
        self.add(*text_bands(text, style, left, wide, lead, lead_style, keep, most))


def text_bands(
    text: object,
    style: Style,
    left: float,
    room: float,
    lead: str = "",
    lead_style: Style | None = None,
    keep: bool = False,
    most: int = 0,
) -> list[Band]:
    """The lines of a text as bands; the first two and the last two of a paragraph stay together."""
    found: list[Band] = []
    down = baseline(style)
    for number, part in enumerate(paragraphs(text) or ([""] if lead else [])):
        if lead and number == 0:
            broken = mixed_lines([(lead, lead_style or style), (part, style)], room)
        else:
            broken = [(Piece(0, 0, line, style),) for line in lines(part, room, style, most=most)]
        for at, line in enumerate(broken):
            pieces = tuple(piece._replace(x=piece.x + left, down=down) for piece in line)
            held = keep or (len(broken) > 1 and at in (0, len(broken) - 2))
            found.append(Band(style.leading, pieces, keep=held))
    return found


Run = tuple[str, Style]


def mixed_lines(runs: Sequence[Run], room: float) -> list[tuple[Piece, ...]]:
    """Lines of words in several styles, one after another with a space between; ``down`` is 0 on each."""
    found: list[list[Piece]] = [[]]
    x = 0.0
    for text, style in runs:
        if x:
            space = width(" ", style)
        else:
            space = 0.0
        parts = lines(clean(text), room, style, first=max(room - x - space, 0.0))
        for at, part in enumerate(parts):
            if at:
                found.append([])
                x, space = 0.0, 0.0
            if part:
                found[-1].append(Piece(x + space, 0, part, style))
                x += space + width(part, style)
    return [tuple(line) for line in found if line]


def baseline(style: Style, height: float | None = None) -> float:
    """How far below a line's top its letters stand."""
    return (style.leading if height is None else height) / 2 + style.size * 0.34


def line_shape(
    left: float,
    right: float,
    down: float,
    grey: float = INK,
    thick: float = 0.5,
    dash: tuple[float, ...] = (),
) -> Shape:
    """A level line from ``left`` to ``right``."""

    def draw(canvas: Any, x: float, top: float) -> None:
        canvas.put_line(x + left, top - down, x + right, top - down, grey, thick, dash)

    return draw


def bar_shape(left: float, height: float, grey: float = INK, thick: float = 0.8) -> Shape:
    """An upright line over the whole height of a band: drawn on each, they join."""

    def draw(canvas: Any, x: float, top: float) -> None:
        canvas.put_line(x + left, top, x + left, top - height, grey, thick, ())

    return draw
