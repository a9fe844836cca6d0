"""Pictures: the drawings that the screen shows too, in greys, as one band each."""

from __future__ import annotations

from typing import Any

from reportlab.graphics import renderPDF

from planner.papers.book import numbering, parts
from planner.papers.book.bands import Band, Flow
from planner.papers.book.edition import Book
from planner.papers.book.look import SANS
from planner.papers.drawings import bars as bars_drawing
from planner.papers.drawings import site as site_drawing
from planner.papers.drawings import strips as strips_drawing
from planner.papers.drawings import to_reportlab

HIGHEST = 0.86  # of a page


def put(flow: Flow, drawing: Any, keep: bool = False) -> None:
    """A drawing across the measure; one that would be too high is made smaller."""
    high, wide = float(drawing.height), float(drawing.width)
    scale = min(1.0, flow.sheet.room * HIGHEST / max(high, 1.0), flow.measure / max(wide, 1.0))
    left = (flow.measure - wide * scale) / 2 if scale < 0.999 else 0.0

    def draw(canvas: Any, x: float, top: float) -> None:
        canvas.saveState()
        canvas.translate(x + left, top - high * scale)
        canvas.scale(scale, scale)
        drawing.initialFontName = SANS  # reportlab would name a font that is not embedded
        renderPDF.draw(drawing, canvas, 0, 0)
        canvas.restoreState()

    flow.add(Band(high * scale, shapes=(draw,), keep=keep))
    flow.gap(8)


def site(flow: Flow, book: Book) -> None:
    """The site drawing: networks as lanes, hosts as columns, the main flows."""
    parts.section(flow, *numbering.SITE_DRAWING)
    put(flow, to_reportlab(site_drawing.draw(book.plan), flow.measure))


def bars(flow: Flow, book: Book) -> None:
    """What each host carries, with all up and with each one down; a table beside it says the same."""
    put(flow, to_reportlab(bars_drawing.draw(book.plan), flow.measure))


def strip(flow: Flow, book: Book, span: Any) -> None:
    """A network's addresses, cell by cell."""
    if span.block is not None:
        put(flow, to_reportlab(strips_drawing.draw(book.plan, span.network_id), flow.measure), keep=True)
