"""8.11 Assumptions: every planning number in force, with its origin."""

from __future__ import annotations

from planner.catalogue.assumptions import Assumption
from planner.papers.book import numbering, parts
from planner.papers.book.bands import Flow, Run
from planner.papers.book.edition import Book
from planner.papers.book.ledger import Column, Row, ledger
from planner.papers.book.look import SMALL, SMALL_SOFT, TEXT
from planner.papers.book.rests import SET_BY, value_words
from planner.record.choices import CITED, NumberScope

COLUMNS = [
    Column("What", widest=0.6, least=0.4),
    Column("Value", bold=True, least=0.18),
    Column("Origin", least=0.14),
    Column("Source", widest=0.16),
]


def assumptions(flow: Flow, book: Book) -> None:
    numbers = list(book.whole.numbers.all.values())
    parts.section(flow, *numbering.ASSUMPTIONS, aside=f"{len(numbers)} numbers")
    flow.text(
        "The planning numbers that this chapter and the notes rest on. A number from common practice is a habit of the "
        "trade, not a measurement: where you can measure here, do, and set it on screen.",
        TEXT,
        room=flow.measure * 0.9,
    )
    flow.gap(3)
    ledger(flow, COLUMNS, [_row(book, one) for one in numbers])


def _row(book: Book, one: Assumption) -> Row:
    if one.scope == NumberScope.CATALOGUE and one.origin in CITED:
        number = book.cite(one.source)
    else:
        number = 0
    where = SET_BY.get(one.scope) or (f"[{number}]" if number else "—")
    under: list[tuple[Run, ...]] = [((one.why, SMALL_SOFT),)] if one.why else []
    if one.note:
        under.append((("Note", SMALL_SOFT), (one.note, SMALL)))
    return Row((one.name, value_words(one), one.origin_words, where), tuple(under))
