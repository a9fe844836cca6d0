"""Findings about the line: is the link people come by wide and quick enough for their sessions."""

from __future__ import annotations

from collections.abc import Iterator

from planner.engine.people.line import LineNeed
from planner.record import units
from planner.record.facts import Ref
from planner.review.base import Hit, rule
from planner.review.words import and_list
from planner.stages.staged import Staged


def _hit(plan: Staged, need: LineNeed) -> Hit:
    people = tuple(
        group.ref.at("kbit_s")
        for group in plan.facts.seat_groups
        if group.network_id == need.network_id
    )
    if need.sessions is None:
        sessions = ""
    else:
        sessions = f", up to {units.show(need.sessions)} sessions at once"
    if need.room_for is None:
        room = ""
    else:
        room = f"; it has room for {units.show(need.room_for)}"
    return Hit(
        Ref("network", need.network_id, "link_mbit_s"),
        also=people,
        network=need.name,
        needs=units.show(need.at_least_mbit_s),
        link=units.show(need.link_mbit_s),
        usable=units.show(need.usable_mbit_s),
        who=f"{and_list(need.groups)} come by it{sessions}{room}.",
    )


@rule("line-too-narrow")
def too_narrow(plan: Staged) -> Iterator[Hit]:
    for need in plan.line.by_network:
        if need.link_mbit_s is not None and need.at_least_mbit_s > need.link_mbit_s:
            yield _hit(plan, need)


@rule("line-no-headroom")
def no_headroom(plan: Staged) -> Iterator[Hit]:
    for need in plan.line.by_network:
        if need.link_mbit_s is None or need.usable_mbit_s is None:
            continue
        if need.usable_mbit_s < need.at_least_mbit_s <= need.link_mbit_s:
            yield _hit(plan, need)


@rule("line-too-slow")
def too_slow(plan: Staged) -> Iterator[Hit]:
    for need in plan.line.by_network:
        if need.delay_ms is not None and need.delay_ms > need.target_ms:
            yield Hit(
                Ref("network", need.network_id, "link_mbit_s"),
                network=need.name,
                delay=units.show(need.delay_ms),
                target=units.show(need.target_ms),
                trip=units.show(need.round_trip_ms),
                update=units.show(need.update_ms),
                kib=units.show(plan.numbers["sessions.update-kib"]),
                link=units.show(need.link_mbit_s),
            )


@rule("line-rate-unknown")
def rate_unknown(plan: Staged) -> Iterator[Hit]:
    """Inside the house a link is seldom too narrow; over a remote one people feel it first."""
    for need in plan.line.by_network:
        if need.far and need.link_mbit_s is None:
            if need.at_least_mbit_s:
                at_least = f" Their sessions ask {units.show(need.at_least_mbit_s)} Mbit/s."
            else:
                at_least = ""
            yield Hit(
                Ref("network", need.network_id, "link_mbit_s"),
                network=need.name,
                groups=and_list(need.groups),
                needs=at_least,
            )


@rule("seats-rate-unknown")
def session_rate_unknown(plan: Staged) -> Iterator[Hit]:
    for need in plan.line.by_network:
        for at in need.missing_at if need.far else ():
            if at.kind == "seatgroup" and at.field == "kbit_s":
                yield Hit(at, group=plan.facts.named("seatgroup", at.id), network=need.name)


@rule("seats-network-unknown")
def network_unknown(plan: Staged) -> Iterator[Hit]:
    for group in plan.facts.seat_groups:
        if group.network_id is None:
            yield Hit(group.ref.at("network_id"), group=group.label)
