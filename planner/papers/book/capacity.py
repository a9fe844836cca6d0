"""8 Capacity: what the hosts must carry, and whether they can, also with one of them down."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from planner import chapters, units
from planner.facts import Id
from planner.papers.book import notes as notes_module
from planner.papers.book import numbering, parts, pictures
from planner.papers.book.bands import Flow
from planner.papers.book.edition import Book
from planner.papers.book.ledger import Cell, Column, Row, ledger
from planner.papers.book.look import SMALL, SMALL_BOLD, SMALL_SOFT, TEXT, TEXT_BOLD
from planner.papers.book.parts import Pair
from planner.papers.book.words import brief, listed

BINDS = {"memory": "memory", "vcpu": "vCPU", "disk": "disk", "": "—"}
UNKNOWN = "not known yet"
FEW = 5  # hosts whose bars stand before their table; more bars take a page of their own


def capacity(flow: Flow, book: Book) -> None:
    entry = chapters.BY_NUMBER[8]
    parts.chapter(flow, entry.number, entry.name, entry.intro)
    _verdict(flow, book)
    _hosts(flow, book)
    _down(flow, book)
    _more(flow, book)
    _disks(flow, book)
    _leases(flow, book)
    _names(flow, book)
    notes_module.of_section(flow, book.notes, 8)


def show(number: float | None, unit: str = "") -> str:
    if number is None:
        return UNKNOWN
    return f"{units.show(number)} {unit}".strip()


def template_counts(book: Book, counts: Mapping[Id, int]) -> str:
    """``14 of front desk, 2 of surgery``."""
    some = {id: count for id, count in counts.items() if count}
    named = book.facts.named
    return listed(
        [f"{units.show(n, 0)} of {brief(named('template', id)) or 'a removed template'}" for id, n in some.items()], 30
    )


def _missing(flow: Flow, lines: Iterable[str]) -> None:
    found = list(dict.fromkeys(lines))
    if found:
        flow.text(listed(found, 20, "; "), TEXT, lead="Not known yet:", lead_style=TEXT_BOLD)


def _verdict(flow: Flow, book: Book) -> None:
    placement = book.plan.placement
    answer = {True: "Yes", False: "No", None: "It cannot be told yet"}[placement.fits]
    if placement.fits is False:
        answer = f"No: {units.show(placement.left_out, 0)} go without ({template_counts(book, placement.left)})"
    downs = [down for down in placement.without if down.fits is not True]
    if not placement.without:
        second = "There is no second host to carry on" if len(placement.hosts) == 1 else "It cannot be told yet"
    elif all(down.fits is None for down in downs) and downs:
        second = "It cannot be told yet"
    elif not downs:
        second = "Yes, with any one of them down"
    else:
        second = f"No: not with {listed([down.name for down in downs], 6)} down"
    rows = [
        Pair("Do all desktops fit?", answer),
        Pair("And with any one host down?", second),
        Pair("All desktops ask", f"{show(placement.needs_gib, 'GiB')} of memory, {show(placement.needs_vcpu)} vCPU"),
        Pair("All hosts offer", f"{show(placement.offers_gib, 'GiB')} of memory, {show(placement.offers_vcpu)} vCPU"),
        Pair("What runs out first", BINDS.get(placement.binds, placement.binds) if placement.binds else ""),
    ]
    parts.pairs(flow, rows, with_built=False)
    flow.gap(4)
    _missing(flow, placement.missing)
    if placement.unchecked:
        shown = list(dict.fromkeys(placement.unchecked))
        flow.text(listed(shown, 12, "; "), TEXT, lead="Left out of this answer:", lead_style=TEXT_BOLD)


def _hosts(flow: Flow, book: Book) -> None:
    loads = book.plan.placement.hosts
    parts.section(flow, *numbering.CARRIES)
    if not loads:
        parts.teaching(flow, "The hosts of 3.1 and the templates of 7.1 are what this is worked out from.")
        return
    if len(loads) <= FEW:
        pictures.bars(flow, book)
    columns = [
        Column("Host", bold=True), Column("Memory, GiB", numeric=True), Column("Hypervisor, GiB", numeric=True),
        Column("Appliances, GiB", numeric=True), Column("Left for desktops, GiB", numeric=True),
        Column("Desktops", numeric=True), Column("They take, GiB", numeric=True), Column("vCPU taken of", numeric=True),
        Column("Runs out first"),
    ]  # fmt: skip
    rows = []
    for load in loads:
        vcpu = (
            f"{units.show(load.used_vcpu, 0)} of {units.show(load.offers_vcpu)}" if load.offers_vcpu is not None else ""
        )
        under = ((("Desktops", SMALL_SOFT), (template_counts(book, load.desktops), SMALL)),) if load.count else ()
        rows.append(Row((
            load.name, units.show(load.memory_gib), units.show(load.own_gib), units.show(load.appliance_gib),
            units.show(load.offers_gib), units.show(load.count, 0), units.show(load.used_gib), vcpu,
            BINDS.get(load.binds, load.binds),
        ), under))  # fmt: skip
    ledger(flow, columns, rows, blanks=False)
    if len(loads) > FEW:
        pictures.bars(flow, book)


def _down(flow: Flow, book: Book) -> None:
    downs = book.plan.placement.without
    parts.section(flow, *numbering.ONE_DOWN)
    if not downs:
        flow.text(
            "Nothing is left to carry the desktops when the only host is down, or too little is known of the hosts "
            "to tell.",
            TEXT,
        )
        return
    columns = [Column("Down", bold=True), Column("Do all fit?"), Column("Go without", numeric=True),
               Column("Which"), Column("Memory short, GiB", numeric=True)]  # fmt: skip
    rows = []
    for down in downs:
        fits = {True: "yes", False: "no", None: UNKNOWN}[down.fits]
        without = "" if down.fits is None else units.show(down.left_out, 0)
        if down.fits is False and not down.proved:
            without = f"{units.show(down.left_at_least, 0)} to {without}"
        short = units.show(down.short_gib) if down.fits is False else "—"
        rows.append(Row((down.name, fits, without or "—", template_counts(book, down.left) or "—", short)))
    ledger(flow, columns, rows, blanks=False)


def _more(flow: Flow, book: Book) -> None:
    placement = book.plan.placement
    facts = book.facts
    if placement.fits is not True or not facts.templates:
        return
    more = placement.more
    parts.section(flow, *numbering.MORE)
    flow.text("How many more desktops of each template fit beside all that is planned, each counted on its own.", TEXT)
    flow.gap(3)
    columns = [
        Column("Template", bold=True),
        Column("Most planned", numeric=True),
        Column("More would fit", numeric=True),
        Column(""),
    ]
    sure = "" if placement.more_proved else "at least"
    rows = [
        Row((one.label, units.show(one.most, 0), units.show(more.get(one.id), 0), Cell(sure or " ", style=SMALL_SOFT)))
        for one in facts.templates
    ]  # fmt: skip
    ledger(flow, columns[:3] if not sure else columns, rows, blanks=False)


def _disks(flow: Flow, book: Book) -> None:
    storage = book.plan.storage
    parts.section(flow, *numbering.DISKS)
    if not storage.stores:
        parts.teaching(flow, "The datastores of 3.2 are what this is worked out from.")
        return
    columns = [
        Column("Datastore", bold=True), Column("Usable, GiB", numeric=True), Column("Planned, GiB", numeric=True),
        Column("Free after, %", numeric=True), Column("Promised, GiB", numeric=True),
        Column("Operations asked, per s", numeric=True), Column("Operations given, per s", numeric=True),
    ]  # fmt: skip
    rows = []
    for store in storage.stores:
        free = None if store.free_share is None else store.free_share * 100
        under = []
        if store.parts:
            taken = ", ".join(f"{word} {units.show(gib)}" for word, gib in store.parts)
            under.append((("On it, GiB:", SMALL_SOFT), (taken, SMALL)))
        if store.days_until_full is not None:
            under.append(
                (("Full in", SMALL_SOFT), (f"{units.show(store.days_until_full, 0)} days, if nobody looks", SMALL_BOLD))
            )
        if store.missing:
            under.append((("Not known yet:", SMALL_SOFT), (listed(store.missing, 8, "; "), SMALL)))
        rows.append(Row((
            store.name, units.show(store.usable_gib, 0), units.show(store.planned_gib, 0), units.show(free, 0),
            units.show(store.promised_gib, 0), units.show(store.operations_asked, 0),
            units.show(store.operations_front, 0),
        ), tuple(under)))  # fmt: skip
    ledger(flow, columns, rows, blanks=False)
    _missing(flow, storage.missing)


def _leases(flow: Flow, book: Book) -> None:
    found = book.plan.leases.by_network
    if not found:
        return
    parts.section(flow, *numbering.LEASES)
    columns = [
        Column("Network", bold=True), Column("Leases needed", numeric=True), Column("The range holds", numeric=True),
        Column("Desktops", numeric=True), Column("Rebuilt a day", numeric=True), Column("Others", numeric=True),
        Column("Lease"), Column("Longest that fits"),
    ]  # fmt: skip
    rows = []
    for need in found:
        longest = "any" if need.any_lease_fits else units.show_minutes(need.longest_lease_minutes)
        if need.longest_lease_minutes == 0 and not need.any_lease_fits:
            longest = "none"
        needed = units.show(need.needed, 0) or (f"at least {units.show(need.at_least, 0)}" if need.at_least else "")
        under = ((("Not known yet:", SMALL_SOFT), (listed(need.missing, 8, "; "), SMALL)),) if need.missing else ()
        rows.append(Row((
            book.facts.named("network", need.network_id), needed, units.show(need.scope_size, 0),
            units.show(need.running, 0), units.show(need.rebuilds_a_day), units.show(need.others, 0),
            units.show_minutes(need.lease_minutes), longest,
        ), under))  # fmt: skip
    ledger(flow, columns, rows, blanks=False)


def _names(flow: Flow, book: Book) -> None:
    templates = book.plan.naming.names
    if not templates:
        return
    parts.section(flow, *numbering.NAMES)
    columns = [Column("Template", bold=True), Column("First"), Column("Last"), Column("Names", numeric=True),
               Column("The digits allow", numeric=True)]  # fmt: skip
    rows = [
        Row((one.label, one.first or "", one.last or "", units.show(one.count, 0), units.show(one.capacity, 0)))
        for one in templates
    ]
    ledger(flow, columns, rows, blanks=False)
