"""Carving: what the record alone decides. Checks against libraries and brute force: tests/references."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.engine.addresses import carving, ipv4
from planner.engine.addresses.ipv4 import Block
from planner.plan import Plan
from planner.record import facts as f
from tests.engine.addresses_at_random import FACTS
from tests.factories import plan_of


def block(text: str) -> Block:
    return ipv4.parse_prefix(text)[1]


def told(found: carving.Carving) -> tuple[list[str], list[str]]:
    return [str(one) for one in found.blocks], [str(one) for one in found.free]


@pytest.mark.parametrize(
    ("count", "growth", "prefix"),
    [
        (1, 0, 30),
        (2, 0, 29),
        (5, 0, 29),
        (6, 0, 28),
        (13, 0, 28),
        (253, 0, 24),
        (254, 0, 23),
        (0, 0, 30),
        (40, 0.5, 26),
        (41, 0.5, 25),
        (10, 0.1, 28),
        (2**32 - 3, 0, 0),
        (2**32 - 2, 0, None),
    ],
)
def test_a_prefix_has_room_for_the_grown_count_and_the_gateway(count, growth, prefix):
    """Usable is the size less two: 40 machines and half as many again are 60, with the gateway 61 of a /26's 62; 41 are
    62, and one too many."""
    assert carving.prefix_for(count, growth) == prefix


def test_growth_is_rounded_up_and_exact():
    assert (
        carving.grown(41, 0.5) == 62
        and carving.grown(10, 0.1) == 11
        and carving.grown(30, 0.1) == 33
    )
    assert carving.grown(100, 0.07) == 107  # in binary 107.00000000000001


@pytest.mark.parametrize("count", [None, -1, float("nan"), float("inf"), 1e300])
def test_an_unknown_count_has_no_prefix(count):
    assert carving.prefix_for(count) is None
    assert carving.prefix_for(4, -0.5) is None


def test_what_is_held_is_left_alone_and_the_rest_is_told():
    found = carving.carve(
        block("10.44.0.0/22"), [24, 26, 25], [block("10.44.1.0/24"), block("10.44.3.128/25")]
    )
    assert told(found) == (
        ["10.44.0.0/24", "10.44.2.0/26", "10.44.3.0/25"],
        ["10.44.2.64/26", "10.44.2.128/25"],
    )
    assert found.whole


def test_small_ones_go_where_little_is_lost():
    """The /26 goes to the piece of its own size, not into the large one."""
    found = carving.carve(block("10.44.0.0/24"), [26], [block("10.44.0.0/26")])
    assert told(found) == (["10.44.0.64/26"], ["10.44.0.128/25"])


def test_what_does_not_fit_is_none_and_smaller_ones_still_find_a_place():
    found = carving.carve(block("10.44.0.0/24"), [25, 24, 25, 26])
    assert [None if one is None else str(one) for one in found.blocks] == [
        None,
        "10.44.0.0/24",
        None,
        None,
    ]
    assert not found.whole and found.free == ()
    assert carving.smallest_holding([25, 24, 25, 26]) == 22


@pytest.mark.parametrize("held", ["10.44.0.0/16", "0.0.0.0/0", "10.44.3.0/24"])
def test_a_supernet_that_somebody_has_gives_nothing(held):
    assert carving.carve(block("10.44.3.0/24"), [28], [block(held)]).blocks == (None,)


def test_the_whole_address_space_can_be_carved():
    found = carving.carve(Block(0, 0), [0])
    assert told(found) == (["0.0.0.0/0"], [])
    assert told(carving.carve(Block(0, 0), [1, 1])) == (["0.0.0.0/1", "128.0.0.0/1"], [])


def test_many_are_carved_quickly():
    found = carving.carve(
        block("10.0.0.0/8"), [24] * 2000, [block(f"10.{n}.0.0/20") for n in range(200)]
    )
    assert found.whole and len(set(found.blocks)) == 2000


def test_machines_are_counted_from_the_plan():
    plan = plan_of(
        f.Network(id=1, name="core"),
        f.Network(id=2, name="desks", other_dhcp_clients=3),
        f.Network(id=3, name="people"),
        f.Network(id=4, name="empty"),
        f.Host(id=1, network_id=1, out_of_band_address="10.0.0.9"),
        f.Host(id=2, network_id=1),
        f.Server(id=3, network_id=1),
        f.Appliance(id=4, network_id=1),
        f.Appliance(id=5, network_id=1),
        f.Service(id=6, network_id=1),
        f.Device(id=7, network_id=3),
        f.Device(id=8, network_id=99),
        f.Template(id=9, network_id=2, most=30),
        f.SeatGroup(id=10, network_id=3, people=40),
    )
    # Two hosts with a console each, a server, two appliances, the service; 30 desktops, 3 others; 40 people, a device.
    assert carving.machines_on(plan.facts, plan.leases) == {1: 8, 2: 33, 3: 41}


def test_networks_of_joined_sites_are_held_too():
    far = f.Neighbour(
        id=7, name="Harbour Lane", networks=(f.Network(id=70, name="desks", cidr="10.44.9.1/24"),)
    )
    plan = plan_of(f.Network(id=1, name="core", cidr="10.44.1.0/24"), neighbours=(far,))
    held = carving.held_by(plan.facts)
    assert [(network.name, str(one), where) for network, one, where in held] == [
        ("core", "10.44.1.0/24", ""),
        ("desks", "10.44.9.0/24", "Harbour Lane"),
    ]
    assert str(carving.likely_supernet(plan.facts)) == "10.44.0.0/16"
    assert carving.likely_supernet(plan_of(f.Network(id=1, cidr="10.0.0.0/8")).facts) is None


@settings(max_examples=60, deadline=None)
@given(FACTS, st.floats(0, 3) | st.none())
def test_nothing_raises_whatever_the_facts(facts, growth):
    plan = Plan(facts)
    counts = carving.machines_on(facts, plan.leases)
    prefixes = [carving.prefix_for(counts.get(one.id), growth or 0.0) for one in facts.networks]
    supernet = carving.likely_supernet(facts) or Block(10 << 24, 8)
    found = carving.carve(supernet, prefixes, [one for _, one, _ in carving.held_by(facts)])
    assert len(found.blocks) == len(prefixes) and all(count > 0 for count in counts.values())
