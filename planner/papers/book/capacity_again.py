"""8.8, 8.9 and 8.10: starting again, licences and activation, and what the room must give."""

from __future__ import annotations

from planner.engine.people.activation import KeyServer
from planner.engine.upkeep.facility import Facility
from planner.engine.upkeep.lifecycles import Lifecycle, SupportState
from planner.papers.book import numbering, parts
from planner.papers.book.bands import Band, Flow
from planner.papers.book.edition import Book
from planner.papers.book.figures import (
    NONE,
    UNKNOWN,
    cell,
    count,
    missing,
    missing_under,
    show,
    time,
)
from planner.papers.book.ledger import Cell, Column, Row, ledger
from planner.papers.book.look import CELL_BOLD, TEXT, TEXT_BOLD
from planner.papers.book.parts import Pair
from planner.papers.book.rests import rests
from planner.papers.book.words import listed
from planner.record import units
from planner.record.chapters import show_date

MOST_CAUTIONS = 20


# -- starting again ------------------------------------------------------------------------------


def starting_again(flow: Flow, book: Book) -> None:
    recovery = book.plan.recovery
    parts.section(flow, *numbering.AGAIN)
    rows = []
    for copy in recovery.copies if book.part.internal else ():
        words = f"{time(copy.at_once_seconds)} to all at once, {time(copy.in_turn_seconds)} one after another"
        known = copy.at_once_seconds is not None
        rows.append(Pair(f"Copy {copy.name} to every host", words if known else _lacking(copy)))
    cold = recovery.cold_start
    words = f"{time(cold.seconds)}; the first desktop after {time(cold.first_seconds)}"
    rows.append(
        Pair("Everything, after a power cut", words if cold.seconds is not None else _lacking(cold))
    )
    if cold.order and book.part.internal:
        rows.append(Pair("In this order", "; ".join(cold.order)))
    worst = recovery.worst_failover
    if worst:
        people = count(worst.people, "person loses a desktop", "people lose their desktops")
        words = f"{people}: {worst.ready} find one ready, {worst.built} wait for a new one"
        words += f", {worst.without} get none" if worst.without else ""
        if book.part.internal:
            who = f"{worst.name}: "
        else:
            who = ""
        rows.append(
            Pair(
                "One host down, at worst",
                f"{who}{words}; the last has one after {time(worst.seconds)}",
            )
        )
    for swap in recovery.swaps:
        known = swap.seconds is not None
        words = f"{time(swap.seconds)} for {count(swap.desktops, 'desktop')}"
        rows.append(
            Pair(f"Replace {swap.name} on every desktop", words if known else _lacking(swap))
        )
    parts.pairs(flow, rows, with_built=False)
    if recovery.unchecked and book.part.internal:
        flow.gap(4)
        missing(flow, recovery.unchecked, "Not checked:")
    rests(flow, book, "recovery")


def _lacking(one: object) -> str:
    found = list(dict.fromkeys(getattr(one, "missing", ())))
    if found:
        return f"{UNKNOWN}: {listed(found, 8, '; ')}"
    return ""


# -- licences, activation, support ---------------------------------------------------------------


def licences(flow: Flow, book: Book) -> None:
    plan = book.plan
    parts.section(flow, *numbering.LICENCES)
    if plan.activation.key_server and book.part.internal:
        _key_server(flow, plan.activation.key_server)
    if plan.activation.licences:
        columns = [
            Column("Application", bold=True),
            Column("Counted by"),
            Column("Needed", numeric=True),
            Column("Held", numeric=True),
            Column("Short", numeric=True),
        ]
        rows = [
            Row(
                (
                    one.name,
                    one.basis or UNKNOWN,
                    cell(one.needed, 0),
                    cell(one.held, 0),
                    Cell(cell(one.short, 0), style=CELL_BOLD if one.short else None),
                ),
                missing_under(one.missing),
            )
            for one in plan.activation.licences
        ]
        ledger(flow, columns, rows, blanks=False)
    else:
        flow.text("Applications (6.2) bring their licences here.", TEXT)
    if plan.lifecycles.images:
        flow.gap(8)
        columns = [
            Column("Image", bold=True),
            Column("Operating system"),
            Column("Support ends"),
            Column("Published"),
        ]
        ledger(flow, columns, [Row(_support(one)) for one in plan.lifecycles.images], blanks=False)
    rests(flow, book, "activation", "lifecycles")


def _key_server(flow: Flow, key: KeyServer) -> None:
    if key.count is None:
        words = "How many desktops ask the key server is not known yet."
    elif key.activates:
        words = f"The key server counts {count(key.count, 'desktop')}; it activates from {key.wanted} on."
    else:
        words = f"The key server counts {count(key.count, 'desktop')} and activates none below {key.wanted}."
    if key.records:
        words += f" Desktops look for {listed(key.records, 6)}."
    flow.text(words, TEXT if key.activates else TEXT_BOLD)
    flow.gap(5)


AFTER = {SupportState.ENDED: ", before go-live", SupportState.SOON: ", soon"}


def _support(one: Lifecycle) -> tuple[Cell | str, ...]:
    ends: Cell | str = UNKNOWN
    if one.ends:
        after = AFTER.get(one.state, "")
        ends = Cell(f"{show_date(one.ends)}{after}", style=CELL_BOLD if after else None)
    published = NONE
    if one.published:
        published = f"{show_date(one.published)}{', differs' if one.differs else ''}"
    elif one.rows:
        published = "depends on its edition"
    return (one.name, one.text or UNKNOWN, ends, published)


# -- the room ------------------------------------------------------------------------------------


def facility(flow: Flow, book: Book) -> None:
    room = book.plan.facility
    parts.section(flow, *numbering.FACILITY)
    parts.pairs(flow, [*_power(room), *_space(room)], with_built=False)
    flow.gap(4)
    missing(flow, room.missing)
    if room.hosts:
        flow.gap(10)
        _hosts(flow, room)
    _cautions(flow, room.cautions)
    rests(flow, book, "facility")


def _power(room: Facility) -> list[Pair]:
    rows = []
    if room.watts is not None:
        amperes = f"{show(room.amperes, 'A')} at {show(room.volts, 'V', 0)}"
        rows.append(Pair("Power", f"{show(room.watts, 'W', 0)}, {amperes}"))
    else:
        rows.append(
            Pair(
                "Power",
                f"at least {show(room.at_least_watts, 'W', 0)}" if room.at_least_watts else "",
            )
        )
    circuits = ""
    if room.circuits_needed is not None:
        circuits = (
            f"{count(room.circuits_needed, 'circuit')} of {show(room.breaker_amperes, 'A', 0)}, "
        )
        circuits += f"{room.circuits_for_two_supplies} where every host has two supplies"
    rows.append(Pair("Circuits", circuits))
    if len(room.circuits) > 1:
        rows.append(
            Pair(
                "Could share a circuit",
                "; ".join(listed(names, 12) for names in room.circuits[:20]),
            )
        )
    if room.too_large:
        rows.append(Pair("Too much for any one circuit", listed(room.too_large, 12)))
    heat = ""
    if room.heat_btu_h is not None:
        heat = f"{show(room.heat_btu_h, 'BTU/h', 0)}, {show(room.cooling_kw, 'kW', 2)} to be cooled"
    rows.append(Pair("Heat", heat))
    rows.append(Pair("Cooling", room.inlet))
    if room.ups_minutes is not None:
        rows.append(Pair("Battery supply", f"at most {show(room.ups_minutes, 'min', 0)}"))
    return rows


def _space(room: Facility) -> list[Pair]:
    if room.rack_units is not None:
        if room.rack_height_mm is not None:
            height = f", {show(room.rack_height_mm, 'mm', 0)}"
        else:
            height = ""
        return [Pair("Rack", f"{count(room.rack_units, 'rack unit')}{height}")]
    least = room.at_least_rack_units
    return [Pair("Rack", f"at least {count(least, 'rack unit')}" if least else "")]


def _hosts(flow: Flow, room: Facility) -> None:
    lifting = {one.host_id: one for one in room.lifting}
    columns = [
        Column("Host", bold=True),
        Column("Rated, W", numeric=True),
        Column("Drawn, W", numeric=True),
        Column("Current, A", numeric=True),
        Column("Heat, BTU/h", numeric=True),
        Column("Rack units", numeric=True),
        Column("Weight, kg", numeric=True),
        Column("Lifted by"),
    ]
    rows = []
    for host in room.hosts:
        lift = lifting.pop(host.host_id, None)
        rows.append(
            Row(
                (
                    host.name,
                    cell(host.rated_watts, 0),
                    cell(host.watts, 0),
                    cell(host.amperes),
                    cell(host.heat_btu_h, 0),
                    cell(host.rack_units, 0),
                    cell(lift.weight_kg if lift else None),
                    lift.words if lift else UNKNOWN,
                )
            )
        )
    for lift in lifting.values():  # a spare draws nothing, and is lifted all the same
        rows.append(Row((lift.name, *([NONE] * 5), units.show(lift.weight_kg), lift.words)))
    ledger(flow, columns, rows, blanks=False)


def _cautions(flow: Flow, cautions: tuple[str, ...]) -> None:
    """Cautions stand in a frame, as everywhere in the book."""
    if not cautions:
        return
    bands = [Band(6, keep=True)]
    for text in cautions[:MOST_CAUTIONS]:
        inner = Flow(flow.sheet)
        inner.text(
            text, TEXT, left=13, room=flow.measure - 26, lead="Caution:", lead_style=TEXT_BOLD
        )
        bands += [*inner.bands, Band(3)]
    flow.gap(6)
    parts.boxed(flow, [*bands, Band(3)])
