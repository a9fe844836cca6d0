"""8.5 and 8.6: what the disks must hold and how fast they must be; how many leases a range must have."""

from __future__ import annotations

from planner.papers.book import numbering, parts
from planner.papers.book.bands import Flow, Run
from planner.papers.book.edition import Book
from planner.papers.book.figures import NONE, cell, missing, missing_under
from planner.papers.book.ledger import Cell, Column, Row, ledger
from planner.papers.book.look import CELL_BOLD, SMALL, SMALL_BOLD, SMALL_SOFT
from planner.papers.book.rests import rests
from planner.record import units


def disks(flow: Flow, book: Book) -> None:
    storage = book.plan.storage
    parts.section(flow, *numbering.DISKS)
    if not storage.stores:
        parts.teaching(flow, "The datastores of 3.2 are what this is worked out from.")
        return
    columns = [
        Column("Datastore", bold=True),
        Column("Usable, GiB", numeric=True),
        Column("Planned, GiB", numeric=True),
        Column("Free after, %", numeric=True),
        Column("Promised, GiB", numeric=True),
        Column("Operations asked, per s", numeric=True),
        Column("Operations given, per s", numeric=True),
        Column("Full in, days", numeric=True),
    ]
    rows = []
    for store in storage.stores:
        if store.free_share is None:
            free = None
        else:
            free = store.free_share * 100
        under: list[tuple[Run, ...]] = []
        if store.parts:
            taken = ", ".join(f"{word} {units.show(gib)}" for word, gib in store.parts)
            under.append((("On it, GiB:", SMALL_SOFT), (taken, SMALL)))
        under += missing_under(store.missing)
        rows.append(
            Row(
                (
                    store.name,
                    cell(store.usable_gib, 0),
                    cell(store.planned_gib, 0),
                    cell(free, 0),
                    cell(store.promised_gib, 0),
                    cell(store.operations_asked, 0),
                    cell(store.operations_front, 0),
                    Cell(
                        cell(store.days_until_full, 0),
                        style=CELL_BOLD if store.days_until_full is not None else None,
                    ),
                ),
                tuple(under),
            )
        )
    ledger(flow, columns, rows, blanks=False)
    missing(flow, storage.missing)
    rests(flow, book, "storage")


def leases(flow: Flow, book: Book) -> None:
    found = book.plan.leases.by_network
    parts.section(flow, *numbering.LEASES)
    if not found:
        parts.teaching(
            flow,
            "Networks with a DHCP range (2.1) and the desktops on them bring their leases here.",
        )
        return
    columns = [
        Column("Network", bold=True),
        Column("Leases needed", numeric=True),
        Column("The range holds", numeric=True),
        Column("Desktops", numeric=True),
        Column("Old leases", numeric=True),
        Column("Others", numeric=True),
        Column("Lease"),
        Column("Longest that fits"),
    ]
    rows = []
    for need in found:
        if need.any_lease_fits:
            longest = "any"
        else:
            longest = units.show_minutes(need.longest_lease_minutes)
        if need.longest_lease_minutes == 0 and not need.any_lease_fits:
            longest = "none"
        needed = units.show(need.needed, 0) or (
            f"at least {units.show(need.at_least, 0)}" if need.at_least else NONE
        )
        under = list(missing_under(need.missing))
        if need.short:
            under.insert(0, (("The range is too small.", SMALL_BOLD),))
        rows.append(
            Row(
                (
                    book.facts.named("network", need.network_id),
                    needed,
                    cell(need.scope_size, 0),
                    cell(need.running, 0),
                    cell(need.old_leases, 0),
                    cell(need.others, 0),
                    units.show_minutes(need.lease_minutes),
                    longest,
                ),
                tuple(under),
            )
        )
    ledger(flow, columns, rows, blanks=False)
    rests(flow, book, "leases")
