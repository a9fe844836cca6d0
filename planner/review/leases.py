"""Findings about leases: does the DHCP scope last while desktops are rebuilt."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypedDict

from planner.engine.addresses.leases import ScopeNeed
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


@dataclass(frozen=True, slots=True)
class Way:
    """What would make a network's leases last: the mend and what it sets, in words, or why there is none."""

    mend: Mend | None = None
    value: str = ""
    why: str = ""

    @property
    def widens(self) -> bool:
        return self.mend is not None and any(
            field != "lease_minutes" for field, _ in self.mend.values
        )


def way_out(plan: Staged, network: Network) -> Way:
    """The range and the lease that are proposed for a network (:mod:`planner.engine.addresses.scopes`)."""
    scope = next((one for one in plan.scopes if one.network_id == network.id), None)
    if scope is None or not scope.values:
        return Way(why=scope.why if scope else "")
    sets = [field for field, _ in scope.values]
    words = []
    if "dhcp_first" in sets or "dhcp_last" in sets:
        words.append(f"the range to {scope.first} to {scope.last}")
    if "lease_minutes" in sets:
        words.append(f"the lease to {units.show_minutes(scope.lease_minutes)}")
    return Way(Mend(network.ref, scope.values), " and ".join(words), scope.why)


@rule("lease-too-long")
def lease_too_long(plan: Staged) -> Iterator[Hit]:
    grace = plan.numbers["lease.grace-minutes"]
    for network, need in needs(plan):
        if need.lease_minutes is None or need.scope_size is None or not need.short:
            continue
        if need.living > need.scope_size:
            continue
        way = way_out(plan, network)
        yield Hit(
            network.ref.at("lease_minutes"),
            mend=way.mend,
            lease=units.show_minutes(need.lease_minutes),
            old=units.show(need.old),
            grace=f", and {units.show_minutes(grace)} more that a server keeps it" if grace else "",
            fits=_what_fits(need, way),
            value=way.value,
            **counts(network, need),
        )


def _what_fits(need: ScopeNeed, way: Way) -> str:
    """What would do, in a sentence."""
    if way.mend and not way.widens:
        return f"The longest lease that fits is {units.show_minutes(need.longest_lease_minutes)}."
    if way.mend:
        return "No lease that anybody would set is short enough for this range: make it larger."
    if way.why:
        return f"{way.why[0].upper()}{way.why[1:]}."
    return "Not everything is known, and it is too many already."


@rule("dhcp-range-too-small")
def range_too_small(plan: Staged) -> Iterator[Hit]:
    for network, need in needs(plan):
        if need.scope_size is not None and need.living > need.scope_size:
            way = way_out(plan, network)
            yield Hit(
                network.ref.at("dhcp_last"),
                mend=way.mend,
                living=units.show(need.living),
                value=way.value,
                **counts(network, need),
            )


@rule("lease-unknown")
def lease_unknown(plan: Staged) -> Iterator[Hit]:
    for network, need in needs(plan):
        at = network.ref.at("lease_minutes")
        if at in need.missing_at:
            way = way_out(plan, network)
            sets_it = way.mend is not None and "lease_minutes" in dict(way.mend.values)
            yield Hit(
                at,
                mend=way.mend if sets_it else None,
                network=network.label,
                rebuilds=units.show(need.rebuilds_a_day or 0),
                value=way.value,
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
