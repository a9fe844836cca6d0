"""8 Capacity: what the hosts must carry, and whether they can, also with one of them down."""

from __future__ import annotations

from planner.comparing import summary as outlook
from planner.papers.book import notes as notes_module
from planner.papers.book import parts
from planner.papers.book.assumptions import assumptions
from planner.papers.book.bands import Flow, Run
from planner.papers.book.capacity_again import facility, licences, starting_again
from planner.papers.book.capacity_disks import disks, leases
from planner.papers.book.capacity_hosts import hosts, more, verdict
from planner.papers.book.capacity_people import lines, morning, seats
from planner.papers.book.edition import Book
from planner.papers.book.ledger import Cell, Column, Row, ledger
from planner.papers.book.look import INTRO, SMALL_SOFT
from planner.papers.book.notes import key_of
from planner.record import chapters
from planner.review.base import Finding

SECTIONS = (
    hosts,
    more,
    seats,
    morning,
    disks,
    leases,
    lines,
    starting_again,
    licences,
    facility,
    assumptions,
)
FOR_CUSTOMERS = (more, seats, morning, starting_again, licences)


def capacity(flow: Flow, book: Book) -> None:
    entry = chapters.BY_NUMBER[8]
    parts.chapter(flow, entry.number, entry.name, entry.intro)
    if book.part.internal:
        verdict(flow, book)
        _elsewhere(flow, book)
    else:
        flow.text(outlook.sentence(book.whole), INTRO)
    for section in SECTIONS if book.part.internal else FOR_CUSTOMERS:
        section(flow, book)
    notes_module.of_section(flow, book.notes, 8)


def _elsewhere(flow: Flow, book: Book) -> None:
    """Open findings about what this chapter works out; their notes stand beside the field to change."""
    found = outlook.capacity_findings(book.plan)
    if not found:
        return
    parts.item(flow, "Noticed about it, beside the value to change")
    columns = [
        Column("Note"),
        Column("What was noticed", widest=0.8, least=0.66),
        Column("Page", numeric=True),
    ]
    kinds: dict[str, list[Finding]] = {}
    for one in found:
        kinds.setdefault(one.key, []).append(one)
    ledger(flow, columns, [_noticed(book, same) for same in kinds.values()])


def _noticed(book: Book, same: list[Finding]) -> Row:
    """What one rule noticed: the first of it, and how many more there are."""
    first = same[0]
    number = book.notes.numbers[first.token]
    under: tuple[tuple[Run, ...], ...] = ()
    if len(same) > 1:
        last = book.notes.numbers[same[-1].token]
        under = (((f"and {len(same) - 1} more of the kind, to note {last}", SMALL_SOFT),),)
    return Row(
        (Cell("", ((first.mark, number),)), first.title, Cell(page_of=key_of(number))), under
    )
