"""Reverse zones: which name an address has.

A zone ends at a dot, so a subnet fits one only where its prefix does: at 8, 16 or 24 bits in IPv4, at
every fourth in IPv6. A shorter one is split at the next such place. A longer IPv4 one than 24 gets a
zone of its own behind CNAMEs in the zone above. Source: RFC 1035 section 3.5; RFC 3596 section 2.5;
RFC 2317 section 4, whose slash in a zone's name is a hyphen here, because a file's name cannot hold it.
"""

from __future__ import annotations

import ipaddress
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence

from planner.engine.addresses import ipv4, special_ranges
from planner.engine.addresses.ipv4 import Block
from planner.papers.configs.checks import ordinary_block
from planner.papers.configs.names import Named, Names, prefix_6
from planner.papers.configs.problems import Problem, problem
from planner.papers.configs.zone_text import Line, Zone
from planner.plan import Plan

EMPTY_ONES = 4  # zones of one subnet up to which those without a record are written too
SHORTEST_6 = 16  # bits; nobody's site has a shorter prefix
PRIVATE = (
    "Private addresses have no zone above it: it is enough that your own servers answer for it."
)


def reverse_zones(
    plan: Plan, names: Names, servers: Sequence[str], problems: list[Problem]
) -> Iterator[Zone]:
    """The zones of every subnet and IPv6 prefix of the plan; ``servers`` are whole names."""
    whole = [one for one in names.named if "." in one.name]
    for one in names.named:
        if "." not in one.name:
            why = "its domain is not known, so no zone can hold it"
            problems.append(problem(f"the name {one.name} of {one.label}", why, one.ref))
    yield from _version_4(plan, whole, servers, problems)
    yield from _version_6(plan, whole, servers, problems)


def arpa_4(network: int, octets: int) -> str:
    """The zone of an address's first octets: (10.44.1.0, 3) → ``1.44.10.in-addr.arpa``."""
    return ".".join([*reversed(ipv4.to_text(network).split(".")[:octets]), "in-addr", "arpa"])


def arpa_6(network: ipaddress.IPv6Address, nibbles: int) -> str:
    """The zone of an IPv6 address's first half-octets."""
    digits = network.exploded.replace(":", "")[:nibbles]
    return ".".join([*reversed(digits), "ip6", "arpa"])


# -- IPv4 ----------------------------------------------------------------------------------------


def _version_4(
    plan: Plan, named: Sequence[Named], servers: Sequence[str], problems: list[Problem]
) -> Iterator[Zone]:
    overlapping = {
        span.network_id for one in plan.addressing.overlaps for span in (one.outer, one.inner)
    }
    blocks: list[Block] = []
    known: list[Block] = []
    for network, span in zip(plan.facts.networks, plan.addressing.spans, strict=True):
        block, at = span.block, network.ref.at("cidr")
        what = f"the reverse zone of {network.label}"
        if block is None:
            problems.append(problem(what, "its subnet is not known", at))
            continue
        known.append(block)
        if span.network_id in overlapping:
            problems.append(problem(what, "its subnet overlaps another", at))
        elif why := ordinary_block(block):
            problems.append(problem(what, why, at))
        else:
            blocks.append(block)
    usable = set(blocks)
    held: dict[Block, dict[int, Named]] = {block: {} for block in usable}
    for one, block in _placed(_outermost(known), named):
        if block is None:
            why = "its address lies in no subnet of the plan"
            problems.append(problem(f"the reverse name of {one.label}", why, one.ref.at("address")))
        elif block in usable and one.address is not None:
            held[block].setdefault(
                one.address, one
            )  # one name an address: a machine's own before the entry's
    for block in sorted(usable):
        yield from _of_block(block, held[block], servers)


def _outermost(blocks: Sequence[Block]) -> list[Block]:
    """The blocks that lie in no other, ascending. Blocks either nest or have nothing in common."""
    found: list[Block] = []
    for block in sorted(blocks):
        if not found or not found[-1].holds(block):
            found.append(block)
    return found


def _placed(
    blocks: Sequence[Block], named: Sequence[Named]
) -> Iterator[tuple[Named, Block | None]]:
    """Everybody with an IPv4 address, and the block that holds it."""
    starts = [block.network for block in blocks]
    for one in named:
        if one.address is not None:
            at = bisect_right(starts, one.address) - 1
            yield one, blocks[at] if at >= 0 and one.address in blocks[at] else None


def _of_block(block: Block, held: dict[int, Named], servers: Sequence[str]) -> Iterator[Zone]:
    if block.prefix > 24:
        yield _classless(block, held, servers)
        return
    octets = -(-block.prefix // 8)
    step = 1 << 32 - 8 * octets
    count = block.size // step
    used = {address // step * step for address in held}
    starts = range(block.network, block.end + 1, step) if count <= EMPTY_ONES else sorted(used)
    by_start: dict[int, list[Line]] = {start: [] for start in starts}
    for address, one in sorted(held.items()):
        owner = ".".join(reversed(ipv4.to_text(address).split(".")[octets:]))
        by_start[address // step * step].append(_pointer(owner, one))
    for start, lines in by_start.items():
        name = arpa_4(start, octets)
        yield Zone(name, tuple(lines), *_above(name, block, count, servers))


def _above(
    name: str, block: Block, count: int, servers: Sequence[str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What to say of the zone above, and the records it needs."""
    notes = [f"Addresses of {block}."]
    if count > 1:
        notes.append(
            f"Its prefix does not end at a dot: {count:,} zones hold it, and each must be handed over."
        )
    special = special_ranges.of_block(block)
    if special and special.private:
        return (*notes, PRIVATE), ()
    label, _, parent = name.partition(".")
    notes.append(
        f"Whoever answers for the zone above, {parent}, must hand this one over with these records:"
    )
    return tuple(notes), tuple(f"{label:8} IN NS    {server}." for server in servers)


def _classless(block: Block, held: dict[int, Named], servers: Sequence[str]) -> Zone:
    parent = arpa_4(block.network, 3)
    label = f"{block.network & 255}-{block.prefix}"
    name = f"{label}.{parent}"
    lines = tuple(_pointer(str(address & 255), one) for address, one in sorted(held.items()))
    first, last = block.first & 255, block.last & 255
    notes = (
        f"Addresses of {block}. Its prefix does not end at a dot, so this zone is found only by way of the zone "
        f"above, {parent}, which has one CNAME for each of its addresses (RFC 2317). Whoever answers for that "
        "zone adds these records ($GENERATE stands for one line each). Where that is you, for the whole of it, "
        "write the PTR records there instead and leave this zone out.",
    )
    above = [f"{label:8} IN NS    {server}." for server in servers]
    above.append(f"$GENERATE {first}-{last} $ CNAME $.{name}.")
    return Zone(name, lines, notes, tuple(above))


def _pointer(owner: str, one: Named) -> Line:
    return Line(owner, "PTR", f"{one.name}.", f"{one.role}: {one.label}")


# -- IPv6 ----------------------------------------------------------------------------------------


def _version_6(
    plan: Plan, named: Sequence[Named], servers: Sequence[str], problems: list[Problem]
) -> Iterator[Zone]:
    found = []
    for network in plan.facts.networks:
        prefix = prefix_6(network.ipv6_prefix)
        if prefix is None:
            continue
        if (
            prefix.prefixlen < SHORTEST_6
            or prefix.is_multicast
            or prefix.is_link_local
            or prefix.is_loopback
        ):
            what, why = (
                f"the reverse zone of {prefix} ({network.label})",
                "it is no prefix of a site",
            )
            problems.append(problem(what, why, network.ref.at("ipv6_prefix")))
        else:
            found.append((prefix, network))
    found.sort(key=lambda one: (one[0].network_address, one[0].prefixlen))
    sixes = sorted((one for one in named if one.ipv6 is not None), key=_number)
    end = -1
    for at, (prefix, network) in enumerate(found):
        start, last = int(prefix.network_address), int(prefix.broadcast_address)
        if at + 1 < len(found):
            following = int(found[at + 1][0].network_address)
        else:
            following = last + 1
        if start <= end or following <= last:
            what, why = (
                f"the reverse zone of {prefix} ({network.label})",
                "it overlaps another network's prefix",
            )
            problems.append(problem(what, why, network.ref.at("ipv6_prefix")))
        else:
            inside = sixes[
                bisect_left(sixes, start, key=_number) : bisect_right(sixes, last, key=_number)
            ]
            yield from _of_prefix(prefix, inside, servers)
        end = max(end, last)


def _number(one: Named) -> int:
    return int(one.ipv6 or 0)


def _of_prefix(
    prefix: ipaddress.IPv6Network, named: Sequence[Named], servers: Sequence[str]
) -> Iterator[Zone]:
    held: dict[ipaddress.IPv6Address, Named] = {}
    for one in named:
        if one.ipv6 is not None:
            held.setdefault(one.ipv6, one)
    nibbles = -(-prefix.prefixlen // 4)
    parts = list(prefix.subnets(new_prefix=4 * nibbles))
    for part in parts:
        name = arpa_6(part.network_address, nibbles)
        lines = []
        for address, one in held.items():
            if address in part:
                owner = arpa_6(address, 32).removesuffix(name).rstrip(".") or "@"
                lines.append(_pointer(owner, one))
        if not lines and len(parts) > EMPTY_ONES:
            continue
        label, _, parent = name.partition(".")
        notes = [f"Addresses of {prefix}."]
        if len(parts) > 1:
            notes.append(
                f"Its prefix does not end at a dot: {len(parts)} zones hold it, each to be handed over."
            )
        notes.append(
            f"Whoever answers for the zone above, {parent}, must hand this one over with these records:"
        )
        yield Zone(
            name,
            tuple(lines),
            tuple(notes),
            tuple(f"{label:8} IN NS    {server}." for server in servers),
        )
