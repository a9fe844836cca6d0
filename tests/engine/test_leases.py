"""Leases: how many a network needs. Checks against theory: tests/references."""

from __future__ import annotations

import datetime as dt

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
    """Source: worked by hand. 80 leave every day, 40 after half of it and 40 at its end, within the last hour each.

    Eight days hold 640 sign-outs, and the server's four hours one session's more: 40 + 640 + 40 = 720. Of 254
    addresses 214 are left: two days' 160, and 54 of a third, which are one session's 40 and 14 of the other's. The two
    end 240 min apart, and 14 people leave in 21 min: 2 days and 261 min, less the server's 240, are 2,901 min.
    """
    desk = template()
    found = need(desk, seats(desk))
    assert (found.scope_size, found.running, found.rebuilds_a_day, found.others) == (254, 40, 80, 0)
    assert (found.needed, found.at_least, found.longest_lease_minutes) == (720, 720, 2901)
    assert (found.living, found.old, found.short, found.missing) == (40, 680, True, ())


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
    # a day and the server's four hours hold two evenings' 10 and two nights' 6
    assert (found.running, found.rebuilds_a_day, found.needed) == (16, 16, 16 + 25 + 2 * 16)
    # 254 − 41 = 213 are 13 days' 208, and a night's 6 more are one too many: 13 days less the four hours
    assert found.longest_lease_minutes == 13 * 1440 - 240


def test_typed_decimals_stay_decimals():
    """Ten people, 0.1 sign-ins a day each, a lease that with its grace is a day: one old lease, not two."""
    desk = template(most=10)
    assert need(desk, seats(desk, people=10, sign_ins=0.1), lease_minutes=1200).needed == 11


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
    assert (found.needed, found.at_least, found.short) == (None, 720, True)


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


def seated(rule="sign-out", *, groups=((40, 2.0, None),), days=(), lease=60, most=40, **site):
    """The old leases of one template's desktops; the server's grace is 240 min."""
    desk = template(rule, most=most)
    people = [
        seats(desk, people=count, sign_ins=each, arrive_around=comes)
        for count, each, comes in groups
    ]
    where = f.Site(id=1, work_days=days, **site)
    return need(where, desk, *people, lease_minutes=lease).old


def test_the_seats_hours_say_when_people_leave():
    """Five hours, worked by hand: of sessions that end 4 h apart one and the whole other; 6 h apart one alone."""
    assert seated() == 80  # 08:00 to 16:00 or whenever: eight hours where nobody knows
    assert seated(work_starts=dt.time(6), work_ends=dt.time(18)) == 40
    early, late = (20, 1.0, dt.time(6)), (20, 1.0, dt.time(14))
    assert (
        seated(groups=(early, late)) == 21
    )  # they leave eight hours apart; of two crowds one is rounded up
    assert seated(groups=(early, (20, 1.0, None))) == 40  # nobody knows when the others come
    assert seated(groups=(early, late), lease=10 * 60) == 40


def test_people_in_shifts_leave_shift_by_shift():
    """90 people on 30 desktops in nine hours: 30 leave every three hours, and five hours hold 60 of them."""
    hours = {"work_starts": dt.time(8), "work_ends": dt.time(17)}
    assert seated(most=30, groups=((90, 1.0, None),), **hours) == 60


def test_five_working_days():
    """A lease of two days with its grace holds the leaving of two working days, of three over no weekend."""
    assert seated(lease=2 * 1440 - 240) == 160
    assert seated(lease=2 * 1440 - 240, days=tuple("12345")) == 160
    assert seated(lease=5 * 1440 - 240) == 400
    assert seated(lease=7 * 1440 - 240, days=tuple("12345")) == 400
    assert seated(lease=7 * 1440 - 240) == 560


def test_a_session_may_end_after_midnight():
    night = {"work_starts": dt.time(22), "work_ends": dt.time(6)}
    assert seated(days=("7",), **night) == seated(days=("7",)) == 80


def test_more_sessions_than_a_day_has_hours_are_one_stream():
    """600 people one after the other on six desktops: a hundred sessions; 300 min of 480 hold 375 and a few."""
    assert 375 <= seated(most=6, groups=((600, 1.0, None),)) <= 375 + 6


@pytest.mark.parametrize("absurd", [1e15, 1e16, float("inf"), float("nan"), -1.0])
def test_absurd_numbers_are_counted_in_no_time(absurd):
    desk = template(most=40)
    need(desk, seats(desk, sign_ins=absurd), lease_minutes=10**15)
    need(template("nightly", most=10**15), lease_minutes=10**15)


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
