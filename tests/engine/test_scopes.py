"""The DHCP range and the lease a desktop network would be given."""

from __future__ import annotations

import dataclasses
import ipaddress

import pytest
from hypothesis import HealthCheck, given, settings

from planner.engine.addresses import ipv4, scopes
from planner.plan import Plan
from planner.record import facts as f
from tests.engine.addresses_at_random import FACTS
from tests.factories import plan_of

BARE = f.Network(
    id=1,
    name="desktops",
    purpose="desktops",
    cidr="10.44.1.0/24",
    gateway="10.44.1.1",
    other_dhcp_clients=0,
)
TEMPLATE = f.Template(id=2, name="front desk", network_id=1, most=40, reset_rule="sign-out")
SEATS = f.SeatGroup(id=3, name="all", template_id=2, people=40, sign_ins_a_day=2.0)


def proposed(*records: f.Record) -> list[scopes.Scope]:
    plan = plan_of(*records)
    return list(scopes.propose(plan.facts, plan.addressing, plan.numbers))


def test_a_bare_network_gets_the_band_plans_part_and_the_longest_lease_that_fits():
    """40 desktops, 80 sign-outs a day. The band for DHCP in a /24 begins at .100: 155 addresses, so 115 old leases.
    A day's 80 and 35 of the next 40, who leave over the hour after it: a lease and the server's four hours are 24 h
    and not yet 25. Whole days fit none, whole hours 20: then there are 40 + 80 leases."""
    [one] = proposed(BARE, TEMPLATE, SEATS)
    assert (one.first, one.last, one.size) == ("10.44.1.100", "10.44.1.254", 155)
    assert (one.lease_minutes, one.needed, one.why) == (1200, 120, "")
    assert dict(one.values) == {
        "dhcp": "range",
        "dhcp_first": "10.44.1.100",
        "dhcp_last": "10.44.1.254",
        "lease_minutes": "20 h",
    }
    assert one.changes == "that it has DHCP, the range, the lease"


def test_what_stands_and_lasts_is_kept():
    network = dataclasses.replace(
        BARE, dhcp="range", dhcp_first="10.44.1.50", dhcp_last="10.44.1.250", lease_minutes=1440
    )
    [one] = proposed(network, TEMPLATE, SEATS)
    assert (one.first, one.last, one.lease_minutes, one.values) == (
        "10.44.1.50",
        "10.44.1.250",
        1440,
        (),
    )


def test_a_lease_that_is_too_long_is_shortened_and_the_range_is_kept():
    """201 addresses: 40 desktops, two days' 160 sign-outs, and one more. Two days are a lease and four hours; a person
    sets whole days: 1 day, which with its four hours holds a day's 80 and one session's 40 more."""
    network = dataclasses.replace(
        BARE, dhcp="range", dhcp_first="10.44.1.50", dhcp_last="10.44.1.250", lease_minutes=11520
    )
    [one] = proposed(network, TEMPLATE, SEATS)
    assert one.values == (("lease_minutes", "1 day"),) and one.needed == 160


def test_a_range_that_cannot_last_is_widened():
    """Ten addresses; the band's 155 hold 120 desktops and a day's 20 sign-outs, the whole subnet 200."""
    network = dataclasses.replace(
        BARE, dhcp="range", dhcp_first="10.44.1.100", dhcp_last="10.44.1.109", lease_minutes=1440
    )
    [one] = proposed(
        network, dataclasses.replace(TEMPLATE, most=120), dataclasses.replace(SEATS, people=10)
    )
    assert (one.first, one.last) == ("10.44.1.100", "10.44.1.254") and one.why == ""
    [one] = proposed(
        network, dataclasses.replace(TEMPLATE, most=200), dataclasses.replace(SEATS, people=10)
    )
    assert (one.first, one.last, one.size) == ("10.44.1.5", "10.44.1.254", 250)


def test_where_no_lease_is_short_enough_the_range_grows():
    """100 nightly desktops leave 100 old leases each night, however short the lease: 200 do not fit the band's 155."""
    nightly = dataclasses.replace(TEMPLATE, most=100, reset_rule="nightly")
    [one] = proposed(BARE, nightly)
    assert (one.first, one.last, one.size) == ("10.44.1.5", "10.44.1.254", 250)
    assert (one.needed, one.lease_minutes, one.why) == (200, 1200, "")


def test_where_no_range_is_large_enough_it_is_told():
    nightly = dataclasses.replace(TEMPLATE, most=130, reset_rule="nightly")
    [one] = proposed(BARE, nightly)
    assert one.why == (
        "even with a lease of 30 min there are 260 at the busiest moment, for 250 addresses: "
        "the desktops need a larger subnet"
    )
    assert one.values == () and one.lease_minutes is None


def test_a_subnet_that_is_too_small_is_told_and_nothing_is_offered():
    [one] = proposed(BARE, dataclasses.replace(TEMPLATE, most=400), SEATS)
    assert (
        "400 leases at once do not fit 250 addresses" in one.why
        and one.values == ()
        and one.lease_minutes is None
    )


def test_where_nothing_is_rebuilt_the_longest_lease_is_taken():
    [one] = proposed(BARE, dataclasses.replace(TEMPLATE, reset_rule="kept"))
    assert (one.lease_minutes, one.needed) == (11520, 40)


def test_a_range_goes_around_what_is_claimed():
    printer = f.Device(id=9, network_id=1, address="10.44.1.120")
    [one] = proposed(BARE, TEMPLATE, SEATS, printer)
    assert (one.first, one.last) == ("10.44.1.121", "10.44.1.254")


@pytest.mark.parametrize(
    ("network", "why"),
    [
        (dataclasses.replace(BARE, cidr=""), "its subnet is not known"),
        (dataclasses.replace(BARE, cidr="10.44.1.0/31", gateway="10.44.1.0"), ""),
    ],
)
def test_without_a_subnet_nothing_is_proposed(network, why):
    [one] = proposed(network, TEMPLATE, SEATS)
    assert (one.why == why if why else one.why) and one.values == ()


def test_what_is_missing_is_named_and_the_range_is_proposed_all_the_same():
    [one] = proposed(BARE, TEMPLATE)
    assert one.lease_minutes is None and one.missing and one.first == "10.44.1.100"
    assert "lease_minutes" not in dict(one.values)


def test_networks_that_are_not_for_desktops_are_passed_over():
    assert proposed(f.Network(id=1, name="core", purpose="management", cidr="10.0.0.0/24")) == []


@settings(
    max_examples=80,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(FACTS)
def test_a_range_that_is_offered_lies_inside_and_lasts_whatever_the_facts(facts):
    plan = Plan(facts)
    for one in plan.scopes:
        span = plan.addressing.span(one.network_id)
        if one.first and one.values:
            network = ipaddress.ip_network(span.cidr)
            first, last = ipaddress.ip_address(one.first), ipaddress.ip_address(one.last)
            assert (
                first <= last
                and first in network
                and last in network
                and one.size == int(last) - int(first) + 1
            )
        network = plan.facts.index[("network", one.network_id)]
        if ("dhcp_first", one.first) in one.values:  # a new range holds no fixed address
            assert not [n for n in span.taken if ipv4.parse(one.first) <= n <= ipv4.parse(one.last)]
        if one.lease_minutes is not None and one.values:
            changed = dataclasses.replace(
                network,
                dhcp="range",
                dhcp_first=one.first,
                dhcp_last=one.last,
                lease_minutes=one.lease_minutes,
            )
            others = tuple(changed if other.id == network.id else other for other in facts.networks)
            need = Plan(dataclasses.replace(facts, networks=others)).leases.of(network.id)
            assert not need.short
