"""Addressing against the standards' tables, Python's ipaddress and netaddr."""

from __future__ import annotations

import ipaddress
import re
from collections import Counter

import netaddr
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from planner.engine.addresses import ipv4, special_ranges
from planner.engine.addresses.addressing import next_free
from planner.engine.addresses.ipv4 import Block
from planner.record import facts as f
from tests.factories import make, plan_of

ADDRESSES = st.integers(0, 2**32 - 1)
BLOCKS = st.builds(
    lambda address, prefix: ipv4.parse_prefix(f"{ipv4.to_text(address)}/{prefix}")[1],
    ADDRESSES,
    st.integers(0, 32),
)


# -- Reading and writing --------------------------------------------------------------------------


@given(ADDRESSES)
def test_addresses_are_written_as_the_libraries_write_them(address):
    text = ipv4.to_text(address)
    assert text == str(ipaddress.IPv4Address(address)) == str(netaddr.IPAddress(address, 4))
    assert ipv4.parse(text) == address


OCTET = st.sampled_from(
    ["0", "1", "00", "01", "255", "256", "-1", "+1", "", " 1", "1 ", "a", "1e1", "0x1", "١", "999"]
)
TYPED = st.lists(OCTET, min_size=1, max_size=6).map(".".join) | st.text(
    alphabet="0123456789./ ", max_size=18
)


@given(TYPED)
@example("1.2.3.4\n")
def test_texts_are_addresses_when_ipaddress_says_so(text):
    try:
        wanted = int(ipaddress.IPv4Address(text))
    except ValueError:
        wanted = None
    assert ipv4.parse(text) == wanted


@given(TYPED, st.sampled_from(["0", "8", "24", "32", "33", "-1", "", "08", " 24"]))
def test_prefixes_are_read_as_ipaddress_reads_them(head, tail):
    try:
        wanted = (
            ipaddress.IPv4Interface(f"{head}/{tail}") if re.fullmatch("[1-9]?[0-9]", tail) else None
        )
    except ValueError:
        wanted = None
    found = ipv4.parse_prefix(f"{head}/{tail}")
    if wanted is None:
        assert found is None
    else:
        network = wanted.network
        assert found == (int(wanted.ip), Block(int(network.network_address), network.prefixlen))


# -- Sizes and ends -------------------------------------------------------------------------------

# Source: RFC 1878, the table of masks before its section on subnets ("master table"): prefix, mask, addresses
# (M and K are 2**20 and 2**10). Its table 1-1 is not used: it gives N.N.254.255 as the last broadcast address of a
# class B network, and 253 hosts in a /24.
MASTER = """
/1 128.0.0.0 2048M, /2 192.0.0.0 1024M, /3 224.0.0.0 512M, /4 240.0.0.0 256M, /5 248.0.0.0 128M, /6 252.0.0.0 64M,
/7 254.0.0.0 32M, /8 255.0.0.0 16M, /9 255.128.0.0 8M, /10 255.192.0.0 4M, /11 255.224.0.0 2M, /12 255.240.0.0 1024K,
/13 255.248.0.0 512K, /14 255.252.0.0 256K, /15 255.254.0.0 128K, /16 255.255.0.0 64K, /17 255.255.128.0 32K,
/18 255.255.192.0 16K, /19 255.255.224.0 8K, /20 255.255.240.0 4K, /21 255.255.248.0 2K, /22 255.255.252.0 1K,
/23 255.255.254.0 512, /24 255.255.255.0 256, /25 255.255.255.128 128, /26 255.255.255.192 64,
/27 255.255.255.224 32, /28 255.255.255.240 16, /29 255.255.255.248 8, /30 255.255.255.252 4, /31 255.255.255.254 2
"""
UNITS = {"": 1, "K": 2**10, "M": 2**20}
ROWS = re.findall(r"/(\d+) ([\d.]+) (\d+)([KM]?)", MASTER)


@pytest.mark.parametrize(("prefix", "mask", "count", "unit"), ROWS)
def test_the_master_table(prefix, mask, count, unit):
    """Addresses a prefix, and the mask: the lowest address of the highest block of that length."""
    block = ipv4.parse_prefix(f"255.255.255.255/{prefix}")[1]
    assert ipv4.to_text(block.network) == mask
    assert block.size == int(count) * UNITS[unit]
    if int(prefix) <= 30:
        assert block.usable == block.size - 2


def test_the_master_table_is_whole():
    assert [int(row[0]) for row in ROWS] == list(range(1, 32))


# Source: RFC 1878 table 1-2: last octets of a class C network: prefix, hosts a subnet, subnet, first, last, broadcast.
CLASS_C = [
    (25, 126, 0, 1, 126, 127),
    (25, 126, 128, 129, 254, 255),
    (26, 62, 64, 65, 126, 127),
    (26, 62, 192, 193, 254, 255),
    (27, 30, 96, 97, 126, 127),
    (27, 30, 224, 225, 254, 255),
    (28, 14, 112, 113, 126, 127),
    (28, 14, 240, 241, 254, 255),
    (29, 6, 56, 57, 62, 63),
    (29, 6, 248, 249, 254, 255),
    (30, 2, 4, 5, 6, 7),
    (30, 2, 252, 253, 254, 255),
]


@pytest.mark.parametrize(("prefix", "hosts", "subnet", "first", "last", "broadcast"), CLASS_C)
def test_class_c_subnets(prefix, hosts, subnet, first, last, broadcast):
    span = plan_of(f.Network(id=1, cidr=f"192.168.7.{subnet}/{prefix}")).addressing.span(1)
    ends = (span.network_address, span.first, span.last, span.broadcast)
    assert ends == tuple(f"192.168.7.{octet}" for octet in (subnet, first, last, broadcast))
    assert span.usable == hosts


@given(BLOCKS)
@example(Block(0, 0))
@example(Block(2**32 - 1, 32))
@example(Block(2**32 - 2, 31))
def test_blocks_agree_with_both_libraries(block):
    """Source of /31 and /32: RFC 3021 §2.1; both libraries follow it. ``first`` and ``last`` as netaddr has them."""
    network, other = ipaddress.IPv4Network(str(block)), netaddr.IPNetwork(str(block))
    assert (block.network, block.end, block.size) == (
        other.first,
        other.last,
        network.num_addresses,
    )
    assert block.broadcast == (None if other.broadcast is None else int(other.broadcast))
    if network.prefixlen >= 20:
        hosts = [int(address) for address in network.hosts()]
        assert (block.first, block.last, block.usable) == (hosts[0], hosts[-1], len(hosts))


@given(BLOCKS, BLOCKS, ADDRESSES)
def test_holding_agrees_with_ipaddress(one, other, address):
    network = ipaddress.IPv4Network(str(one))
    assert one.holds(other) == ipaddress.IPv4Network(str(other)).subnet_of(network)
    assert (address in one) == (ipaddress.IPv4Address(address) in network)


# -- Special ranges -------------------------------------------------------------------------------

# Source: IANA IPv4 Special-Purpose Address Registry (RFC 6890), blocks that are not globally reachable, as
# transcribed from the registry's page in August 2026.
REGISTRY = [
    "0.0.0.0/8",
    "0.0.0.0/32",
    "10.0.0.0/8",
    "100.64.0.0/10",
    "127.0.0.0/8",
    "169.254.0.0/16",
    "172.16.0.0/12",
    "192.0.0.0/24",
    "192.0.0.0/29",
    "192.0.0.8/32",
    "192.0.0.170/32",
    "192.0.0.171/32",
    "192.0.2.0/24",
    "192.88.99.2/32",
    "192.168.0.0/16",
    "198.18.0.0/15",
    "198.51.100.0/24",
    "203.0.113.0/24",
    "240.0.0.0/4",
    "255.255.255.255/32",
]


@pytest.mark.parametrize("text", REGISTRY)
def test_the_registrys_ranges_are_all_known(text):
    assert special_ranges.of_block(ipv4.parse_prefix(text)[1]) is not None


def test_no_range_is_invented():
    """Beside the registry's: multicast (RFC 5771), and the relay range of RFC 6890, withdrawn by RFC 7526."""
    whole = netaddr.IPSet([*REGISTRY, "224.0.0.0/4", "192.88.99.0/24"])
    assert netaddr.IPSet([str(one.block) for one in special_ranges.listed()]) == whole


def test_special_ranges_as_netaddr_has_them():
    for network in netaddr.ip.IPV4_NOT_GLOBALLY_REACHABLE:
        assert special_ranges.of_block(Block(network.first, network.prefixlen)) is not None
    private = {str(one.block) for one in special_ranges.listed() if one.private}
    assert private == {str(network) for network in netaddr.ip.IPV4_PRIVATE_USE}


@pytest.mark.parametrize(
    ("text", "private"),
    # Source: RFC 1918 §3: the first and the last address of each range, and their neighbours
    [
        ("10.0.0.0", True),
        ("10.255.255.255", True),
        ("9.255.255.255", False),
        ("11.0.0.0", False),
        ("172.16.0.0", True),
        ("172.31.255.255", True),
        ("172.15.255.255", False),
        ("172.32.0.0", False),
        ("192.168.0.0", True),
        ("192.168.255.255", True),
        ("192.167.255.255", False),
        ("192.169.0.0", False),
    ],
)
def test_private_is_rfc_1918(text, private):
    found = special_ranges.of_address(ipv4.parse(text))
    assert bool(found and found.private) == private


@pytest.mark.parametrize("text", ["192.0.2.1", "198.18.0.1", "203.0.113.9", "240.0.0.1"])
def test_pythons_private_is_wider(text):
    """The trap: ipaddress calls these private; RFC 1918 does not, and neither do we."""
    assert ipaddress.IPv4Address(text).is_private
    assert not special_ranges.of_address(ipv4.parse(text)).private


@given(ADDRESSES)
def test_the_most_specific_range_is_found(address):
    holding = [
        one
        for one in special_ranges.listed()
        if ipaddress.IPv4Address(address) in ipaddress.IPv4Network(str(one.block))
    ]
    wanted = max(holding, key=lambda one: one.block.prefix, default=None)
    assert special_ranges.of_address(address) is wanted


# -- Claims, free addresses, overlaps -------------------------------------------------------------


def near(block: Block) -> st.SearchStrategy[str]:
    """Addresses in and just around a block."""
    low, high = max(block.network - 2, 0), min(block.end + 2, 2**32 - 1)
    return st.integers(low, high).map(ipv4.to_text)


@st.composite
def small_sites(draw):
    prefix = draw(st.integers(25, 32))
    block = Block(ipv4.parse("10.44.1.0"), prefix)
    network = f.Network(
        id=1,
        cidr=str(block),
        gateway=draw(st.just("") | near(block)),
        dhcp=draw(st.sampled_from(["none", "range"])),
        dhcp_first=draw(near(block)),
        dhcp_last=draw(near(block)),
        dns_servers=tuple(draw(st.lists(near(block), max_size=2))),
    )
    records = [
        make(f.Device, name="d", network_id=1, address=text)
        for text in draw(st.lists(near(block), max_size=20))
    ]
    return network, records


@settings(deadline=None)
@given(small_sites())
def test_free_addresses_as_netaddr_counts_them(site):
    """The subnet's usable addresses, less claims, references and the DHCP range, as a set."""
    network, records = site
    span = plan_of(network, *records).addressing.span(1)
    free = netaddr.IPSet(netaddr.IPNetwork(network.cidr).iter_hosts())
    free -= netaddr.IPSet(
        filter(None, [network.gateway, *network.dns_servers, *(one.address for one in records)])
    )
    first, last = netaddr.IPAddress(network.dhcp_first), netaddr.IPAddress(network.dhcp_last)
    leased = netaddr.IPSet()
    if network.dhcp == "range" and first <= last:
        leased = netaddr.IPSet(netaddr.IPRange(first, last))
    assert span.free == len(free - leased)
    runs = netaddr.IPSet()
    for low, high in span.free_runs:
        runs.add(netaddr.IPRange(ipv4.to_text(low), ipv4.to_text(high)))
    assert runs == free - leased
    assert span.dhcp_size == len(
        leased & netaddr.IPSet(netaddr.IPNetwork(network.cidr).iter_hosts())
    )
    left = free - leased
    found = plan_of(network, *records).addressing
    of_gateway = next_free(found, 1, "gateway")
    assert (of_gateway in left) if of_gateway else not left
    stands = bool(network.gateway) and network.gateway in netaddr.IPSet(
        netaddr.IPNetwork(network.cidr).iter_hosts()
    )
    if of_gateway and not stands and not network.cidr.endswith("/32"):
        left -= netaddr.IPSet([of_gateway])  # kept for the gateway that nobody has written down
    for role in ("host", "device"):
        proposed = next_free(found, 1, role)
        assert (proposed in left) if proposed else not left


@settings(deadline=None)
@given(small_sites())
def test_clashes_as_a_count_finds_them(site):
    network, records = site
    found = plan_of(network, *records).addressing
    counted = Counter(filter(None, [network.gateway, *(record.address for record in records)]))
    assert {clash.text: len(clash.claims) for clash in found.clashes} == {
        t: n for t, n in counted.items() if n > 1
    }
    subnet = ipaddress.IPv4Network(network.cidr)
    outside = sum(n for text, n in counted.items() if ipaddress.IPv4Address(text) not in subnet)
    assert sum(problem.kind == "outside" for problem in found.problems) == outside


def subnet(offset: int, prefix: int) -> ipaddress.IPv4Network:
    """A subnet somewhere in 10.44.0.0/22 or around it."""
    return ipaddress.IPv4Network((ipv4.parse("10.44.0.0") + offset, prefix), strict=False)


@given(st.lists(st.builds(subnet, st.integers(0, 1023), st.integers(20, 32)), max_size=8))
def test_overlaps_as_ipaddress_finds_them(subnets):
    """Each network is told once, with the smallest that holds it; of equal ones the later holds none."""
    networks = [f.Network(id=number, cidr=str(one)) for number, one in enumerate(subnets)]
    wanted = {}
    for number, inner in enumerate(subnets):
        holders = [
            outer
            for at, outer in enumerate(subnets)
            if inner.subnet_of(outer) and (outer != inner or at < number)
        ]
        if holders:
            wanted[number] = max(holders, key=lambda outer: outer.prefixlen)
    found = plan_of(*networks).addressing.overlaps
    assert {one.inner.network_id: ipaddress.IPv4Network(one.outer.cidr) for one in found} == wanted
    assert len(found) == len(wanted)


@given(st.integers(0, 2**128 - 1))
def test_ipv6_in_its_short_form(number):
    """Source: RFC 5952, as netaddr and ipaddress write it."""
    text = str(netaddr.IPAddress(number, 6).format(netaddr.ipv6_full))
    one, other = f.Host(id=1, ipv6_address=text), f.Device(id=2, ipv6_address=text.upper())
    found = plan_of(one, other).addressing
    assert {claim.text for claim in found.ipv6} == {str(ipaddress.IPv6Address(number))}
    assert len(found.ipv6_clashes) == 1
    theirs = str(netaddr.IPAddress(number, 6))
    if "." not in theirs:  # of some it writes the last half as an IPv4 address
        assert found.ipv6[0].text == theirs


@given(ADDRESSES, st.integers(0, 32))
def test_the_most_specific_range_that_holds_a_whole_block_is_found(address, prefix):
    """Python's own ipaddress says which ranges hold the block."""
    network = ipaddress.IPv4Network((address, prefix), strict=False)
    holding = [
        one
        for one in special_ranges.listed()
        if network.subnet_of(ipaddress.IPv4Network(str(one.block)))
    ]
    wanted = max(holding, key=lambda one: one.block.prefix, default=None)
    assert special_ranges.of_block(Block(int(network.network_address), prefix)) is wanted
