"""Builds the book: every part in order, laid out once, as one PDF."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from reportlab.platypus.doctemplate import PageBreak

from planner.papers import fonts
from planner.papers.book import contents as contents_module
from planner.papers.book import pictures, records, stages
from planner.papers.book.addresses import addresses
from planner.papers.book.appendix import appendix
from planner.papers.book.bands import Flow, Pile
from planner.papers.book.capacity import capacity
from planner.papers.book.cover import cover
from planner.papers.book.customer import customer_and_brief
from planner.papers.book.document import BookDocument
from planner.papers.book.edition import Book, Issue
from planner.papers.book.first import read_first
from planner.papers.book.look import Sheet, sheet
from planner.papers.book.papers import papers, sign_off

if TYPE_CHECKING:
    from planner.plan import Plan

Part = Callable[[Flow, Book], None]


def build_book(
    plan: Plan, *, printed_on: dt.date, printed_by: str = "", revision_letter: str = "", reason: str = "",
    issued_on: dt.date | None = None, issued_by: str = "", house: str = "",
    revisions: Sequence[Issue] = (), papers: Sequence[Issue] = (),
) -> bytes:  # fmt: skip
    """The build book of a plan as a PDF; equal input gives equal bytes.

    ``revision_letter`` "" prints a draft, marked so on every page. ``issued_on``, ``issued_by`` and
    ``reason`` are the revision's; ``house`` is who made the book (the PDF's author). ``revisions``
    and ``papers`` are listed in chapter 11. The paper is the site's own choice. Never raises on what
    the plan says.
    """
    fonts.register()
    book = Book(
        plan=plan, printed_on=printed_on, printed_by=printed_by, letter=revision_letter, reason=reason,
        issued_on=issued_on, issued_by=issued_by, house=house, revisions=tuple(revisions), papers=tuple(papers),
    )  # fmt: skip
    paper = sheet(plan.facts.site.paper)
    flows = [_flow(part, book, paper) for part in parts_of(book)]
    found = contents_module.anchors(flows)
    front = [_flow(cover, book, paper), _flow(lambda flow, _: contents_module.contents(flow, found), book, paper)]
    stream = io.BytesIO()
    story: list = []
    for flow in (*front, *flows):
        story += [*([PageBreak()] if story else []), Pile(flow.bands, paper)]
    BookDocument(stream, paper, book.imprint).build(story)
    return stream.getvalue()


def _flow(part: Part, book: Book, paper: Sheet) -> Flow:
    flow = Flow(paper)
    part(flow, book)
    return flow


def parts_of(book: Book) -> list[Part]:
    """Every part that begins a new page, in order, cover and contents apart."""
    return [
        read_first, customer_and_brief, networks, hosts,
        *(_records(number) for number in (4, 5, 6, 7)),
        capacity, addresses, stages.overview, *stages.sheets(book), stages.after,
        papers, sign_off, appendix,
    ]  # fmt: skip


def networks(flow: Flow, book: Book) -> None:
    records.chapter(flow, book, 2)
    pictures.site(flow, book)


def hosts(flow: Flow, book: Book) -> None:
    records.chapter(flow, book, 3)


def _records(number: int) -> Part:
    return lambda flow, book: records.chapter(flow, book, number)
