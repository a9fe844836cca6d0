"""The appendix: the planning numbers in force, and the published sources behind what is said."""

from __future__ import annotations

from planner.assumptions import ORIGINS, Assumption
from planner.papers.book import parts
from planner.papers.book.bands import Band, Flow, Piece, Run, baseline
from planner.papers.book.edition import Book
from planner.papers.book.ledger import Column, Row, ledger
from planner.papers.book.look import SMALL, SMALL_SOFT, TEXT, TEXT_BOLD
from planner.papers.book.words import clean, lines
from planner.units import show

SCOPES = {"catalogue": "", "house": "set by the house", "site": "set for this site"}
NUMBER_ROOM = 24.0


def appendix(flow: Flow, book: Book) -> None:
    parts.chapter(
        flow,
        None,
        "Appendix",
        "The planning numbers behind what is computed, and where what is said comes from.",
        key="appendix",
    )
    _assumptions(flow, book)
    _sources(flow, book)


def _assumptions(flow: Flow, book: Book) -> None:
    numbers = list(book.plan.numbers.all.values())
    parts.section(flow, "A.1", "Assumptions", key="appendix-assumptions", aside=f"{len(numbers)} numbers")
    flow.text(
        "A number from common practice is a habit of the trade, not a measurement: where you can measure here, do, "
        "and set it on screen in chapter 8.", TEXT, room=flow.measure * 0.86,
    )  # fmt: skip
    flow.gap(3)
    columns = [Column("What", bold=True, widest=0.42), Column("Value", numeric=True), Column("Unit"), Column("Origin"),
               Column("Source", widest=0.2)]  # fmt: skip
    ledger(flow, columns, [_assumption(book, one) for one in numbers])


def _assumption(book: Book, one: Assumption) -> Row:
    number = book.cite(one.source) if one.scope == "catalogue" else 0
    where = SCOPES.get(one.scope, one.scope) or (f"[{number}]" if number else "none")
    under: list[tuple[Run, ...]] = [((one.why, SMALL_SOFT),)] if one.why else []
    if one.note:
        under.append((("Note", SMALL_SOFT), (one.note, SMALL)))
    return Row(
        (one.name, show(one.value, 4), one.unit or "—", ORIGINS.get(one.origin, one.origin), where), tuple(under)
    )


def _sources(flow: Flow, book: Book) -> None:
    for finding in book.notes.all():
        book.cite(finding.source)
    parts.section(flow, "A.2", "Sources", key="appendix-sources")
    if not book.sources:
        flow.text("Nothing in this book rests on a published source.", TEXT)
        return
    flow.text("What bears no number here, or says “common practice, no source”, is what people in the trade do.", TEXT)
    flow.gap(5)
    for source, number in book.sources.items():
        broken = lines(clean(source, 1500), flow.measure - NUMBER_ROOM, TEXT)
        for at, line in enumerate(broken):
            down = baseline(TEXT)
            pieces = (Piece(0, down, f"[{number}]", TEXT_BOLD),) if at == 0 else ()
            high = TEXT.leading + (2.5 if at == len(broken) - 1 else 0)
            flow.add(Band(high, (*pieces, Piece(NUMBER_ROOM, down, line, TEXT)), keep=at < len(broken) - 1))
