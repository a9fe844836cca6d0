"""Carving against a published worked example, every possible carving of small supernets, and two libraries."""

from __future__ import annotations

import ipaddress
import itertools

import netaddr
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from planner.engine.addresses import carving, ipv4
from planner.engine.addresses.ipv4 import Block

# Source: Cisco, IP Addressing and Subnetting for New Users (document 13788, number from memory), "VLSM Example".
# One class C network, five subnets. The addresses are moved to a documentation prefix; last octets, lengths and
# hosts are the example's own. Its hosts are all that a subnet has to hold, the router's address among them.
WORKED = {
    "A": (14, "192.0.2.64/28"),
    "B": (28, "192.0.2.0/27"),
    "C": (2, "192.0.2.96/30"),
    "D": (7, "192.0.2.80/28"),
    "E": (28, "192.0.2.32/27"),
}


def test_the_published_example():
    supernet = ipv4.parse_prefix("192.0.2.0/24")[1]
    prefixes = [
        carving.prefix_for(hosts - 1) for hosts, _ in WORKED.values()
    ]  # the gateway is added
    found = carving.carve(supernet, prefixes)
    assert [str(block) for block in found.blocks] == [subnet for _, subnet in WORKED.values()]


# -- every possible carving --------------------------------------------------------------------------


def possible(size: int, sizes: tuple[int, ...], taken: frozenset[int] = frozenset()) -> bool:
    """Whether aligned pieces of these sizes fit into ``size`` addresses: every place is tried for each."""
    if not sizes:
        return True
    first, rest = sizes[0], sizes[1:]
    for start in range(0, size, first):
        cells = set(range(start, start + first))
        if (
            first <= size
            and start + first <= size
            and not cells & taken
            and possible(size, rest, taken | cells)
        ):
            return True
    return False


def test_it_succeeds_whenever_any_carving_does():
    """Sixteen addresses, every set of up to four subnets, with every pair of held blocks out of a few."""
    held = [Block(0, 30), Block(4, 32), Block(6, 31), Block(9, 32), Block(8, 29), Block(15, 32)]
    base = 10 << 24
    tried = failed = 0
    for pair in itertools.combinations(held, 2):
        blocks = [Block(base + one.network, one.prefix) for one in pair]
        taken = frozenset(cell - base for one in blocks for cell in range(one.network, one.end + 1))
        for count in range(1, 5):
            for sizes in itertools.combinations_with_replacement((1, 2, 4, 8, 16), count):
                prefixes = [33 - size.bit_length() for size in sizes]
                found = carving.carve(Block(base, 28), prefixes, blocks)
                assert found.whole == possible(16, sizes, taken), (sizes, pair)
                tried, failed = tried + 1, failed + (not found.whole)
    assert tried == 15 * 125 and 200 < failed < tried


PREFIXES = st.lists(st.integers(18, 32), max_size=12)
HELD = st.lists(st.tuples(st.integers(0, 2**16 - 1), st.integers(17, 32)), max_size=6)


def carved(
    prefixes: list[int], held: list[tuple[int, int]]
) -> tuple[Block, list[Block], carving.Carving]:
    supernet = ipv4.parse_prefix("10.44.0.0/18")[1]
    blocks = [
        ipv4.parse_prefix(f"{ipv4.to_text((10 << 24 | 44 << 16) + low)}/{prefix}")[1]
        for low, prefix in held
    ]
    return supernet, blocks, carving.carve(supernet, prefixes, blocks)


@settings(max_examples=200, deadline=None)
@given(PREFIXES, HELD)
@example([18], [])
@example([32, 18], [(0, 32)])
def test_pieces_and_remains_are_as_netaddr_counts_them(prefixes, held):
    supernet, blocks, found = carved(prefixes, held)
    parts = [one for one in found.blocks if one]
    everything = netaddr.IPSet([str(supernet)])
    others = netaddr.IPSet([str(one) for one in blocks])
    used = netaddr.IPSet([str(one) for one in parts])
    assert used.size == sum(one.size for one in parts)  # no two share an address
    assert used.issubset(everything) and used.isdisjoint(others)
    assert [one.prefix for one in found.blocks if one] == [
        p for p, b in zip(prefixes, found.blocks, strict=True) if b
    ]
    remains = [str(one) for one in found.free]
    assert remains == [str(one) for one in (everything - used - others).iter_cidrs()]


@settings(max_examples=100, deadline=None)
@given(HELD)
def test_free_pieces_are_as_ipaddress_leaves_them(held):
    """One held block after the other taken out with ``address_exclude``, the rest collapsed."""
    supernet, blocks, found = carved([], held)
    left = [ipaddress.ip_network(str(supernet))]
    for block in (ipaddress.ip_network(str(one)) for one in blocks):
        left = [
            piece
            for one in left
            for piece in (
                one.address_exclude(block)
                if block.subnet_of(one)
                else []
                if one.subnet_of(block)
                else [one]
            )
        ]
    assert [str(one) for one in found.free] == [
        str(one) for one in ipaddress.collapse_addresses(left)
    ]


@settings(max_examples=100, deadline=None)
@given(PREFIXES)
def test_without_anything_held_it_fits_when_the_sizes_add_up(prefixes):
    """Kraft's inequality (McMillan 1956): lengths fit a binary tree when the sum of 2^-length is at most one."""
    supernet, _, found = carved(prefixes, [])
    assert found.whole == (sum(1 << 32 - prefix for prefix in prefixes) <= supernet.size)
    if prefixes:
        least = carving.smallest_holding(prefixes)
        assert carving.carve(Block(0, least), prefixes).whole
        assert least == 32 or not carving.carve(Block(0, least + 1), prefixes).whole


@pytest.mark.parametrize("prefix", range(16, 31))
def test_room_is_what_ipaddress_counts(prefix):
    hosts = ipaddress.ip_network(f"10.0.0.0/{prefix}").num_addresses - 2
    assert carving.prefix_for(hosts - 1) == prefix  # full to the last address, the gateway counted
    assert carving.prefix_for(hosts) == prefix - 1
