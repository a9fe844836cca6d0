"""8.3, 8.4 and 8.7: seats at once, the morning, the lines people come by."""

from __future__ import annotations

from planner.comparing.summary import mornings
from planner.papers.book import numbering, parts, pictures
from planner.papers.book.bands import Flow
from planner.papers.book.edition import Book
from planner.papers.book.figures import NONE, cell, missing, missing_under, wait
from planner.papers.book.ledger import Cell, Column, Row, ledger
from planner.papers.book.look import CELL_BOLD, SMALL, SMALL_BOLD, SMALL_SOFT
from planner.papers.book.rests import rests
from planner.papers.book.words import listed
from planner.review.words import chance_words


def seats(flow: Flow, book: Book) -> None:
    needs = book.plan.concurrency.by_template
    parts.section(flow, *numbering.SEATS)
    if not needs:
        parts.teaching(flow, "Desktop templates and seat groups (7) bring their people here.")
        return
    columns = [
        Column("Desktop template", bold=True),
        Column("People", numeric=True),
        Column("At once, on average", numeric=True),
        Column("Needed", numeric=True),
        Column("Most", numeric=True),
        Column("Somebody finds none"),
    ]
    rows = []
    for one in needs:
        under = (
            ((("Seat groups", SMALL_SOFT), (listed(one.groups, 12), SMALL)),) if one.groups else ()
        )
        if one.short:
            chance = f"{chance_words(one.chance_short)}, too few"
        else:
            chance = chance_words(one.chance_short)
        rows.append(
            Row(
                (
                    one.name,
                    cell(one.people, 0),
                    cell(one.mean),
                    cell(one.needed, 0),
                    cell(one.most, 0),
                    Cell(chance, style=CELL_BOLD if one.short else None),
                ),
                (*under, *missing_under(one.missing)),
            )
        )
    ledger(flow, columns, rows, blanks=False)
    rests(flow, book, "concurrency")


def morning(flow: Flow, book: Book) -> None:
    parts.section(flow, *numbering.MORNING)
    found = mornings(book.plan)
    pictures.morning(flow, book)
    if not found:
        missing(flow, (words for lacking in book.plan.surge.missing.values() for words in lacking))
    else:
        columns = [
            Column("Desktop template", bold=True),
            Column("Sign-ins", numeric=True),
            Column("Half wait at most"),
            Column("95 of 100"),
            Column("99 of 100"),
            Column("Standby", numeric=True),
            Column("Smallest that meets the target", numeric=True),
            Column("With the worst host down", numeric=True),
        ]
        rows = [
            Row(
                (
                    one.name,
                    cell(one.waits.sign_ins, 0) if one.waits else NONE,
                    *(wait(getattr(one.waits, name, None)) for name in ("median", "p95", "p99")),
                    cell(one.standby, 0),
                    one.smallest,
                    one.smallest_down,
                )
            )
            for one in found
        ]
        ledger(flow, columns, rows, blanks=False)
    rests(flow, book, "surge")


def lines(flow: Flow, book: Book) -> None:
    found = book.plan.line.by_network
    parts.section(flow, *numbering.LINES)
    if not found:
        parts.teaching(
            flow, "Seat groups with the network they come from (7.2) bring their lines here."
        )
        return
    columns = [
        Column("Network people come from", bold=True),
        Column("Sessions at once", numeric=True),
        Column("Needed, Mbit/s", numeric=True),
        Column("Usable, Mbit/s", numeric=True),
        Column("Room for, sessions", numeric=True),
        Column("Delay, ms", numeric=True),
        Column("Target, ms", numeric=True),
    ]
    rows = []
    for one in found:
        under = list(missing_under(one.missing))
        if one.usable_mbit_s is not None and one.at_least_mbit_s > one.usable_mbit_s:
            under.insert(0, (("Too narrow for what is known already.", SMALL_BOLD),))
        rows.append(
            Row(
                (
                    one.name,
                    cell(one.sessions, 0),
                    cell(one.needs_mbit_s),
                    cell(one.usable_mbit_s, 0),
                    cell(one.room_for, 0),
                    cell(one.delay_ms),
                    cell(one.target_ms, 0),
                ),
                tuple(under),
            )
        )
    ledger(flow, columns, rows, blanks=False)
    rests(flow, book, "line")
