"""Findings about leases: does the DHCP scope last while desktops are rebuilt."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypedDict

from planner.engine.addresses.leases import ScopeNeed, sensible_lease
from planner.record import units
from planner.record.facts import Network
from planner.review.base import Hit, Mend, rule
from planner.stages.staged import Staged


def needs(plan: Staged) -> Iterator[tuple[Network, ScopeNeed]]:
    """Networks that lease addresses: network, its need."""
    for network in plan.facts.networks:
        need = plan.leases.of(network.id)
        if need:
            yield network, need


class Counts(TypedDict):
    """What findings about leases say of a network."""

    network: str
    size: str
    needed: str
    running: str
    others: str
    rebuilds: str


def counts(network: Network, need: ScopeNeed) -> Counts:
    return {
        "network": network.label,
        "size": units.show(need.scope_size),
        "needed": units.show(need.at_least),
        "running": units.show(need.running or 0),
        "others": units.show(need.others or 0),
        "rebuilds": units.show(need.rebuilds_a_day or 0),
    }


@rule("lease-too-long")
def lease_too_long(plan: Staged) -> Iterator[Hit]:
    shortest = plan.numbers["lease.shortest-minutes"]
    for network, need in needs(plan):
        if need.lease_minutes is None or need.scope_size is None or not need.short:
            continue
        if need.living > need.scope_size:
            continue
        longest = sensible_lease(need.longest_lease_minutes, shortest)
        value = units.show_minutes(longest) if longest else ""
        fits = (
            f"The longest lease that fits is {units.show_minutes(need.longest_lease_minutes)}."
            if need.longest_lease_minutes
            else "Not everything is known, and it is too many already."
        )
        mend = Mend(network.ref, (("lease_minutes", value),)) if value else None
        yield Hit(
            network.ref.at("lease_minutes"),
            mend=mend,
            lease=units.show_minutes(need.lease_minutes),
            fits=fits,
            value=value,
            **counts(network, need),
        )


@rule("dhcp-range-too-small")
def range_too_small(plan: Staged) -> Iterator[Hit]:
    for network, need in needs(plan):
        if need.scope_size is not None and need.living > need.scope_size:
            yield Hit(
                network.ref.at("dhcp_last"), **counts(network, need), living=units.show(need.living)
            )


@rule("lease-unknown")
def lease_unknown(plan: Staged) -> Iterator[Hit]:
    for network, need in needs(plan):
        at = network.ref.at("lease_minutes")
        if at in need.missing_at:
            longest = sensible_lease(
                need.longest_lease_minutes, plan.numbers["lease.shortest-minutes"]
            )
            value = units.show_minutes(longest) if longest else ""
            mend = Mend(network.ref, (("lease_minutes", value),)) if value else None
            yield Hit(
                at,
                mend=mend,
                network=network.label,
                rebuilds=units.show(need.rebuilds_a_day or 0),
                value=value,
            )


@rule("dhcp-clients-unknown")
def clients_unknown(plan: Staged) -> Iterator[Hit]:
    for network, need in needs(plan):
        at = network.ref.at("other_dhcp_clients")
        if at in need.missing_at:
            yield Hit(at, network=network.label)


@rule("sign-ins-unknown")
def sign_ins_unknown(plan: Staged) -> Iterator[Hit]:
    """One finding a seat group whose sign-ins a rebuild count waits for."""
    for network, need in needs(plan):
        for at in need.missing_at:
            if at.kind == "seatgroup" and at.field == "sign_ins_a_day":
                yield Hit(at, group=plan.facts.named("seatgroup", at.id), network=network.label)
