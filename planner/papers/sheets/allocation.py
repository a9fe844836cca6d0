"""The allocation sheet: every address of a site, by address."""

from __future__ import annotations

import ipaddress
from collections.abc import Callable, Iterator, Mapping

from planner.engine.addresses import claims, ipv4
from planner.engine.addresses.addressing import NetworkSpan, ProblemKind
from planner.engine.addresses.claims import Claim
from planner.engine.addresses.roles import ClaimRole
from planner.papers.sheets.keys import HEADING, RowKey
from planner.papers.sheets.parts import Column, ColumnKind, Sheet, Value
from planner.plan import Plan
from planner.record import units
from planner.record.choices import Dhcp, NetworkPurpose, ServerRole
from planner.record.facts import Device, Id, Network, Record, Ref, Server, Service

COLUMNS = (
    Column("Network", width=18),
    Column("VLAN", ColumnKind.INTEGER, 7),
    Column("Subnet", ColumnKind.ADDRESS, 20),
    Column("Address", ColumnKind.ADDRESS, 18),
    Column("Last address", ColumnKind.ADDRESS, 16),
    Column("Addresses", ColumnKind.INTEGER, 11),
    Column("Free", ColumnKind.INTEGER, 9),
    Column("Name", width=22),
    Column("What it is", width=28),
    Column("MAC", ColumnKind.ADDRESS, 19),
    Column("Held", width=12),
    Column("To settle", width=30),
    Column(HEADING, width=24, printed=False),
)
TROUBLE = {
    ProblemKind.LINK_LOCAL: "link-local: DHCP did not answer",
    ProblemKind.SPECIAL: "special range",
    ProblemKind.OUTSIDE: "outside its subnet",
    ProblemKind.NETWORK_ADDRESS: "the subnet's own address",
    ProblemKind.BROADCAST_ADDRESS: "broadcast address",
    ProblemKind.IN_DHCP_RANGE: "inside the DHCP range, not reserved",
    ProblemKind.NO_NETWORK: "in no recorded subnet",
}

# Rows sort by version, address, and what comes first of those at one address: subnet, claims, DHCP range.
Key = tuple[int, int, int, int]
Keyed = tuple[Key, Ref, tuple[Value, ...]]
WANTED = (
    ClaimRole.GATEWAY,
    ClaimRole.SERVICE,
    ClaimRole.HOST,
    ClaimRole.APPLIANCE,
    ClaimRole.SERVER,
    ClaimRole.DEVICE,
)  # whose missing addresses have a row
LATER = 5  # in the place of the version: after every known IPv4 address, before IPv6


def allocation_sheet(plan: Plan, edits: Mapping[str, int] | None = None) -> Sheet:
    """Every claim, every subnet with its free addresses, every DHCP range, and who has no address yet; IPv4
    first, then IPv6.

    ``edits`` are the records' edit counters by anchor, where they are known: they go into the rows' keys,
    so that a sheet that comes back tells what it was made from.
    """
    networks = {network.id: network for network in plan.facts.networks}
    rows = sorted(
        [
            *_subnets(plan, networks),
            *_claims(plan, networks),
            *_wanted(plan, networks),
            *_version_6(plan, networks),
        ],
        key=lambda row: row[0],
    )
    name = _names_of_rows(plan, edits or {})
    return Sheet(
        "Allocation",
        "Allocation sheet: every address, and whose it is",
        COLUMNS,
        tuple((*cells, name(ref)) for _, ref, cells in rows),
    )


def _names_of_rows(plan: Plan, edits: Mapping[str, int]) -> Callable[[Ref], str]:
    facts, fingerprint = plan.facts, plan.fingerprint

    def name(ref: Ref) -> str:
        counter = edits.get(ref.anchor)
        return str(
            RowKey(
                facts.customer_code, facts.site.code, fingerprint, ref.anchor, ref.field, counter
            )
        )

    return name


def _subnets(plan: Plan, networks: dict[Id, Network]) -> Iterator[Keyed]:
    for at, span in enumerate(plan.addressing.spans):
        network = networks[span.network_id]
        yield _subnet(span, network, at)
        if span.dhcp:
            first, last = (ipv4.to_text(end) for end in span.dhcp)
            yield (
                (4, span.dhcp[0], 2, at),
                network.ref.at("dhcp"),
                _range(network, first, last, span.dhcp_size, ""),
            )
        elif network.dhcp == Dhcp.RANGE:
            known = network.dhcp_first and network.dhcp_last
            if known:
                told = "the range is reversed"
            else:
                told = "the range is not known yet"
            row = _range(network, network.dhcp_first, network.dhcp_last, None, told)
            yield (LATER, 1, 0, at), network.ref.at("dhcp"), row


def _range(
    network: Network, first: str, last: str, size: int | None, told: str
) -> tuple[Value, ...]:
    if network.lease_minutes is not None:
        lease = f"lease {units.show_minutes(network.lease_minutes)}"
    else:
        lease = ""
    what = ", ".join(filter(None, ("DHCP range", lease)))
    return (
        *_network(network),
        first,
        last,
        size,
        None,
        network.dhcp_server,
        what,
        "",
        "leased",
        told,
    )


def _subnet(span: NetworkSpan, network: Network, at: int) -> Keyed:
    purpose = NetworkPurpose.words_of(network.purpose)
    what, ref = ", ".join(filter(None, ("network", purpose))), network.ref.at("cidr")
    if span.block is None:
        row = (
            *_network(network),
            "",
            "",
            None,
            None,
            network.label,
            what,
            "",
            "",
            "subnet not known yet",
        )
        return (LATER, 0, 0, at), ref, row
    ends = (ipv4.to_text(span.block.network), ipv4.to_text(span.block.end))
    row = (*_network(network), *ends, span.usable, span.free, network.label, what, "", "", "")
    return (4, span.block.network, 0, at), ref, row


def _network(network: Network | None) -> tuple[Value, ...]:
    if network:
        return (network.label, network.vlan, network.cidr)
    return ("", None, "")


def _claims(plan: Plan, networks: dict[Id, Network]) -> Iterator[Keyed]:
    addressing = plan.addressing
    trouble: dict[Claim, list[str]] = {}
    for clash in addressing.clashes:
        for claim in clash.claims:
            trouble.setdefault(claim, []).append("claimed more than once")
    for problem in addressing.problems:
        trouble.setdefault(problem.claim, []).append(TROUBLE[problem.kind])
    for at, claim in enumerate(addressing.claims):
        row = _claim(plan, claim, networks, trouble.get(claim, []))
        yield (4, claim.address, 1, at), claim.holder, row


def _wanted(plan: Plan, networks: dict[Id, Network]) -> Iterator[Keyed]:
    """A row for whoever should have an address and has none yet: the network's owner fills it in."""
    claimed = {claim.holder for claim in plan.addressing.claims}
    for record, field, role, held in claims.fields(plan.facts):
        at = record.ref.at(field)
        if at in claimed or role not in WANTED:
            continue
        if isinstance(record, Service) and not (record.name or record.entry_name):
            continue
        own = record.id if role == ClaimRole.GATEWAY else getattr(record, "network_id", None)
        if own is not None:
            network = networks.get(own)
        else:
            network = None
        row = (
            *_network(network),
            getattr(record, field),
            "",
            None,
            None,
            record.label,
            what_it_is(role, record),
            getattr(record, "mac", ""),
            "not said" if role == ClaimRole.GATEWAY else held or "not said",
            "no address yet",
        )
        yield (LATER, 2, WANTED.index(role), 0), at, row


def _version_6(plan: Plan, networks: dict[Id, Network]) -> Iterator[Keyed]:
    """IPv6 prefixes and claims: listed, not counted."""
    for at, network in enumerate(plan.facts.networks):
        try:
            if network.ipv6_prefix:
                prefix = ipaddress.IPv6Network(network.ipv6_prefix, strict=False)
            else:
                prefix = None
        except ValueError:
            continue
        if prefix is not None:
            held = (network.label, network.vlan, str(prefix))
            row = (
                *held,
                str(prefix.network_address),
                "",
                None,
                None,
                network.label,
                "network",
                "",
                "",
                "",
            )
            yield (6, int(prefix.network_address), 0, at), network.ref.at("ipv6_prefix"), row
    twice = {claim for clash in plan.addressing.ipv6_clashes for claim in clash.claims}
    for at, claim in enumerate(plan.addressing.ipv6):
        if claim in twice:
            told = ["claimed more than once"]
        else:
            told = []
        yield (6, claim.address, 1, at), claim.holder, _claim(plan, claim, networks, told)


def _claim(
    plan: Plan, claim: Claim, networks: dict[Id, Network], trouble: list[str]
) -> tuple[Value, ...]:
    record = plan.facts.find(claim.holder)
    if claim.network_id is not None:
        network = networks.get(claim.network_id)
    else:
        network = None
    if claim.holder.field == "ipv6_address" and network is not None:
        place: tuple[Value, ...] = (network.label, network.vlan, network.ipv6_prefix)
    else:
        place = _network(network)
    mac = (
        "" if claim.role == ClaimRole.OUT_OF_BAND else getattr(record, "mac", "")
    )  # a host's MAC is its own port's
    return (
        *place,
        claim.text,
        "",
        1,
        None,
        claim.label,
        what_it_is(claim.role, record),
        mac,
        claim.held or "not said",
        "; ".join(trouble),
    )


def what_it_is(role: ClaimRole, record: Record | None) -> str:
    """What a claim's holder is, in words: its role, a server's roles, what a device is said to be."""
    what = role.words
    if isinstance(record, Server) and record.roles:
        return f"{what}: {', '.join(ServerRole.words_of(role) for role in record.roles)}"
    if isinstance(record, Device) and record.what:
        return record.what
    return what
