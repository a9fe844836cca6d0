"""8.1 and 8.2: what each host carries, with all of them up and with one down, and the room for more."""

from __future__ import annotations

from planner.comparing import summary as outlook
from planner.engine.placement.loads import Resource
from planner.papers.book import numbering, parts, pictures
from planner.papers.book.bands import Flow
from planner.papers.book.edition import Book
from planner.papers.book.figures import NONE, UNKNOWN, cell, missing, template_counts
from planner.papers.book.ledger import Column, Row, ledger
from planner.papers.book.look import SMALL, SMALL_SOFT, TEXT, TEXT_BOLD
from planner.papers.book.parts import Pair
from planner.papers.book.rests import rests
from planner.papers.book.words import listed
from planner.record import units

BINDS = {
    Resource.MEMORY: "memory",
    Resource.VCPU: "vCPU",
    Resource.DISK: "disk",
    Resource.UNKNOWN: NONE,
}
FEW = 5  # hosts whose bars stand before their table; more bars take a page of their own


def verdict(flow: Flow, book: Book) -> None:
    """Whether all fits, first in a sentence, then with its numbers."""
    placement = book.plan.placement
    flow.text(outlook.sentence(book.plan), TEXT_BOLD, room=flow.measure * 0.9)
    flow.gap(5)
    answer = {True: "Yes", False: "No", None: "It cannot be told yet"}[placement.fits]
    if placement.fits is False:
        answer = f"No: {units.show(placement.left_out, 0)} go without ({template_counts(book, placement.left)})"
    rows = [
        Pair("Do all desktops fit?", answer),
        Pair("And with any one host down?", _with_one_down(book)),
        Pair("All desktops ask", _memory_and_vcpu(placement.needs_gib, placement.needs_vcpu)),
        Pair("All hosts offer", _memory_and_vcpu(placement.offers_gib, placement.offers_vcpu)),
        Pair(
            "What runs out first",
            BINDS[placement.binds] if placement.binds else "",
        ),
    ]
    parts.pairs(flow, rows, with_built=False)
    flow.gap(4)
    missing(flow, placement.missing)
    missing(flow, placement.unchecked, "Left out of this answer:")


def _memory_and_vcpu(gib: float | None, vcpu: float | None) -> str:
    """``110 GiB of memory, 32 vCPU``; "" while both are unknown."""
    if gib is None and vcpu is None:
        return ""
    if gib is None:
        memory = "memory not known yet"
    else:
        memory = f"{units.show(gib)} GiB of memory"
    if vcpu is None:
        return f"{memory}, vCPU not known yet"
    return f"{memory}, {units.show(vcpu)} vCPU"


def _with_one_down(book: Book) -> str:
    placement = book.plan.placement
    downs = [down for down in placement.without if down.fits is not True]
    if not placement.without:
        if len(placement.hosts) == 1:
            return "There is no second host to carry on"
        return "It cannot be told yet"
    if downs and all(down.fits is None for down in downs):
        return "It cannot be told yet"
    if not downs:
        return "Yes, with any one of them down"
    return f"No: not with {listed([down.name for down in downs], 6)} down"


def hosts(flow: Flow, book: Book) -> None:
    loads = book.plan.placement.hosts
    parts.section(flow, *numbering.CARRIES)
    if not loads:
        parts.teaching(
            flow, "The hosts of 3.1 and the templates of 7.1 are what this is worked out from."
        )
        return
    if len(loads) <= FEW:
        pictures.bars(flow, book)
    columns = [
        Column("Host", bold=True),
        Column("Memory, GiB", numeric=True),
        Column("Hypervisor, GiB", numeric=True),
        Column("Appliances, GiB", numeric=True),
        Column("Left for desktops, GiB", numeric=True),
        Column("Desktops", numeric=True),
        Column("They take, GiB", numeric=True),
        Column("vCPU offered", numeric=True),
        Column("vCPU taken", numeric=True),
        Column("Runs out first"),
    ]
    rows = []
    for load in loads:
        under = (
            ((("Desktops", SMALL_SOFT), (template_counts(book, load.desktops), SMALL)),)
            if load.count
            else ()
        )
        rows.append(
            Row(
                (
                    load.name,
                    units.show(load.memory_gib),
                    units.show(load.own_gib),
                    units.show(load.appliance_gib),
                    units.show(load.offers_gib),
                    units.show(load.count, 0),
                    units.show(load.used_gib),
                    units.show(load.offers_vcpu),
                    units.show(load.used_vcpu, 0),
                    BINDS[load.binds],
                ),
                under,
            )
        )
    ledger(flow, columns, rows, blanks=False)
    _down(flow, book)
    if len(loads) > FEW:
        pictures.bars(flow, book)
    rests(flow, book, "placement")


def _down(flow: Flow, book: Book) -> None:
    downs = book.plan.placement.without
    parts.item(flow, "With one host down")
    if not downs:
        flow.text(
            "Nothing is left to carry the desktops when the only host is down, or too little is known of the hosts "
            "to tell.",
            TEXT,
        )
        return
    columns = [
        Column("Down", bold=True),
        Column("Do all fit?"),
        Column("Go without", numeric=True),
        Column("Memory short, GiB", numeric=True),
        Column("Which go without", widest=0.4),
    ]
    rows = []
    for down in downs:
        fits = {True: "yes", False: "no", None: UNKNOWN}[down.fits]
        if down.fits is None:
            without = ""
        else:
            without = units.show(down.left_out, 0)
        if down.fits is False and not down.proved:
            without = f"{units.show(down.left_at_least, 0)} to {without}"
        if down.fits is False:
            short = units.show(down.short_gib)
        else:
            short = NONE
        rows.append(
            Row((down.name, fits, without or NONE, short, template_counts(book, down.left) or NONE))
        )
    ledger(flow, columns, rows, blanks=False)


def more(flow: Flow, book: Book) -> None:
    placement = book.plan.placement
    parts.section(flow, *numbering.MORE)
    if placement.fits is not True or not book.facts.templates:
        flow.text("There is room for more only once all that is planned fits.", TEXT)
        return
    flow.text("Each on its own, beside all that is planned, every host up.", TEXT)
    flow.gap(3)
    if placement.more_proved:
        head = "So many more fit"
    else:
        head = "At least so many more fit"
    columns = [
        Column("Desktop template", bold=True),
        Column("Most planned", numeric=True),
        Column(head, numeric=True),
    ]
    rows = [
        Row((one.label, cell(one.most, 0), cell(placement.more.get(one.id), 0)))
        for one in book.facts.templates
    ]
    ledger(flow, columns, rows, blanks=False)
