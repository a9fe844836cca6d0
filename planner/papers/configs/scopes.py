"""DHCP scopes: what a DHCP server may say about each network, whatever program it is."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from planner.engine.addresses import addressing, bands, ipv4
from planner.engine.addresses.addressing import NetworkSpan
from planner.engine.addresses.ipv4 import Block
from planner.engine.addresses.leases import REBINDING, RENEWAL
from planner.papers.configs.checks import (
    Checks,
    host_name,
    name_fault,
    ordinary_block,
    read_address,
)
from planner.papers.configs.problems import Problem, problem
from planner.papers.configs.reservations import Reservation, reserved
from planner.plan import Plan
from planner.record.choices import AddressOrigin, Dhcp
from planner.record.facts import Id, Network
from planner.review.words import and_list

SHORTEST, LONGEST = 60, 315_360_000  # seconds: a minute, ten years; nobody means anything beyond
PIECES = 64  # parts that fixed addresses may cut a range into
SERVERS = 16  # DNS servers a client is told; beyond three most ask no further
MOST_ID = 2**32 - 2


@dataclass(frozen=True)
class Scope:
    """What one network's clients get. Addresses are numbers, ``pools`` pairs of them; times in seconds.

    ``number`` tells the scope from the others and stays the network's from one revision to the next.
    ``router``, ``domain``, ``lease`` and its ``renew`` (T1) and ``rebind`` (T2) are None or "" where
    they cannot be said.
    """

    number: int
    network: Network
    block: Block
    pools: tuple[tuple[int, int], ...]
    router: int | None
    dns: tuple[str, ...]
    domain: str
    lease: int | None
    reservations: tuple[Reservation, ...]

    @property
    def renew(self) -> int | None:
        """T1. Source: RFC 2131 section 4.4.5."""
        if self.lease is None:
            return None
        return int(self.lease * RENEWAL)

    @property
    def rebind(self) -> int | None:
        """T2. Source: RFC 2131 section 4.4.5."""
        if self.lease is None:
            return None
        return int(self.lease * REBINDING)

    @property
    def size(self) -> int:
        """How many addresses it hands out."""
        return sum(last - first + 1 for first, last in self.pools)


def scopes(plan: Plan) -> tuple[list[Scope], list[Problem]]:
    """A scope for every network with a usable DHCP range, and what had to be left out."""
    problems: list[Problem] = []
    checks = Checks(plan)
    fit = list(_fit(plan, problems))
    blocks: dict[Id, Block] = {}
    for network, _, block in fit:
        blocks.setdefault(network.id, block)
    kept = reserved(plan, checks, blocks, problems)
    moving = {
        claim.address for claim in plan.addressing.claims if claim.held == AddressOrigin.DYNAMIC
    }
    found = []
    numbers: set[int] = set()
    for network, span, block in fit:
        own = tuple(kept.pop(network.id, ()))
        pools = _pools(network, span, moving | {one.address for one in own}, problems)
        if pools:
            found.append(
                _scope(checks, network, block, pools, own, _number(network.id, numbers), problems)
            )
    return found, problems


def _number(wanted: Id, taken: set[int]) -> int:
    """The network's own number, another where that is none or taken."""
    free = (number for number in itertools.count(1) if number not in taken)
    if wanted not in taken and 1 <= wanted <= MOST_ID:
        number = wanted
    else:
        number = next(free)
    taken.add(number)
    return number


# -- networks ------------------------------------------------------------------------------------


def _fit(plan: Plan, problems: list[Problem]) -> Iterator[tuple[Network, NetworkSpan, Block]]:
    """The networks that get a scope."""
    overlapping = {}
    for one in plan.addressing.overlaps:
        overlapping[one.outer.network_id] = one.inner.name
        overlapping[one.inner.network_id] = one.outer.name
    for network, span in zip(plan.facts.networks, plan.addressing.spans, strict=True):
        if network.dhcp != Dhcp.RANGE:
            if network.dhcp != Dhcp.NONE:
                why = "nobody has said whether it has a DHCP range"
                problems.append(problem(f"network {network.label}", why, network.ref.at("dhcp")))
            continue
        faults = list(_unfit(network, span, overlapping.get(network.id, "")))
        problems += [
            problem(f"network {network.label}", why, network.ref.at(field)) for why, field in faults
        ]
        if not faults and span.block:
            yield network, span, span.block


def _unfit(network: Network, span: NetworkSpan, overlapping: str) -> Iterator[tuple[str, str]]:
    """Why a network gets no scope, each with the field to mend."""
    block, ends = span.block, addressing.dhcp_ends(network)
    if block is None:
        yield "its subnet is not known", "cidr"
    elif odd := ordinary_block(block):
        yield odd, "cidr"
    if overlapping:
        yield f"its subnet overlaps that of {overlapping}", "cidr"
    if ends is None:
        if ipv4.parse(network.dhcp_first) is None:
            missing = "dhcp_first"
        else:
            missing = "dhcp_last"
        yield "its DHCP range lacks an end", missing
    elif ends[0] > ends[1]:
        yield (
            f"its DHCP range is reversed, {network.dhcp_first} to {network.dhcp_last}",
            "dhcp_first",
        )
    elif block and not block.first <= ends[0] <= ends[1] <= block.last:
        yield (
            f"its DHCP range {network.dhcp_first} to {network.dhcp_last} is not within {span.cidr}",
            "dhcp_first",
        )


def _pools(
    network: Network, span: NetworkSpan, leased: set[int], problems: list[Problem]
) -> tuple[tuple[int, int], ...]:
    """The range without the addresses that somebody has for good, but with those ``leased``; empty when
    too little is left."""
    ends = addressing.dhcp_ends(network)
    if ends is None:
        return ()
    kept = [one for one in span.taken if ends[0] <= one <= ends[1] and one not in leased]
    pools = tuple(bands.free_runs(*ends, kept))
    shown = and_list([ipv4.to_text(one) for one in kept], 5)
    at = network.ref.at("dhcp_first")
    if not pools or len(pools) > PIECES:
        problems.append(
            problem(f"network {network.label}", f"fixed addresses fill its DHCP range: {shown}", at)
        )
        return ()
    if kept:
        why = "in use for good; a range without fixed addresses in it is safer"
        problems.append(problem(f"{shown} of the range of {network.label}", why, at))
    return pools


def _scope(
    checks: Checks,
    network: Network,
    block: Block,
    pools: tuple[tuple[int, int], ...],
    reservations: tuple[Reservation, ...],
    number: int,
    problems: list[Problem],
) -> Scope:
    router, router_fault = _router(checks, network, block)
    domain, domain_fault = _domain(network)
    lease, lease_fault = _lease(network)
    dns: list[str] = []
    for text in dict.fromkeys(network.dns_servers):
        if read_address(text) is None:
            why = "DHCP for IPv4 carries IPv4 addresses of ordinary networks only"
            problems.append(
                problem(f"DNS server {text} of {network.label}", why, network.ref.at("dns_servers"))
            )
        elif len(dns) < SERVERS:
            dns.append(text)
    if dns:
        dns_fault = ""
    else:
        dns_fault = "no DNS server is recorded"
    for what, why, field in (
        ("the router", router_fault, "gateway"),
        ("the DNS servers", dns_fault, "dns_servers"),
        ("the domain", domain_fault, "domain_suffix"),
        ("the lease time", lease_fault, "lease_minutes"),
    ):
        if why:
            problems.append(problem(f"{what} of {network.label}", why, network.ref.at(field)))
    return Scope(
        number=number,
        network=network,
        block=block,
        pools=pools,
        router=router,
        dns=tuple(dns),
        domain=domain,
        lease=lease,
        reservations=reservations,
    )


def _router(checks: Checks, network: Network, block: Block) -> tuple[int | None, str]:
    if not network.gateway:
        return None, "no gateway is recorded"
    address = ipv4.parse(network.gateway)
    if address is None or not block.first <= address <= block.last:
        return None, f"the gateway {network.gateway} does not lie in {block}"
    why = checks.address(address, network.ref.at("gateway"))
    if why:
        return (None, f"the gateway {network.gateway} is {why}")
    return (address, "")


def _domain(network: Network) -> tuple[str, str]:
    name = host_name(network.domain_suffix)
    if not name:
        return "", "no domain suffix is recorded"
    why = name_fault(name)
    if why:
        return ("", f"“{name}” is no domain: {why}")
    return (name, "")


def _lease(network: Network) -> tuple[int | None, str]:
    """In seconds."""
    if network.lease_minutes is None:
        return None, "it is not recorded, so the program's own is used"
    seconds = network.lease_minutes * 60
    if not SHORTEST <= seconds <= LONGEST:
        return None, f"{network.lease_minutes} minutes is no lease, so the program's own is used"
    return int(seconds), ""
