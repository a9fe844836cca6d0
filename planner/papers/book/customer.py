"""0 Customer, at the head of the first chapter's page."""

from __future__ import annotations

from planner.papers.book import notes as notes_module
from planner.papers.book import parts, records
from planner.papers.book.bands import Flow
from planner.papers.book.edition import Book
from planner.papers.book.parts import Pair


def customer_and_brief(flow: Flow, book: Book) -> None:
    """0 and 1 share their first page."""
    parts.chapter(flow, 0, "Customer", "Whose people will work on the desktops.")
    if not book.facts.customer:
        parts.teaching(flow)
    parts.pairs(
        flow, [Pair("Name", book.facts.customer), Pair("Short code", book.facts.customer_code)], with_built=False
    )
    notes_module.of_section(flow, book.notes, 0)
    flow.gap(34)
    records.chapter(flow, book, 1)
