"""Builds the book: every part in order, laid out once, as one PDF."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.platypus import Flowable
from reportlab.platypus.doctemplate import CondPageBreak, PageBreak

from planner.papers import fonts
from planner.papers.book import contents as contents_module
from planner.papers.book import pictures, records, stages
from planner.papers.book.acceptance import acceptance, sign_off
from planner.papers.book.addresses import addresses
from planner.papers.book.appendix import appendix
from planner.papers.book.bands import Flow, Pile
from planner.papers.book.capacity import capacity
from planner.papers.book.cover import cover
from planner.papers.book.customer import agreed, customer_and_brief
from planner.papers.book.document import BookDocument
from planner.papers.book.edition import Book, Issue
from planner.papers.book.first import read_first
from planner.papers.book.look import Sheet, sheet
from planner.papers.book.papers import papers
from planner.papers.book.selection import BY_SLUG, WHOLE
from planner.plan import Plan
from planner.record.facts import SiteFacts

Draw = Callable[[Flow, Book], None]
HALF, THIRD = 0.5, 0.3  # of a page, at least, is left where something begins below something else
BEFORE_CHAPTER = 34.0


@dataclass(frozen=True, slots=True)
class Leaf:
    """Something that begins a page: always, or where less than the share ``room`` of one, or less than it
    needs, is left of the page before."""

    draw: Draw
    room: float | None = None


def build_book(
    plan: Plan,
    *,
    printed_on: dt.date,
    parts: str = WHOLE,
    printed_by: str = "",
    revision_letter: str = "",
    reason: str = "",
    issued_on: dt.date | None = None,
    issued_by: str = "",
    house: str = "",
    revisions: Sequence[Issue] = (),
    papers: Sequence[Issue] = (),
    site_url: str = "",
    previous: SiteFacts | None = None,
    previous_letter: str = "",
) -> bytes:
    """The build book of a plan, or a part of it, as a PDF; equal input gives equal bytes.

    ``parts`` is the slug of one of PARTS; another raises ``KeyError``. ``revision_letter`` "" prints a
    draft, marked so on every page. ``issued_on``, ``issued_by`` and ``reason`` are the revision's;
    ``house`` is who made the book (the PDF's author). ``revisions`` and ``papers`` are listed in chapter
    11; ``previous`` is what it is compared with there, the revision ``previous_letter``. ``site_url`` is
    the address of the site's pages on screen, which the codes lead to; no code without it. The paper is
    the site's own choice. Never raises on what the plan says.
    """
    fonts.register()
    book = Book(
        whole=plan,
        part=BY_SLUG[parts],
        printed_on=printed_on,
        printed_by=printed_by,
        letter=revision_letter,
        reason=reason,
        issued_on=issued_on,
        issued_by=issued_by,
        house=house,
        revisions=tuple(revisions),
        papers=tuple(papers),
        site_url=site_url,
        previous=previous,
        previous_letter=previous_letter,
    )
    paper = sheet(plan.facts.site.paper)
    leaves = LEAVES[parts](book)
    flows = [_flow(leaf.draw, book, paper) for leaf in leaves]
    found = contents_module.anchors(flows)
    story: list[Flowable] = [Pile(_flow(cover, book, paper).bands, paper), PageBreak()]
    story.append(
        Pile(_flow(lambda flow, _: contents_module.contents(flow, found), book, paper).bands, paper)
    )
    for leaf, flow in zip(leaves, flows, strict=True):
        if not flow.bands:
            continue
        story += [*_break(leaf, flow, paper), Pile(flow.bands, paper)]
    stream = io.BytesIO()
    BookDocument(stream, paper, book.imprint).build(story)
    return stream.getvalue()


def _flow(draw: Draw, book: Book, paper: Sheet) -> Flow:
    flow = Flow(paper)
    draw(flow, book)
    return flow


def _break(leaf: Leaf, flow: Flow, paper: Sheet) -> list[Flowable]:
    if leaf.room is None:
        return [PageBreak()]
    needed = sum(band.height for band in flow.bands)
    flow.before(BEFORE_CHAPTER)
    return [CondPageBreak(min(needed + BEFORE_CHAPTER, leaf.room * paper.room))]


# -- what each part holds ------------------------------------------------------------------------


def _whole(book: Book) -> list[Leaf]:
    return [
        Leaf(read_first),
        Leaf(customer_and_brief),
        *(Leaf(_chapter(number), HALF) for number in range(2, 8)),
        Leaf(capacity, HALF),
        Leaf(addresses, HALF),
        Leaf(stages.overview, HALF),
        Leaf(stages.on_site_day, 1),
        *_run_sheets(book),
        Leaf(stages.after),
        Leaf(papers, HALF),
        Leaf(acceptance, THIRD),
        Leaf(sign_off, 1),
        Leaf(appendix, HALF),
    ]


def _for_the_work(book: Book) -> list[Leaf]:
    return [
        Leaf(read_first),
        Leaf(records.people_and_keys),
        Leaf(stages.overview, HALF),
        Leaf(stages.on_site_day, 1),
        *_run_sheets(book),
        Leaf(stages.after),
        Leaf(appendix, HALF),
    ]


def _for_the_network(book: Book) -> list[Leaf]:
    return [
        Leaf(read_first),
        Leaf(_chapter(2)),
        Leaf(addresses),
        Leaf(papers, HALF),
        Leaf(appendix, HALF),
    ]


def _for_the_customer(book: Book) -> list[Leaf]:
    return [
        Leaf(customer_and_brief),
        Leaf(agreed, HALF),
        Leaf(capacity, HALF),
        Leaf(stages.overview, HALF),
        Leaf(papers, HALF),
        Leaf(acceptance, THIRD),
        Leaf(sign_off, 1),
    ]


LEAVES: dict[str, Callable[[Book], list[Leaf]]] = {
    WHOLE: _whole,
    "run-sheets": _for_the_work,
    "network": _for_the_network,
    "customer": _for_the_customer,
}


def _run_sheets(book: Book) -> list[Leaf]:
    return [Leaf(draw) for draw in stages.sheets(book)]


def _chapter(number: int) -> Draw:
    def draw(flow: Flow, book: Book) -> None:
        records.chapter(flow, book, number)
        if number == 2:
            pictures.site(flow, book)

    return draw
