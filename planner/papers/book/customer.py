"""0 Customer, at the head of the first chapter's page; and what a customer sees of chapters 6 and 7."""

from __future__ import annotations

import dataclasses

from planner.papers.book import notes as notes_module
from planner.papers.book import parts, records
from planner.papers.book.bands import Flow
from planner.papers.book.edition import Book
from planner.papers.book.parts import Pair
from planner.record import chapters
from planner.record.chapters import Section


def customer_and_brief(flow: Flow, book: Book) -> None:
    """0 and 1 share their first page."""
    parts.chapter(flow, 0, "Customer", "Whose people will work on the desktops.")
    if not book.facts.customer:
        parts.teaching(flow)
    parts.pairs(
        flow,
        [Pair("Name", book.facts.customer), Pair("Short code", book.facts.customer_code)],
        with_built=False,
    )
    notes_module.of_section(flow, book.notes, 0)
    flow.gap(34)
    records.chapter(flow, book, 1)


SEEN = {
    "applications": ("name", "licensed_by", "licences_held"),
    "templates": ("name", "description", "most", "reset_rule", "passes"),
    "seats": ("name", "template_id", "people", "share_at_once", "arrive_around"),
}  # the fields of a section that are the customer's business


def agreed(flow: Flow, book: Book) -> None:
    """What was agreed for those who will work with it: applications, desktops, seats."""
    for number in (6, 7):
        entry = chapters.BY_NUMBER[number]
        shown = [_seen(one) for one in entry.sections if one.slug in SEEN]
        flow.gap(34)
        parts.chapter(flow, entry.number, entry.name)
        for one in shown:
            records.section(flow, book, entry, one)


def _seen(one: Section) -> Section:
    chosen = SEEN[one.slug]
    fields = tuple(
        dataclasses.replace(field, ledger=True) for field in one.fields if field.name in chosen
    )
    return dataclasses.replace(one, fields=fields, derived=())
