"""Leases: how many a network needs. Checks against theory: tests/references."""

from __future__ import annotations

import pytest

from planner.engine.addresses.leases import rebuilds_a_day, sensible_lease
from planner.record import facts as f
from tests.factories import make, plan_of

NETWORK = {
    "id": 1,
    "name": "desktops",
    "cidr": "10.44.1.0/24",
    "dhcp": "range",
    "dhcp_first": "10.44.1.1",
    "dhcp_last": "10.44.1.254",
    "lease_minutes": 8 * 1440,
    "other_dhcp_clients": 0,
}


def need(*records, **values):
    return plan_of(f.Network(**{**NETWORK, **values}), *records).leases.of(1)


def template(rule="sign-out", most=40, **values):
    return make(f.Template, network_id=1, most=most, reset_rule=rule, **values)


def seats(of, people=40, sign_ins=2.0, **values):
    return make(f.SeatGroup, template_id=of.id, people=people, sign_ins_a_day=sign_ins, **values)


def test_the_worked_example():
    """Source: worked by hand. 40 + 80 × 8 = 680; (254 − 40) ÷ 80 = 2.675 days = 3,852 minutes."""
    desk = template()
    found = need(desk, seats(desk))
    assert (found.scope_size, found.running, found.rebuilds_a_day, found.others) == (254, 40, 80, 0)
    assert (found.needed, found.at_least, found.longest_lease_minutes) == (680, 680, 3852)
    assert found.short and found.missing == ()


@pytest.mark.parametrize(
    ("rule", "wanted"), [("kept", 0), ("nightly", 35), ("weekly", 5), ("", None)]
)
def test_rebuilds_by_reset_rule(rule, wanted):
    assert rebuilds_a_day(template(rule, most=35), []) == wanted


def test_people_in_shifts_all_sign_in():
    desk = template()
    groups = [
        seats(desk, people=60, sign_ins=1.0, share_at_once=0.33),
        seats(desk, people=5, sign_ins=3.0),
    ]
    assert rebuilds_a_day(desk, groups) == 75


def test_several_templates_and_others_add_up():
    desk, lab = template(most=10), template("nightly", most=6)
    found = need(
        desk, lab, seats(desk, people=10, sign_ins=1.0), other_dhcp_clients=25, lease_minutes=1440
    )
    assert (found.running, found.rebuilds_a_day, found.needed) == (16, 16, 16 + 16 + 25)
    # (254 − 41) ÷ 16 = 13.3125 days = 19,170 minutes
    assert found.longest_lease_minutes == 19170


def test_typed_decimals_stay_decimals():
    """Ten people, 0.1 sign-ins a day each, a lease of one day: exactly one dead lease, not two."""
    desk = template(most=10)
    assert need(desk, seats(desk, people=10, sign_ins=0.1), lease_minutes=1440).needed == 11


def test_what_is_missing_is_said_and_nothing_is_made_up():
    desk = template(most=None, name="front desk")
    group = seats(desk, sign_ins=None, name="Reception")
    found = need(desk, group, lease_minutes=None, other_dhcp_clients=None)
    assert (found.needed, found.running, found.rebuilds_a_day, found.others) == (
        None,
        None,
        None,
        None,
    )
    assert (found.longest_lease_minutes, found.t1_minutes, found.t2_minutes) == (None, None, None)
    assert set(found.missing_at) == {
        desk.ref.at("most"),
        group.ref.at("sign_ins_a_day"),
        f.Ref("network", 1, "other_dhcp_clients"),
        f.Ref("network", 1, "lease_minutes"),
    }
    assert "the sign-ins a day of Reception" in found.missing
    assert need(template()).missing_at[0].kind == "template"  # nobody uses it


def test_too_few_already_with_half_the_facts():
    desk = template()
    found = need(desk, seats(desk), other_dhcp_clients=None)
    assert (found.needed, found.at_least, found.short) == (None, 680, True)


def test_kept_desktops_fit_with_any_lease():
    found = need(template("kept"), lease_minutes=None)
    assert (found.needed, found.any_lease_fits, found.longest_lease_minutes, found.missing) == (
        40,
        True,
        None,
        (),
    )


def test_no_lease_is_short_enough():
    found = need(template("nightly", most=300))
    assert (found.longest_lease_minutes, found.any_lease_fits, found.short) == (0, False, True)


def test_the_scope_counts_what_machines_may_have():
    assert need(dhcp_first="10.44.1.0", dhcp_last="10.44.2.9").scope_size == 254
    assert need(dhcp_first="10.44.1.9", dhcp_last="10.44.1.1").scope_size is None
    assert need(dhcp_last="").scope_size is None


def test_only_networks_that_lease_are_listed():
    plan = plan_of(
        f.Network(id=1, dhcp="none"), f.Network(id=2, dhcp="range"), make(f.Template, network_id=3)
    )
    assert [one.network_id for one in plan.leases.by_network] == [2]
    assert plan.leases.of(None) is None and plan.leases.of(1) is None


@pytest.mark.parametrize(
    ("longest", "wanted"),
    [
        (3852, 2880),
        (1440, 1440),
        (1439, 23 * 60),
        (60, 60),
        (59, 50),
        (30, 30),
        (29, None),
        (0, None),
        (None, None),
    ],
)
def test_a_lease_that_a_person_would_set(longest, wanted):
    assert sensible_lease(longest, 30) == wanted
