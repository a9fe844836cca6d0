"""The allocation sheet: every address of a site, by address."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterator
from typing import TYPE_CHECKING

from planner import units
from planner.chapters.directory import ROLES
from planner.chapters.networks import PURPOSES
from planner.engine import ipv4
from planner.engine.addressing import NetworkSpan
from planner.engine.claims import Claim
from planner.facts import Device, Id, Network, Record, Server
from planner.papers.sheets_parts import Column, Sheet, Value

if TYPE_CHECKING:
    from planner.plan import Plan

COLUMNS = (
    Column("Network", width=18), Column("VLAN", "integer", 7), Column("Subnet", "address", 20),
    Column("Address", "address", 18), Column("Last address", "address", 16), Column("Addresses", "integer", 11),
    Column("Free", "integer", 9), Column("Name", width=22), Column("What it is", width=28),
    Column("MAC", "address", 19), Column("Held", width=12), Column("To settle", width=30),
)  # fmt: skip
WHAT = {"out-of-band": "out of band", "service": "entry"}  # roles whose word is not the role itself
TROUBLE = {
    "link-local": "link-local: DHCP did not answer", "special": "special range", "outside": "outside its subnet",
    "network-address": "the subnet's own address", "broadcast-address": "broadcast address",
    "in-dhcp-range": "inside the DHCP range, not reserved", "no-network": "in no recorded subnet",
}  # fmt: skip

# Rows sort by version, address, and what comes first of those at one address: subnet, claims, DHCP range.
Key = tuple[int, int, int, int]
Keyed = tuple[Key, tuple[Value, ...]]


def allocation_sheet(plan: Plan) -> Sheet:
    """Every claim, every subnet with its free addresses, every DHCP range; IPv4 first, then IPv6."""
    networks = {network.id: network for network in plan.facts.networks}
    rows = sorted(
        [*_subnets(plan, networks), *_claims(plan, networks), *_version_6(plan, networks)], key=lambda row: row[0]
    )
    return Sheet(
        "Allocation", "Allocation sheet: every address, and whose it is", COLUMNS, tuple(row for _, row in rows)
    )


def _subnets(plan: Plan, networks: dict[Id, Network]) -> Iterator[Keyed]:
    for at, span in enumerate(plan.addressing.spans):
        network = networks[span.network_id]
        yield _subnet(span, network, at)
        if span.dhcp:
            first, last = (ipv4.to_text(end) for end in span.dhcp)
            lease = f"lease {units.show_minutes(network.lease_minutes)}" if network.lease_minutes is not None else ""
            what = ", ".join(filter(None, ("DHCP range", lease)))
            row = (*_network(network), first, last, span.dhcp_size, None, network.dhcp_server, what, "", "leased", "")
            yield (4, span.dhcp[0], 2, at), row


def _subnet(span: NetworkSpan, network: Network, at: int) -> Keyed:
    purpose = PURPOSES.get(network.purpose, network.purpose)
    what = ", ".join(filter(None, ("network", purpose)))
    if span.block is None:
        key, ends = (5, 0, 0, at), ("", "")  # after every known IPv4 address
        return key, (*_network(network), *ends, None, None, network.label, what, "", "", "subnet not known yet")
    ends = (ipv4.to_text(span.block.network), ipv4.to_text(span.block.end))
    row = (*_network(network), *ends, span.usable, span.free, network.label, what, "", "", "")
    return (4, span.block.network, 0, at), row


def _network(network: Network | None) -> tuple[Value, ...]:
    return (network.label, network.vlan, network.cidr) if network else ("", None, "")


def _claims(plan: Plan, networks: dict[Id, Network]) -> Iterator[Keyed]:
    addressing = plan.addressing
    trouble: dict[Claim, list[str]] = {}
    for clash in addressing.clashes:
        for claim in clash.claims:
            trouble.setdefault(claim, []).append("claimed more than once")
    for problem in addressing.problems:
        trouble.setdefault(problem.claim, []).append(TROUBLE.get(problem.kind, problem.kind))
    for at, claim in enumerate(addressing.claims):
        yield (4, claim.address, 1, at), _claim(plan, claim, networks, trouble.get(claim, []))


def _version_6(plan: Plan, networks: dict[Id, Network]) -> Iterator[Keyed]:
    """IPv6 prefixes and claims: listed, not counted."""
    for at, network in enumerate(plan.facts.networks):
        try:
            prefix = ipaddress.IPv6Network(network.ipv6_prefix, strict=False) if network.ipv6_prefix else None
        except ValueError:
            continue
        if prefix is not None:
            held = (network.label, network.vlan, str(prefix))
            row = (*held, str(prefix.network_address), "", None, None, network.label, "network", "", "", "")
            yield (6, int(prefix.network_address), 0, at), row
    twice = {claim for clash in plan.addressing.ipv6_clashes for claim in clash.claims}
    for at, claim in enumerate(plan.addressing.ipv6):
        told = ["claimed more than once"] if claim in twice else []
        yield (6, claim.address, 1, at), _claim(plan, claim, networks, told)


def _claim(plan: Plan, claim: Claim, networks: dict[Id, Network], trouble: list[str]) -> tuple[Value, ...]:
    record = plan.facts.find(claim.holder)
    network = networks.get(claim.network_id) if claim.network_id is not None else None
    if claim.holder.field == "ipv6_address" and network is not None:
        place: tuple[Value, ...] = (network.label, network.vlan, network.ipv6_prefix)
    else:
        place = _network(network)
    mac = "" if claim.role == "out-of-band" else getattr(record, "mac", "")  # a host's MAC is its own port's
    return (
        *place, claim.text, "", 1, None, claim.label, _what(claim, record), mac, claim.held or "not said",
        "; ".join(trouble),
    )  # fmt: skip


def _what(claim: Claim, record: Record | None) -> str:
    what = WHAT.get(claim.role, claim.role)
    if isinstance(record, Server) and record.roles:
        return f"{what}: {', '.join(ROLES.get(role, role) for role in record.roles)}"
    if isinstance(record, Device) and record.what:
        return record.what
    return what
