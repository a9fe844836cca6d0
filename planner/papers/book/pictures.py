"""Pictures: the drawings that the screen shows too, in greys. A wide one is turned, a high one cut in slices."""

from __future__ import annotations

import math
from typing import Any

from reportlab.graphics import renderPDF

from planner.comparing.summary import curve_of
from planner.engine.addresses.addressing import NetworkSpan
from planner.papers.book import numbering, parts
from planner.papers.book.bands import Band, Flow, Shape
from planner.papers.book.edition import Book
from planner.papers.drawings import Drawing, to_reportlab
from planner.papers.drawings import bars as bars_drawing
from planner.papers.drawings import morning as morning_drawing
from planner.papers.drawings import site as site_drawing
from planner.papers.drawings import strips as strips_drawing
from planner.papers.drawings import timeline as timeline_drawing
from planner.papers.fonts import SANS

HIGHEST = 0.9  # of a page
HEAD = 42.0  # points of a page that a section's head takes
SMALLEST = 0.45  # points a unit of the drawing; smaller, and its words cannot be read
LARGEST = 0.62
OVERLAP = 26.0  # points that two slices share, so that no lane is cut in both
MOST_SLICES = 12
SHRINK = 0.88  # of its scale, at least, where that saves a slice


def site(flow: Flow, book: Book) -> None:
    """The site drawing: networks as lanes, hosts as columns, the main flows."""
    parts.section(flow, *numbering.SITE_DRAWING)
    put(flow, site_drawing.draw(book.plan))


def bars(flow: Flow, book: Book) -> None:
    """What each host carries, with all up and with each one down; a table beside it says the same."""
    put(flow, bars_drawing.draw(book.plan))


def morning(flow: Flow, book: Book) -> None:
    """Who comes, what stands ready, who waits; only where it can be told."""
    curve = curve_of(book.plan)
    if curve is not None:
        put(flow, morning_drawing.draw(curve))


def day(flow: Flow, book: Book) -> None:
    """The on-site day, one column a person; on one page where it can be read there."""
    put(flow, timeline_drawing.draw(book.plan))


def strip(flow: Flow, book: Book, span: NetworkSpan) -> None:
    """A network's addresses, cell by cell."""
    if span.block is not None:
        put(flow, strips_drawing.draw(book.plan, span.network_id), keep=True)


def put(flow: Flow, drawing: Drawing, keep: bool = False) -> None:
    """A drawing across the measure; turned by a quarter where it would be too small to be read."""
    scale = min(flow.measure / max(drawing.width, 1.0), LARGEST)
    turned = scale < SMALLEST
    if turned:
        scale = min((flow.sheet.room - HEAD) / drawing.width, LARGEST)
    if turned:
        limit = flow.measure
    else:
        limit = flow.sheet.room * HIGHEST
    scale = _without_a_tail(drawing.height, scale, limit)
    rendered = to_reportlab(drawing, drawing.width * scale)
    rendered.initialFontName = SANS  # reportlab would name a font that is not embedded
    start = 0.0
    for _ in range(MOST_SLICES):
        thick = min(limit, rendered.height - start)
        if turned:
            high = rendered.width
        else:
            high = thick
        if turned:
            shape = _turned(rendered, start, thick)
        else:
            shape = _upright(rendered, start, thick)
        flow.add(Band(high, shapes=(shape,), keep=keep))
        flow.gap(8)
        start += thick - OVERLAP
        if start + OVERLAP >= rendered.height:
            break


def _without_a_tail(height: float, scale: float, limit: float) -> float:
    """The scale, or one a little smaller at which the drawing needs a slice less."""
    slices = math.ceil((height * scale - OVERLAP) / (limit - OVERLAP))
    smaller = ((slices - 1) * (limit - OVERLAP) + OVERLAP) / max(height, 1.0)
    if slices > 1 and smaller >= scale * SHRINK:
        return smaller
    return scale


def _upright(rendered: Any, start: float, thick: float) -> Shape:
    def draw(canvas: Any, x: float, top: float) -> None:
        _draw(
            canvas,
            rendered,
            (x, top - thick, rendered.width, thick),
            (1, 0, 0, 1, x, top - rendered.height + start),
        )

    return draw


def _turned(rendered: Any, start: float, thick: float) -> Shape:
    """Read from the right: the drawing's left is the band's lower end, its top the left margin."""

    def draw(canvas: Any, x: float, top: float) -> None:
        bottom = top - rendered.width
        matrix = (0, 1, -1, 0, x + rendered.height - start, bottom)
        _draw(canvas, rendered, (x, bottom, thick, rendered.width), matrix)

    return draw


def _draw(canvas: Any, rendered: Any, window: tuple[float, ...], matrix: tuple[float, ...]) -> None:
    canvas.saveState()
    path = canvas.beginPath()
    path.rect(*window)
    canvas.clipPath(path, stroke=0, fill=0)
    canvas.transform(*matrix)
    renderPDF.draw(rendered, canvas, 0, 0)
    canvas.restoreState()
