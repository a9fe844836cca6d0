"""Findings about addresses: one address twice, in the wrong place, of the wrong kind."""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Iterable, Iterator
from typing import Protocol

from planner.engine.addresses import special_ranges
from planner.engine.addresses.addressing import ProblemKind, next_free
from planner.engine.addresses.claims import Claim
from planner.engine.addresses.roles import ClaimRole
from planner.record.facts import Id, Record
from planner.review import dhcp, networks  # noqa: F401  (importing a module registers its rules)
from planner.review.base import Hit, Mend, rule
from planner.review.words import and_list
from planner.stages.staged import Staged


class Held(Protocol):
    """Whatever says which role an address has, and whose it is."""

    @property
    def role(self) -> ClaimRole: ...

    @property
    def label(self) -> str: ...


def who(claim: Held) -> str:
    """A claim's holder in words; a gateway bears its network's name, a console its host's."""
    if claim.role == ClaimRole.GATEWAY:
        return f"the gateway of {claim.label}"
    if claim.role == ClaimRole.OUT_OF_BAND:
        return f"the console of {claim.label}"
    return claim.label


def elsewhere(plan: Staged, claim: Claim) -> tuple[Mend | None, str]:
    """A mend that gives a claim's holder the next free address of its network, and that address."""
    value = next_free(plan.addressing, claim.network_id, claim.role)
    if value is None:
        return None, ""
    return Mend(claim.holder.at(""), ((claim.holder.field, value),)), value


def problems(plan: Staged, kind: ProblemKind) -> Iterator[Claim]:
    return (problem.claim for problem in plan.addressing.problems if problem.kind == kind)


def moved(plan: Staged, claims: Iterable[Claim]) -> Iterator[Hit]:
    """A hit for each claim, with a free address of its network as the mend."""
    for claim in claims:
        span = plan.addressing.span(claim.network_id)
        mend, value = elsewhere(plan, claim)
        yield Hit(
            claim.holder,
            mend=mend,
            holder=who(claim),
            address=claim.text,
            value=value,
            network=span.name if span else "",
            cidr=span.cidr if span else "",
        )


@rule("address-claimed-twice")
def claimed_twice(plan: Staged) -> Iterator[Hit]:
    for clash in plan.addressing.clashes:
        mend, value = elsewhere(plan, clash.mover)
        yield Hit(
            clash.mover.holder,
            mend=mend,
            also=tuple(claim.holder for claim in clash.claims[:-1]),
            address=clash.text,
            holders=and_list([who(claim) for claim in clash.claims]),
            mover=who(clash.mover),
            value=value,
        )


@rule("address-outside-network")
def outside_network(plan: Staged) -> Iterator[Hit]:
    for claim in problems(plan, ProblemKind.OUTSIDE):
        span = plan.addressing.span(claim.network_id)
        if span is None or claim.role == ClaimRole.GATEWAY:
            continue
        other = next(
            (s for s in plan.addressing.spans if s.block and claim.address in s.block), None
        )
        mend, value = (None, "") if other else elsewhere(plan, claim)
        if other:
            where = f"It lies in {other.name} ({other.cidr})."
        else:
            where = "No network of this site holds it."
        yield Hit(
            claim.holder,
            mend=mend,
            also=(claim.holder.at("network_id"),),
            holder=who(claim),
            address=claim.text,
            network=span.name,
            cidr=span.cidr,
            where=where,
            value=value,
        )


@rule("gateway-outside-network")
def gateway_outside(plan: Staged) -> Iterator[Hit]:
    yield from moved(
        plan,
        (claim for claim in problems(plan, ProblemKind.OUTSIDE) if claim.role == ClaimRole.GATEWAY),
    )


@rule("address-is-network-address")
def is_network_address(plan: Staged) -> Iterator[Hit]:
    yield from moved(plan, problems(plan, ProblemKind.NETWORK_ADDRESS))


@rule("address-is-broadcast-address")
def is_broadcast_address(plan: Staged) -> Iterator[Hit]:
    yield from moved(plan, problems(plan, ProblemKind.BROADCAST_ADDRESS))


@rule("address-in-dhcp-range")
def in_dhcp_range(plan: Staged) -> Iterator[Hit]:
    yield from moved(plan, problems(plan, ProblemKind.IN_DHCP_RANGE))


@rule("address-link-local")
def link_local(plan: Staged) -> Iterator[Hit]:
    yield from moved(plan, problems(plan, ProblemKind.LINK_LOCAL))


@rule("address-special")
def special(plan: Staged) -> Iterator[Hit]:
    for claim in problems(plan, ProblemKind.SPECIAL):
        found = special_ranges.of_address(claim.address)
        if found is None:
            continue
        mend, value = elsewhere(plan, claim)
        yield Hit(
            claim.holder,
            mend=mend,
            holder=who(claim),
            address=claim.text,
            value=value,
            range=str(found.block),
            words=found.words,
        )


@rule("address-without-network")
def without_network(plan: Staged) -> Iterator[Hit]:
    for claim in problems(plan, ProblemKind.NO_NETWORK):
        yield Hit(claim.holder, holder=who(claim), address=claim.text)


@rule("ipv6-claimed-twice")
def ipv6_twice(plan: Staged) -> Iterator[Hit]:
    for clash in plan.addressing.ipv6_clashes:
        others = tuple(claim.holder for claim in clash.claims[:-1])
        holders = and_list([who(claim) for claim in clash.claims])
        yield Hit(clash.mover.holder, also=others, address=clash.text, holders=holders)


@rule("ipv6-outside-prefix")
def ipv6_outside(plan: Staged) -> Iterator[Hit]:
    prefixes: dict[Id | None, ipaddress.IPv6Network] = {}
    for network in plan.facts.networks:
        try:
            prefixes[network.id] = ipaddress.IPv6Network(network.ipv6_prefix, strict=False)
        except ValueError:
            continue
    for claim in plan.addressing.ipv6:
        prefix, address = prefixes.get(claim.network_id), ipaddress.IPv6Address(claim.address)
        if (
            prefix is not None
            and address not in prefix
            and not address.is_link_local
            and not _not_unicast(address)
        ):
            yield Hit(
                claim.holder,
                holder=who(claim),
                address=claim.text,
                network=plan.facts.named("network", claim.network_id),
                prefix=str(prefix),
            )


@rule("ipv6-not-for-a-machine")
def ipv6_not_for_a_machine(plan: Staged) -> Iterator[Hit]:
    for claim in plan.addressing.ipv6:
        what = _not_unicast(ipaddress.IPv6Address(claim.address))
        if what:
            yield Hit(claim.holder, holder=who(claim), address=claim.text, what=what)


def _not_unicast(address: ipaddress.IPv6Address) -> str:
    """What an address is that nobody may have; "" for one that it may."""
    if address.is_unspecified:
        return "the unspecified address, which says that there is none"
    if address.is_loopback:
        return "the loopback address, which every machine has for itself"
    if address.is_multicast:
        return "a multicast address, which speaks to a group"
    if address.ipv4_mapped:
        return "an IPv4 address written as IPv6"
    return ""


@rule("mac-twice")
def mac_twice(plan: Staged) -> Iterator[Hit]:
    facts = plan.facts
    bearers: dict[str, list[Record]] = {}
    for records in (facts.hosts, facts.servers, facts.appliances, facts.devices):
        for record in records:
            digits = re.sub(r"[\s:.-]", "", record.mac.lower())
            if re.fullmatch("[0-9a-f]{12}", digits):
                bearers.setdefault(digits, []).append(record)
    for digits, found in bearers.items():
        if len(found) > 1:
            mac = ":".join(digits[at : at + 2] for at in range(0, 12, 2))
            *others, last = (record.ref.at("mac") for record in found)
            yield Hit(
                last,
                also=tuple(others),
                mac=mac,
                holders=and_list([record.label for record in found]),
            )
