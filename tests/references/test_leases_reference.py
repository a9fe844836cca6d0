"""Leases against Little's law, a lease table kept by hand, and RFC 2131's times."""

from __future__ import annotations

import heapq

import pytest

from planner.record import facts as f
from tests.factories import plan_of


def need(people, sign_ins, lease_minutes, others=0, most=40):
    network = f.Network(
        id=1,
        cidr="10.44.0.0/16",
        dhcp="range",
        dhcp_first="10.44.0.1",
        dhcp_last="10.44.0.254",
        lease_minutes=lease_minutes,
        other_dhcp_clients=others,
    )
    template = f.Template(id=2, network_id=1, most=most, reset_rule="sign-out")
    group = f.SeatGroup(id=3, template_id=2, people=people, sign_ins_a_day=float(sign_ins))
    return plan_of(network, template, group).leases.of(1)


def leases_held(rebuilds_a_day: int, lease_minutes: int, most: int, others: int, days: int) -> int:
    """A DHCP server's table, kept event by event: the most leases it holds at once after it has settled.

    Rebuilds come evenly through the day. Each gives a desktop a new MAC address and so a new lease, and
    leaves the old one, renewed at its very end, to run out a whole lease later. Desktops that run and
    other clients renew in time and hold one lease each.
    """
    ends: list[float] = []
    worst = 0
    for number in range(rebuilds_a_day * days):
        now = number * 1440 / rebuilds_a_day
        while ends and ends[0] <= now:
            heapq.heappop(ends)
        heapq.heappush(ends, now + lease_minutes)
        worst = max(worst, len(ends))
    return worst + most + others


@pytest.mark.parametrize(
    ("people", "sign_ins", "lease_days", "others"),
    [(40, 2, 8, 0), (40, 2, 2, 0), (25, 3, 1, 30), (8, 1, 14, 5)],
)
def test_a_lease_table_holds_as_many(people, sign_ins, lease_days, others):
    """Source: J. D. C. Little, A Proof for the Queuing Formula L = λW, Operations Research 9(3), 1961, 383-387."""
    wanted = leases_held(people * sign_ins, lease_days * 1440, 40, others, days=3 * lease_days + 1)
    assert need(people, sign_ins, lease_days * 1440, others).needed == wanted


def test_the_longest_lease_just_fits_a_lease_table():
    """254 addresses, 40 desktops, 80 sign-outs a day: 2.67 days; a few minutes more overflow it."""
    longest = need(40, 2, 1440).longest_lease_minutes
    assert longest / 1440 == pytest.approx(2.675, abs=0.001)
    assert leases_held(80, longest, 40, 0, days=12) == 254
    assert leases_held(80, longest + 20, 40, 0, days=12) > 254  # a rebuild comes every 18 minutes


@pytest.mark.parametrize(
    ("lease", "renew", "rebind"), [(120, 60, 105), (1440, 720, 1260), (8 * 1440, 5760, 10080)]
)
def test_when_clients_renew(lease, renew, rebind):
    """Source: RFC 2131 §4.4.5: T1 is 0.5 and T2 is 0.875 of the lease unless the server says otherwise."""
    found = need(40, 2, lease)
    assert (found.t1_minutes, found.t2_minutes) == (renew, rebind)
