"""Addressing: who claims which address, what is free, and where that cannot be so.

Everything is sorted once and swept, so that a /16 full of claims stays quick.
"""

from __future__ import annotations

import functools
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers
from planner.engine.addresses import bands, ipv4, special_ranges
from planner.engine.addresses import claims as claims_module
from planner.engine.addresses.claims import Claim, Clash
from planner.engine.addresses.ipv4 import Block
from planner.engine.addresses.roles import ClaimRole
from planner.engine.addresses.special_ranges import SpecialUse
from planner.record.choices import AddressOrigin, Choice, Dhcp, NetworkPurpose
from planner.record.facts import Id, Network, SiteFacts

__all__ = [
    "Addressing",
    "Claim",
    "Clash",
    "NetworkSpan",
    "Overlap",
    "Problem",
    "next_free",
    "work_out",
]


@dataclass(frozen=True)
class NetworkSpan:
    """One network's addresses. Without a readable subnet everything from ``prefix`` on is None or empty.

    ``cidr`` is the subnet with its host bits cleared; ``usable`` counts the addresses machines may
    have (RFC 3021 for /31), ``first`` to ``last``. ``dhcp`` are the two ends of the DHCP range as
    numbers, as typed, None when reversed; ``dhcp_size`` counts what of it can be leased here.
    ``claims`` are of the records that say this network, by address. ``taken`` are the addresses in
    this subnet that anybody claims or refers to, ascending. ``free`` counts usable addresses that
    are not taken, outside the DHCP range; ``free_runs`` are they, as (first, last) numbers.
    ``waits`` says that it should have a gateway and has none yet: an address is kept for it.
    """

    network_id: Id
    name: str
    cidr: str
    block: Block | None
    dhcp: tuple[int, int] | None
    dhcp_size: int
    claims: tuple[Claim, ...]
    taken: tuple[int, ...]
    waits: bool = False

    @property
    def prefix(self) -> int | None:
        if self.block:
            return self.block.prefix
        return None

    @property
    def usable(self) -> int | None:
        if self.block:
            return self.block.usable
        return None

    @property
    def first(self) -> str | None:
        if self.block:
            return ipv4.to_text(self.block.first)
        return None

    @property
    def last(self) -> str | None:
        if self.block:
            return ipv4.to_text(self.block.last)
        return None

    @property
    def network_address(self) -> str | None:
        if self.block:
            return ipv4.to_text(self.block.network)
        return None

    @property
    def broadcast(self) -> str | None:
        """None in a /31 and a /32 too: they have none."""
        if self.block is None or self.block.broadcast is None:
            return None
        return ipv4.to_text(self.block.broadcast)

    @functools.cached_property
    def free_runs(self) -> tuple[tuple[int, int], ...]:
        """Runs of free addresses, as pairs of numbers, in ascending order."""
        if self.block is None:
            return ()
        runs = bands.free_runs(self.block.first, self.block.last, self.taken)
        return tuple(bands.without(runs, self.dhcp))

    @property
    def free(self) -> int | None:
        if self.block:
            return sum(last - first + 1 for first, last in self.free_runs)
        return None

    def first_free(self, low: int, high: int) -> int | None:
        """The lowest free address from ``low`` to ``high`` (both included), or None."""
        start = max(bisect_right(self.free_runs, (low, 1 << 32)) - 1, 0)
        for first, last in self.free_runs[start : start + 2]:
            if last >= low and first <= high:
                return max(first, low)
        return None

    @functools.cached_property
    def _proposals(self) -> dict[str, int | None]:
        return {}

    def next_free(self, role: str) -> int | None:
        """The next free address for a holder of ``role``: see :func:`next_free`."""
        if self.block is None:
            return None
        if role not in self._proposals:
            parts = bands.search_order(role, self.block)
            if role != ClaimRole.GATEWAY:
                parts = bands.without_address(parts, self.gateway_to_come)
            found = (self.first_free(low, high) for low, high in parts)
            self._proposals[role] = next(
                (address for address in found if address is not None), None
            )
        return self._proposals[role]

    @property
    def gateway_to_come(self) -> int | None:
        """The address that a gateway which nobody has written down yet would get; nobody else is given it."""
        if self.waits:
            return self.next_free(ClaimRole.GATEWAY)
        return None

    def dhcp_proposal(self) -> tuple[int, int] | None:
        """The longest run of free addresses in the band plan's part for DHCP, or None."""
        if self.block:
            part = bands.part("dhcp", self.block)
        else:
            part = None
        if part is None:
            return None
        inside = [(max(first, part[0]), min(last, part[1])) for first, last in self.free_runs]
        return max(
            (run for run in inside if run[0] <= run[1]),
            key=lambda run: run[1] - run[0],
            default=None,
        )


class ProblemKind(Choice):
    LINK_LOCAL = "link-local"  # 169.254.0.0/16
    SPECIAL = "special"  # another range of RFC 6890
    OUTSIDE = "outside"  # not in its network
    NETWORK_ADDRESS = "network-address"
    BROADCAST_ADDRESS = "broadcast-address"
    IN_DHCP_RANGE = "in-dhcp-range"  # static, not reserved
    NO_NETWORK = "no-network"  # no network holds it


@dataclass(frozen=True, slots=True)
class Problem:
    """One claim that cannot be right by itself.

    A network that is itself special has its own finding; its claims are not told again.
    """

    kind: ProblemKind
    claim: Claim


@dataclass(frozen=True, slots=True)
class Overlap:
    """Two networks that share addresses: ``inner`` lies in ``outer``, or both are the same (``same``)."""

    outer: NetworkSpan
    inner: NetworkSpan

    @property
    def same(self) -> bool:
        return self.outer.block == self.inner.block


@dataclass(frozen=True)
class Addressing:
    """Addresses of one site: a span a network, every claim by address, and what is wrong with them.

    ``ipv6`` are the claims to IPv6 addresses, with their own ``ipv6_clashes``. ``overlaps`` gives each
    network once at most, with the smallest network that holds it.
    """

    spans: tuple[NetworkSpan, ...] = ()
    claims: tuple[Claim, ...] = ()
    clashes: tuple[Clash, ...] = ()
    problems: tuple[Problem, ...] = ()
    overlaps: tuple[Overlap, ...] = ()
    ipv6: tuple[Claim, ...] = ()
    ipv6_clashes: tuple[Clash, ...] = ()

    @functools.cached_property
    def _by_id(self) -> dict[Id, NetworkSpan]:
        return {span.network_id: span for span in self.spans}

    def span(self, network_id: Id | None) -> NetworkSpan | None:
        """The span of a network, None when there is no such network."""
        if network_id is not None:
            return self._by_id.get(network_id)
        return None


def work_out(facts: SiteFacts, numbers: Numbers | None = None) -> Addressing:
    """Every claim of a site against its networks. Never raises; an unreadable address claims nothing."""
    blocks = {
        network.id: read[1]
        for network in facts.networks
        if (read := ipv4.parse_prefix(network.cidr))
    }
    claims = claims_module.of_version_4(facts, _finder(blocks))
    taken = sorted({claim.address for claim in claims} | set(_referred(facts)))
    by_network: dict[Id | None, list[Claim]] = {}
    for claim in claims:
        by_network.setdefault(claim.network_id, []).append(claim)
    spans = tuple(
        _span(network, blocks.get(network.id), tuple(by_network.get(network.id, ())), taken)
        for network in facts.networks
    )
    ipv6 = claims_module.of_version_6(facts)
    by_id = {span.network_id: span for span in spans}
    return Addressing(
        spans=spans,
        claims=tuple(claims),
        clashes=claims_module.clashes(claims, facts),
        problems=tuple(_problems(claims, by_id)),
        overlaps=tuple(_overlaps(spans)),
        ipv6=tuple(ipv6),
        ipv6_clashes=claims_module.clashes_of_version_6(ipv6, facts),
    )


def next_free(addressing: Addressing, network_id: Id | None, role: str) -> str | None:
    """The next free address for a holder of ``role`` in a network, as text.

    First in the role's own band of the house's plan, then anywhere but the gateways' band, then
    anywhere at all; never in the DHCP range, never an address that anybody claims or refers to, and never the
    one a gateway would get that nobody has written down yet. None when nothing is free, or the network or its
    subnet is unknown.
    """
    span = addressing.span(network_id)
    if span:
        address = span.next_free(role)
    else:
        address = None
    if address is None:
        return None
    return ipv4.to_text(address)


def dhcp_ends(network: Network) -> tuple[int, int] | None:
    """The ends of a network's DHCP range as typed; None without a range, or with half of one."""
    if network.dhcp == Dhcp.NONE:
        return None
    first, last = ipv4.parse(network.dhcp_first), ipv4.parse(network.dhcp_last)
    if first is not None and last is not None:
        return (first, last)
    return None


def dhcp_size(network: Network, block: Block | None) -> int:
    """How many addresses of a network's DHCP range can be leased: those its machines may have."""
    ends = dhcp_ends(network)
    if ends is None:
        return 0
    first, last = ends
    if block:
        first, last = max(first, block.first), min(last, block.last)
    return max(last - first + 1, 0)


def _finder(blocks: dict[Id, Block]) -> Callable[[int], Id | None]:
    """A function from an address to the network whose subnet holds it, the smallest if several do."""
    tables: dict[int, dict[int, Id]] = {}
    for network_id, block in blocks.items():
        tables.setdefault(32 - block.prefix, {}).setdefault(
            block.network >> 32 - block.prefix, network_id
        )
    ordered = sorted(tables.items())

    def network_of(address: int) -> Id | None:
        for shift, table in ordered:
            if address >> shift in table:
                return table[address >> shift]
        return None

    return network_of


def _referred(facts: SiteFacts) -> Iterator[int]:
    """Addresses the plan points at without claiming them: somebody has them, so they are not free."""
    texts = [facts.directory.time_source, *(host.time_source for host in facts.hosts)]
    for network in facts.networks:
        texts += [network.dhcp_server, *network.dns_servers]
    return (address for address in map(ipv4.parse, texts) if address is not None)


def _span(
    network: Network, block: Block | None, claims: tuple[Claim, ...], taken: list[int]
) -> NetworkSpan:
    ends = dhcp_ends(network)
    if block:
        inside = taken[bisect_left(taken, block.network) : bisect_right(taken, block.end)]
    else:
        inside = []
    return NetworkSpan(
        network_id=network.id,
        name=network.label,
        cidr=str(block) if block else "",
        block=block,
        dhcp=ends if ends and ends[0] <= ends[1] else None,
        dhcp_size=dhcp_size(network, block),
        claims=claims,
        taken=tuple(inside),
        waits=block is not None
        and wants_gateway(network, block)
        and not _has_gateway(network, block),
    )


def wants_gateway(network: Network, block: Block) -> bool:
    """Whether machines of a network look for a gateway: not on a storage network, nor where there is one alone."""
    return network.purpose != NetworkPurpose.STORAGE and block.usable >= 2


def _has_gateway(network: Network, block: Block) -> bool:
    gateway = ipv4.parse(network.gateway)
    return gateway is not None and block.first <= gateway <= block.last


def _problems(claims: list[Claim], spans: dict[Id, NetworkSpan]) -> Iterator[Problem]:
    for claim in claims:
        if claim.network_id is not None:
            span = spans.get(claim.network_id)
        else:
            span = None
        at_home = span is not None and span.block is not None and claim.address in span.block
        if span and at_home:
            kind = _at_home(claim, span)
        else:
            kind = _astray(claim, span)
        if kind:
            yield Problem(kind, claim)


def _at_home(claim: Claim, span: NetworkSpan) -> ProblemKind | None:
    """What is wrong with an address that does lie in its network."""
    block = span.block
    if block and block.broadcast is not None:
        if claim.address == block.network:
            return ProblemKind.NETWORK_ADDRESS
        if claim.address == block.broadcast:
            return ProblemKind.BROADCAST_ADDRESS
    static = claim.role != ClaimRole.GATEWAY and claim.held not in (
        AddressOrigin.RESERVED,
        AddressOrigin.DYNAMIC,
    )
    if static and span.dhcp and span.dhcp[0] <= claim.address <= span.dhcp[1]:
        return ProblemKind.IN_DHCP_RANGE
    return None


def _astray(claim: Claim, span: NetworkSpan | None) -> ProblemKind | None:
    """What is wrong with an address whose network does not hold it, or has no subnet, or is unknown."""
    special = special_ranges.of_address(claim.address)
    if special and special.use == SpecialUse.LINK_LOCAL:
        return ProblemKind.LINK_LOCAL
    if special and special.use in (SpecialUse.RESERVED, SpecialUse.DOCUMENTATION):
        return ProblemKind.SPECIAL
    if span is None:
        return ProblemKind.NO_NETWORK
    if span.block:
        return ProblemKind.OUTSIDE
    return None


def _overlaps(spans: tuple[NetworkSpan, ...]) -> Iterator[Overlap]:
    """Prefixes either nest or have nothing in common, so one sweep with a stack finds who lies in whom."""
    holders: list[tuple[Block, NetworkSpan]] = []
    known = [(span.block, span) for span in spans if span.block]
    for block, span in sorted(known, key=lambda one: one[0]):
        while holders and not holders[-1][0].holds(block):
            holders.pop()
        if holders:
            yield Overlap(outer=holders[-1][1], inner=span)
        holders.append((block, span))
