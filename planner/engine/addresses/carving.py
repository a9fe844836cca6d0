"""Carving: subnets of the sizes wanted out of one supernet, without overlap, and what of it stays free.

A subnet is a power of two of addresses and begins at a multiple of its size (RFC 4632 §3.1), so every free
piece is a row of whole places for every smaller one. Largest first is therefore exact: whatever solution
exists can be turned into one in which the largest subnet lies where it is put here, by exchanging what lies
in the two places: the rest is as large or smaller, and stays on its boundaries. So a carving succeeds
whenever any aligned carving does.
"""

from __future__ import annotations

import math
from bisect import insort
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from planner.engine.addresses import ipv4
from planner.engine.addresses.ipv4 import Block
from planner.engine.addresses.leases import Leases
from planner.engine.addresses.resets import exact
from planner.record.facts import Id, Network, SiteFacts

SMALLEST = (
    30  # a /31 and a /32 are links between routers and single machines, not subnets to grow in
)
LARGEST_WANT = 1 << 32


@dataclass(frozen=True, slots=True)
class Carving:
    """What became of the subnets wanted.

    ``blocks`` are as the prefixes were given, None for one that does not fit (or was None). ``free`` are the
    largest aligned pieces of the supernet that nobody has, by address.
    """

    blocks: tuple[Block | None, ...]
    free: tuple[Block, ...]

    @property
    def whole(self) -> bool:
        """Whether every subnet found its place."""
        return None not in self.blocks


def prefix_for(count: float | None, growth: float = 0.0) -> int | None:
    """The longest prefix, at most /30, that has room for ``count`` machines and their gateway.

    ``growth`` is the share they may grow by (0.5 is half as many again); the grown count is rounded up.
    Usable are 2^(32 − prefix) − 2 (RFC 4632 §3.1, network and broadcast address left out). None when the
    count or the growth is not known or negative, or when no prefix is short enough.
    """
    machines, share = exact(count), exact(growth)
    if machines is None or share is None:
        return None
    wanted = math.ceil(machines * (1 + share)) + 1
    if wanted > LARGEST_WANT - 2:
        return None
    return min(32 - (wanted + 1).bit_length(), SMALLEST)


def grown(count: int, growth: float) -> int | None:
    """How many machines ``count`` are once they have grown by the share ``growth``, rounded up."""
    machines, share = exact(count), exact(growth)
    if machines is None or share is None:
        return None
    return math.ceil(machines * (1 + share))


def carve(supernet: Block, prefixes: Sequence[int | None], held: Iterable[Block] = ()) -> Carving:
    """Places a subnet of each prefix in the supernet, away from the blocks that are ``held`` already.

    Largest first; equal ones in the order given. Each goes to the smallest free piece that has room, the
    lowest of several, so that large pieces stay whole. When not all fit, those that do are placed all the
    same: the larger ones have the choice.
    """
    pieces: dict[int, list[int]] = {}
    for piece in free_blocks(supernet, held):
        pieces.setdefault(piece.prefix, []).append(piece.network)
    blocks: list[Block | None] = [None] * len(prefixes)
    wanted = sorted((prefix, at) for at, prefix in enumerate(prefixes) if prefix is not None)
    for prefix, at in wanted:
        blocks[at] = _take(pieces, prefix)
    left = [Block(network, prefix) for prefix, found in pieces.items() for network in found]
    return Carving(tuple(blocks), tuple(sorted(left)))


def _take(pieces: dict[int, list[int]], prefix: int) -> Block | None:
    """The lowest place in the smallest piece with room; what is cut off goes back to the pieces."""
    source = max(
        (length for length, found in pieces.items() if found and length <= prefix), default=None
    )
    if source is None:
        return None
    network = pieces[source].pop(0)
    for length in range(source + 1, prefix + 1):
        insort(pieces.setdefault(length, []), network + (1 << 32 - length))
    return Block(network, prefix)


def free_blocks(supernet: Block, held: Iterable[Block] = ()) -> list[Block]:
    """The largest aligned pieces of a supernet that no held block touches, by address."""
    found, start = [], supernet.network
    for block in sorted(held):
        if block.end < start:
            continue
        if block.network > supernet.end:
            break
        found += _pieces(start, block.network - 1)
        start = block.end + 1
    return found + _pieces(start, supernet.end)


def _pieces(first: int, last: int) -> list[Block]:
    """The addresses from ``first`` to ``last`` in as few aligned blocks as possible."""
    found = []
    while first <= last:
        if first:
            aligned = (first & -first).bit_length() - 1
        else:
            aligned = 32
        size = min(aligned, (last - first + 1).bit_length() - 1)
        found.append(Block(first, 32 - size))
        first += 1 << size
    return found


def smallest_holding(prefixes: Iterable[int | None]) -> int | None:
    """The longest prefix of a supernet of their own in which these subnets all fit; None when there is none.

    Powers of two fit as soon as their sizes add up to no more than the supernet's.
    """
    total = sum(1 << 32 - prefix for prefix in prefixes if prefix is not None)
    if not 0 < total <= 1 << 32:
        return None
    return 32 - (total - 1).bit_length()


# -- how many, from the facts ----------------------------------------------------------------------


def without_subnet(facts: SiteFacts) -> list[Network]:
    """The networks whose subnet nobody wrote down."""
    return [network for network in facts.networks if not network.cidr.strip()]


def held_by(facts: SiteFacts) -> list[tuple[Network, Block, str]]:
    """Subnets that are taken already: of this site's networks, and of those of sites joined to it by a link.

    Each with its network and the name of the other site ("" for this one).
    """
    own = [(network, "") for network in facts.networks]
    far = [(network, one.name) for one in facts.neighbours for network in one.networks]
    return [
        (network, read[1], where)
        for network, where in own + far
        if (read := ipv4.parse_prefix(network.cidr))
    ]


def machines_on(facts: SiteFacts, leases: Leases) -> dict[Id, int]:
    """How many addresses each network's machines want as far as is known, without its gateway; 0 left out.

    Hosts, servers, appliances, devices and the service that name the network, the leases its desktops need
    (with what lives on of old ones), other DHCP clients, and one device for each person who comes from it.
    """
    counts: dict[Id, int] = {}

    def add(network_id: Id | None, count: float | None) -> None:
        known = exact(count)
        if network_id is not None and known is not None:
            counts[network_id] = counts.get(network_id, 0) + math.ceil(known)

    consoles = any(host.out_of_band_address for host in facts.hosts)
    for host in facts.hosts:
        add(host.network_id, 2 if consoles else 1)
    for network_id in _named(facts):
        add(network_id, 1)
    if len(facts.appliances) != 1:  # the service of one appliance is that appliance
        add(facts.service.network_id, 1)
    for group in facts.seat_groups:
        add(group.network_id, group.people)
    for network in facts.networks:
        need = leases.of(network.id)
        add(network.id, need.at_least if need else network.other_dhcp_clients)
    present = {network.id for network in facts.networks}
    return {id: count for id, count in counts.items() if count and id in present}


def _named(facts: SiteFacts) -> Iterator[Id | None]:
    """The network of every machine but the hosts."""
    yield from (server.network_id for server in facts.servers)
    yield from (appliance.network_id for appliance in facts.appliances)
    yield from (device.network_id for device in facts.devices)


def likely_supernet(facts: SiteFacts) -> Block | None:
    """A supernet to begin with: the /16 that the first known network with a longer prefix lies in, or None."""
    for network in facts.networks:
        read = ipv4.parse_prefix(network.cidr)
        if read and read[1].prefix > 16:
            return Block(read[1].network >> 16 << 16, 16)
    return None
