"""The contents: every chapter and section with its page, each a link, in two columns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from planner.papers.book import parts
from planner.papers.book.bands import Anchor, Band, Flow, Piece, Shape, baseline
from planner.papers.book.look import SOFT, TEXT, Style
from planner.papers.book.words import shortened, width
from planner.papers.fonts import SERIF_BOLD

LINE = 14.2
CHAPTER = Style(SERIF_BOLD, 10.4, LINE)
SECTION = TEXT._replace(leading=LINE)
INDENT = 13.0
NUMBERS = 24.0  # room for a page number
BETWEEN = 26.0  # the columns
FAR = 14  # rows that a column may be longer or shorter than half of all
HEAD = 60.0  # height of the page's own heading


def anchors(flows: Iterable[Flow]) -> list[Anchor]:
    """What the flows name, in order."""
    return [
        band.anchor for flow in flows for band in flow.bands if band.anchor and band.anchor.title
    ]


def contents(flow: Flow, found: list[Anchor]) -> None:
    parts.chapter(flow, None, "Contents", key="contents")
    rows = list(_rows(found))
    fit = int((flow.sheet.room - HEAD) / LINE)
    wide = (flow.measure - BETWEEN) / 2
    for start in range(0, len(rows), 2 * fit):
        page = rows[start : start + 2 * fit]
        half = _half(page, fit)
        for at in range(max(half, len(page) - half)):
            if at < half:
                left = page[at]
            else:
                left = None
            if half + at < len(page):
                right = page[half + at]
            else:
                right = None
            flow.add(
                Band(LINE, shapes=(*_entry(left, 0.0, wide), *_entry(right, wide + BETWEEN, wide)))
            )


def _rows(found: list[Anchor]) -> Iterator[Anchor | None]:
    """Entries, with an empty row before each chapter but the first."""
    for at, anchor in enumerate(found):
        if at and not anchor.level:
            yield None
        yield anchor


def _half(page: list[Anchor | None], fit: int) -> int:
    """How many rows the left column has: about half, broken before a chapter where one begins near the middle."""
    middle = (len(page) + 1) // 2
    breaks = [
        at for at, one in enumerate(page) if one is None and at <= fit and len(page) - at - 1 <= fit
    ]
    if breaks:
        at = min(breaks, key=lambda one: abs(one - middle))
        if abs(at - middle) <= FAR:
            del page[at]  # a column does not begin with white
            return at
    return min(middle, fit)


def _entry(anchor: Anchor | None, x0: float, wide: float) -> tuple[Shape, ...]:
    """Title, dots, page number and link, drawn one after another so that they are read in this order."""
    if anchor is None:
        return ()
    if anchor.level:
        style = SECTION
    else:
        style = CHAPTER
    if anchor.level:
        left = INDENT
    else:
        left = 0.0
    title = shortened(anchor.title, wide - left - NUMBERS - 8, style)
    start, dots = left + width(title, style) + 5, wide - NUMBERS
    down = baseline(style)

    def draw(canvas: Any, x: float, top: float) -> None:
        x += x0
        canvas.put_pieces((Piece(left, down, title, style),), x, top)
        canvas.put_page_of(anchor.key, x + wide, top - down, style)
        if anchor.level and dots > start:
            canvas.put_line(x + start, top - down, x + dots, top - down, SOFT, 0.5, (0.6, 2.4))
        canvas.linkRect(
            "", anchor.key, (x, top - LINE, x + wide, top), relative=1, Border="[0 0 0]"
        )

    return (draw,)
