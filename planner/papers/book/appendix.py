"""The appendix: the published sources behind what is said."""

from __future__ import annotations

from planner.papers.book import numbering, parts
from planner.papers.book.bands import Band, Flow, Piece, baseline
from planner.papers.book.edition import Book
from planner.papers.book.look import CELL, CELL_BOLD, TEXT
from planner.papers.book.words import clean, lines

NUMBER_ROOM = 24.0


def appendix(flow: Flow, book: Book) -> None:
    for finding in book.notes.printed():
        book.cite(finding.source)
    parts.chapter(flow, None, "Appendix", "Where what is said comes from.", key="appendix")
    parts.section(flow, *numbering.SOURCES)
    if not book.sources:
        flow.text("Nothing on these pages rests on a published source.", TEXT)
        return
    flow.text(
        "What bears no number here, or says “common practice, no source”, is what people in the trade do.",
        TEXT,
    )
    flow.gap(5)
    for source, number in book.sources.items():
        broken = lines(clean(source, 1500), flow.measure - NUMBER_ROOM, CELL)
        for at, line in enumerate(broken):
            down = baseline(CELL)
            pieces = (Piece(0, down, f"[{number}]", CELL_BOLD),) if at == 0 else ()
            high = CELL.leading + (2.5 if at == len(broken) - 1 else 0)
            flow.add(
                Band(
                    high, (*pieces, Piece(NUMBER_ROOM, down, line, CELL)), keep=at < len(broken) - 1
                )
            )
