"""Findings about the room: circuits, batteries, cooling, height in the rack, hands to lift.

What the room has is not a fact but an assumption; while nobody has set it, these rules are silent.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from planner.engine.upkeep.facility import ups_minutes
from planner.record.choices import HostState
from planner.record.facts import Ref
from planner.record.units import show
from planner.review.base import Hit, rule
from planner.review.words import and_list
from planner.stages.staged import Staged


def _of_all(plan: Staged, field: str, **words: Any) -> Iterator[Hit]:
    """One hit about all hosts whose figure is known, at the first one's field."""
    known = [one for one in plan.facility.hosts if getattr(one, field) is not None]
    if known:
        first, *others = (Ref("host", one.host_id, field) for one in known)
        yield Hit(first, also=tuple(others), **words)


@rule("host-over-circuit")
def over_circuit(plan: Staged) -> Iterator[Hit]:
    room = plan.facility
    for one in room.hosts:
        if one.share is not None and one.share > 1 + 1e-9:
            yield Hit(
                Ref("host", one.host_id, "rated_watts"),
                host=one.name,
                watts=show(one.watts, 0),
                limit=show(room.circuit_watts, 0),
                breaker=show(room.breaker_amperes),
                volts=show(room.volts),
                amperes=show(room.circuit_amperes),
            )


@rule("circuits-short")
def circuits_short(plan: Staged) -> Iterator[Hit]:
    room = plan.facility
    needed, free = len(room.circuits), room.circuits_free
    if free is not None and needed > free:
        watts, each = show(room.at_least_watts, 0), show(room.circuit_watts, 0)
        yield from _of_all(
            plan, "rated_watts", needed=str(needed), free=_circuits(free), watts=watts, each=each
        )


def _circuits(count: int) -> str:
    if count == 1:
        return f"{count} is"
    return f"{count} are"


@rule("ups-too-short")
def ups_too_short(plan: Staged) -> Iterator[Hit]:
    room, wanted = plan.facility, plan.numbers["facility.ups-minutes"]
    if room.ups_wh and room.at_least_watts:
        minutes = ups_minutes(room.ups_wh, room.at_least_watts)
        if minutes < wanted:
            yield from _of_all(
                plan,
                "rated_watts",
                minutes=show(minutes),
                wanted=show(wanted),
                wh=show(room.ups_wh),
                watts=show(room.at_least_watts, 0),
            )


@rule("cooling-short")
def cooling_short(plan: Staged) -> Iterator[Hit]:
    room = plan.facility
    heat, free = room.at_least_watts / 1000, room.cooling_free_kw
    if free is not None and heat > free:
        yield from _of_all(
            plan, "rated_watts", heat=show(heat, 2), free=show(free, 2), inlet=room.inlet
        )


@rule("rack-short")
def rack_short(plan: Staged) -> Iterator[Hit]:
    room = plan.facility
    if room.rack_units_free is not None and room.at_least_rack_units > room.rack_units_free:
        yield from _of_all(
            plan, "rack_units", units=str(room.at_least_rack_units), free=str(room.rack_units_free)
        )


@rule("host-needs-lift")
def needs_lift(plan: Staged) -> Iterator[Hit]:
    """Hosts that stand there already are not carried; the others are."""
    standing = {host.id for host in plan.facts.hosts if host.state == HostState.EXISTING}
    heavy = [
        one for one in plan.facility.lifting if one.people is None and one.host_id not in standing
    ]
    if heavy:
        first, *others = (Ref("host", one.host_id, "weight_kg") for one in heavy)
        most = plan.facility.lift_limits
        names = and_list([f"{one.name} ({show(one.weight_kg)} kg)" for one in heavy])
        yield Hit(
            first, also=tuple(others), hosts=names, two=show(most.two_kg), alone=show(most.alone_kg)
        )
