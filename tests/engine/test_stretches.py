"""A network told in rows, looked up, and given a range and a lease."""

from __future__ import annotations

import ipaddress
import itertools

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.engine.addresses import ipv4, lookup, stretches
from planner.plan import Plan
from planner.record import facts as f
from tests.engine.addresses_at_random import FACTS
from tests.factories import plan_of

NETWORK = f.Network(
    id=1,
    name="desktops",
    cidr="10.44.1.0/24",
    gateway="10.44.1.1",
    dhcp="range",
    dhcp_first="10.44.1.100",
    dhcp_last="10.44.1.199",
    dns_servers=("10.44.1.9",),
)
PRINTER = f.Device(
    id=2,
    name="printer-1",
    network_id=1,
    address="10.44.1.150",
    holding="reserved",
    mac="00:00:5e:00:53:3c",
)


def close(*records: f.Record, part: str = "") -> list[tuple[str, int, str]]:
    plan = plan_of(*records)
    span = plan.addressing.span(1)
    window = stretches.window_of(span, part)
    return [
        (one.first_text, one.count, one.kind)
        for one in stretches.close(plan.addressing, span, window)
    ]


# -- rows --------------------------------------------------------------------------------------------


def test_addresses_that_are_alike_make_one_row():
    assert close(NETWORK, PRINTER) == [
        ("10.44.1.0", 1, "unusable"),
        ("10.44.1.1", 1, "claimed"),
        ("10.44.1.2", 7, "free"),
        ("10.44.1.9", 1, "referred"),
        ("10.44.1.10", 90, "free"),
        ("10.44.1.100", 50, "leased"),
        ("10.44.1.150", 1, "claimed"),
        ("10.44.1.151", 49, "leased"),
        ("10.44.1.200", 55, "free"),
        ("10.44.1.255", 1, "unusable"),
    ]


def test_a_row_names_whoever_claims_it_but_not_thousands():
    devices = [
        f.Device(id=n, name=f"d{n}", network_id=1, address="10.44.1.50") for n in range(2, 60)
    ]
    plan = plan_of(NETWORK, *devices)
    span = plan.addressing.span(1)
    [row] = [
        one for one in stretches.close(plan.addressing, span, span.block) if len(one.claims) > 1
    ]
    assert (len(row.claims), row.more) == (stretches.MOST_CLAIMS, 58 - stretches.MOST_CLAIMS)


def test_a_16_is_told_in_parts_and_empty_ones_are_joined():
    big = f.Network(
        id=1,
        name="big",
        cidr="10.7.0.0/16",
        gateway="10.7.0.1",
        dhcp="range",
        dhcp_first="10.7.128.0",
        dhcp_last="10.7.255.254",
    )
    twice = [f.Device(id=n, network_id=1, address="10.7.40.9") for n in (2, 3)]
    plan = plan_of(big, *twice)
    span = plan.addressing.span(1)
    rows = stretches.parts(plan.addressing, span, span.block)
    told = [
        (row.first_text, row.last_text, row.taken, row.clashes, row.leased, row.free)
        for row in rows
    ]
    assert told == [
        ("10.7.0.0", "10.7.0.255", 1, 0, 0, 254),
        ("10.7.1.0", "10.7.39.255", 0, 0, 0, 39 * 256),
        ("10.7.40.0", "10.7.40.255", 1, 1, 0, 255),
        ("10.7.41.0", "10.7.127.255", 0, 0, 0, 87 * 256),
        ("10.7.128.0", "10.7.255.255", 0, 0, 128 * 256 - 1, 0),
    ]
    assert sum(row.free for row in rows) == span.free


@pytest.mark.parametrize(
    ("cidr", "typed", "window"),
    [
        ("10.7.0.0/16", "", "10.7.0.0/16"),
        ("10.7.0.0/16", "10.7.40.9", "10.7.40.0/24"),
        ("10.7.0.0/16", "10.7.40.9/30", "10.7.40.0/24"),
        ("10.7.0.0/16", "10.8.0.0", "10.7.0.0/16"),
        ("10.0.0.0/8", "10.7.3.0/16", "10.7.0.0/16"),
        ("10.0.0.0/8", "0.0.0.0/0", "10.0.0.0/8"),
        ("10.7.0.0/26", "10.7.0.9", "10.7.0.0/26"),
        ("10.7.0.0/26", "x", "10.7.0.0/26"),
    ],
)
def test_a_part_is_found_by_an_address_or_a_prefix(cidr, typed, window):
    span = plan_of(f.Network(id=1, cidr=cidr)).addressing.span(1)
    assert str(stretches.window_of(span, typed)) == window


@settings(
    max_examples=80,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(FACTS, st.sampled_from(["", "10.44.1.7", "10.44.2.0/25", "x"]))
def test_rows_tell_every_address_once_whatever_the_facts(facts, typed):
    """Every address of the window, checked one by one against ipaddress; free ones as the span counts them."""
    plan = Plan(facts)
    for span in plan.addressing.spans:
        window = stretches.window_of(span, typed)
        if window is None:
            assert stretches.parts(plan.addressing, span, ipv4.Block(0, 0)) == []
            continue
        network = ipaddress.ip_network(str(window))
        assert network.subnet_of(ipaddress.ip_network(span.cidr))
        if window.size > stretches.CLOSE:
            rows = stretches.parts(plan.addressing, span, window)
            assert (
                len(rows) <= 256
                and rows[0].block.network == window.network
                and rows[-1].last == window.end
            )
            assert all(
                before.last + 1 == row.block.network for before, row in itertools.pairwise(rows)
            )
            if window == span.block:
                assert sum(row.free for row in rows) == span.free
                assert sum(row.taken for row in rows) == len(span.taken)
            continue
        rows = stretches.close(plan.addressing, span, window)
        told = [address for row in rows for address in range(row.first, row.last + 1)]
        assert told == [int(address) for address in network]
        if window == span.block:
            assert sum(row.count for row in rows if row.kind == "free") == span.free


# -- looking up --------------------------------------------------------------------------------------

HOST = f.Host(
    id=3,
    name="mill-h1",
    network_id=1,
    address="10.44.1.11",
    out_of_band_address="10.44.1.21",
    mac="00:00:5e:00:53:0b",
    ipv6_address="2001:db8:44:1::11",
)
MILL = ["10.44.1.11", "10.44.1.21", "2001:db8:44:1::11"]
ELSEWHERE = f.Network(id=4, name="Storage", cidr="10.45.0.0/28", gateway="10.45.0.1")


@pytest.mark.parametrize(
    ("text", "addresses"),
    [
        ("mill", MILL),
        ("MILL-H1", MILL),
        ("10.44.1.1", ["10.44.1.1", "10.44.1.11", "10.44.1.150"]),
        ("10.44.1.8/29", ["10.44.1.11"]),
        ("10.44.1.128/25", ["10.44.1.150"]),
        ("2001:db8::/32", ["2001:db8:44:1::11"]),
        ("::/0", ["2001:db8:44:1::11"]),
        ("0.0.0.0/0", ["10.44.1.1", "10.44.1.11", "10.44.1.21", "10.44.1.150", "10.45.0.1"]),
        ("00-00-5E-00-53-3C", ["10.44.1.150"]),
        ("0000.5e00.533c", ["10.44.1.150"]),
        ("00:53:0b", MILL),
        ("storage", ["10.45.0.1"]),
        ("nobody", []),
        ("10.44.1.0/99", []),
        ("  ", None),
    ],
)
def test_a_name_an_address_a_subnet_or_a_mac_finds_its_claims(text, addresses):
    plan = plan_of(NETWORK, PRINTER, HOST, ELSEWHERE)
    found = lookup.find(plan.facts, plan.addressing, text)
    assert len(found) == 6 if addresses is None else [claim.text for claim in found] == addresses


@pytest.mark.parametrize(
    ("text", "kind", "network"),
    [
        ("10.44.1.11", "claimed", "desktops"),
        ("10.44.1.9", "referred", "desktops"),
        ("10.44.1.120", "leased", "desktops"),
        ("10.44.1.50", "free", "desktops"),
        ("10.44.1.255", "unusable", "desktops"),
        ("10.45.0.9", "free", "Storage"),
        ("192.0.2.1", "nowhere", None),
    ],
)
def test_one_address_is_told(text, kind, network):
    spot = lookup.at(plan_of(NETWORK, PRINTER, HOST, ELSEWHERE).addressing, text)
    assert (spot.kind, spot.span.name if spot.span else None, spot.text) == (kind, network, text)


def test_what_is_no_address_is_nowhere():
    assert lookup.at(plan_of(NETWORK).addressing, "10.44.1") is None


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(
    FACTS,
    st.text(max_size=30) | st.sampled_from(["10.44.0.0/16", "::/0", "%s", "[", "00:00:5e", "İ"]),
)
def test_looking_up_never_raises(facts, text):
    plan = Plan(facts)
    assert set(lookup.find(facts, plan.addressing, text)) <= {
        *plan.addressing.claims,
        *plan.addressing.ipv6,
    }
    lookup.at(plan.addressing, text)
