"""Leases against clients and a server played event by event, the worked cases, and RFC 2131's times."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
import random

import pytest

from planner.engine.addresses import ipv4
from planner.record import facts as f
from tests.factories import plan_of
from tests.references import leases_model as model
from tests.references.leases_model import DAY, HOUR, MINUTE, Crowd, Place, Pool
from tests.shares import share

NO_GRACE = f.Assumed(scope="site", key="lease.grace-minutes", value=0, origin="measured")


def network(lease: int | None, **values) -> f.Network:
    found = {
        "id": 1,
        "cidr": "10.44.0.0/16",
        "purpose": "desktops",
        "dhcp": "range",
        "dhcp_first": "10.44.0.1",
        "dhcp_last": "10.44.0.254",
        "lease_minutes": lease,
        "other_dhcp_clients": 0,
    }
    return f.Network(**{**found, **values})


def need(rule: str, most: int, lease: int, sign_ins: float = 2.0, *, days=(), size=254, grace=0):
    last = ipv4.to_text(ipv4.parse("10.44.0.0") + size)
    number = dataclasses.replace(NO_GRACE, value=grace)
    records = (
        f.Site(id=1, work_days=days),
        network(lease, dhcp_last=last),
        f.Template(id=2, network_id=1, most=most, reset_rule=rule),
        f.SeatGroup(id=3, template_id=2, people=most, sign_ins_a_day=sign_ins),
    )
    return plan_of(*records, assumed=(number,)).leases.of(1)


# rule, most, lease in minutes, what the range holds, the most leases that were held when it was played
PLAYED = [
    ("nightly", 100, 12 * 60, 150, 200),
    ("nightly", 100, 4 * 60, 120, 200),
    ("nightly", 60, 8 * 60, 80, 120),
    ("weekly", 60, 1440, 80, 120),
    ("weekly", 60, 8 * 60, 64, 120),
    ("sign-out", 40, 4 * 60, 60, 80),
    ("sign-out", 40, 12 * 60, 100, 120),
    ("sign-out", 40, 3852, 254, 280),
]


@pytest.mark.parametrize(("rule", "most", "lease", "size", "peak"), PLAYED)
def test_the_busiest_moment_of_sites_that_were_played(rule, most, lease, size, peak):
    """Source: played by an independent model of RFC 2131's clients, hosts unknown, no grace. All were said to fit."""
    found = need(rule, most, lease, size=size)
    assert (found.needed, found.short) == (peak, True)
    crowds = [Crowd(most, 2 * most)] if rule == "sign-out" else []
    assert model.busiest(Place([Pool(rule, most, crowds)], lease * MINUTE)) == peak


def test_eight_days_of_five_working_days():
    """Played 490 where the average says 680; six working days lie within eight: 40 + 6 × 80 = 520 at worst."""
    assert need("sign-out", 40, 8 * 1440, days=("1", "2", "3", "4", "5")).needed == 520
    assert need("sign-out", 40, 8 * 1440).needed == 680  # nobody wrote down that they rest


def test_a_grace_lengthens_the_life_of_an_old_lease():
    """A lease of a day and four hours more: in the second night the first night's leases are still held."""
    assert need("nightly", 100, 1440).needed == 200
    assert need("nightly", 100, 1440, grace=240).needed == 300


# -- random sites ------------------------------------------------------------------------------------


@dataclasses.dataclass
class Sample:
    """One site twice: as a plan's records and numbers, and as the model takes it."""

    records: list[f.Record]
    assumed: tuple[f.Assumed, ...]
    place: Place

    def plan(self, *changed: f.Record):
        by_kind = {(record.kind, record.id): record for record in (*self.records, *changed)}
        return plan_of(*by_kind.values(), assumed=self.assumed)


def sample(seed: int) -> Sample:
    pick = random.Random(seed)
    lease = round(math.exp(pick.uniform(math.log(10), math.log(30 * 1440))))
    lease = pick.choice([lease, lease, 60 * pick.randint(1, 72), 1440 * pick.randint(1, 30)])
    grace = pick.choice([0, 0, 60, 240, 1440])
    others = pick.choice([0, 0, pick.randint(1, 40)])
    leaving = pick.choice([60, 60, pick.randint(15, 120)])
    begins = pick.choice([None, dt.time(7), dt.time(8, 30), dt.time(22)])
    hours = pick.choice([6, 8, 9.5]) if begins else 8
    ends = (
        (dt.datetime.combine(dt.date(2026, 1, 5), begins) + dt.timedelta(hours=hours)).time()
        if begins
        else None
    )
    days = pick.choice(
        [(), tuple("12345"), tuple("1234567"), tuple(sorted(pick.sample("1234567", 3)))]
    )
    records: list[f.Record] = [
        f.Site(id=1, work_starts=begins, work_ends=ends, work_days=days),
        network(lease, dhcp_last="10.44.15.254", other_dhcp_clients=others),
    ]
    pools, work = [], 0
    for number in range(pick.randint(1, 3)):
        rule = pick.choice(["kept", "nightly", "nightly", "weekly", "sign-out", "sign-out"])
        most = pick.randint(4, 60)
        template = f.Template(
            id=10 + number, network_id=1, most=most, reset_rule=rule, memory_gib=1.0, vcpu=1
        )
        crowds = []
        for group in range(pick.randint(1, 2) if rule == "sign-out" else 0):
            people, each = pick.randint(1, 80), pick.choice([0.3, 1.0, 1.5, 2.0, 3.0])
            comes = pick.choice([None, dt.time(6), dt.time(9, 15), dt.time(14)])
            records.append(
                f.SeatGroup(
                    id=100 + 10 * number + group,
                    template_id=template.id,
                    people=people,
                    sign_ins_a_day=each,
                    arrive_around=comes,
                )
            )
            at = comes or begins
            seconds = None if at is None else at.hour * HOUR + at.minute * MINUTE
            crowds.append(Crowd(people, -(-people * round(10 * each) // 10), seconds))
            work += crowds[-1].sign_outs
        records.append(template)
        pools.append(Pool(rule, most, crowds))
    host = None
    numbers = {"lease.grace-minutes": grace, "seats.leaving-minutes": leaving}
    if pick.random() < 0.7:
        together = pick.randint(1, 6)
        slowdown = pick.choice([0.0, 0.15])
        seconds = float(pick.randint(20, min(300, 20 + 10_000 * together // max(1, work))))
        host = (together, seconds, slowdown)
        numbers |= {
            "host.builds-at-once": together,
            "desktop.build-seconds": seconds,
            "host.build-slowdown": slowdown,
        }
        records.append(f.Host(id=50, sockets=2, cores_per_socket=64, memory_gib=2048.0))
    place = Place(
        pools,
        lease * MINUTE,
        grace * MINUTE,
        others,
        int(hours * HOUR),
        tuple(int(day) - 1 for day in days) or tuple(range(7)),
        leaving * MINUTE,
        host,
        pick.randrange(DAY),
        pick.randrange(7 * DAY),
    )
    assumed = tuple(
        f.Assumed(scope="site", key=key, value=value, origin="measured")
        for key, value in numbers.items()
    )
    return Sample(records, assumed, place)


@pytest.mark.parametrize("seed", range(share(50, of=2000)))
def test_what_is_needed_is_what_is_held_when_most_are(seed):
    """Never fewer than the model holds, whatever the hour and whoever starts anew; at most a tenth and five
    more than it holds when all falls together."""
    one = sample(seed)
    needed = one.plan().leases.of(1).needed
    anyhow = model.Play(one.place, worst=False, chance=seed).run().peak
    busiest = model.busiest(one.place)
    assert max(anyhow, busiest) <= needed <= 1.1 * busiest + 5, (anyhow, busiest)


@pytest.mark.parametrize("seed", range(share(25, of=400)))
def test_the_longest_lease_fits_when_it_is_played(seed):
    one = sample(seed)
    pick = random.Random(seed)
    running = sum(pool.desktops for pool in one.place.pools) + one.place.others
    last = ipv4.to_text(ipv4.parse("10.44.0.0") + round(running * pick.uniform(0.9, 3)))
    found = one.plan(dataclasses.replace(one.records[1], dhcp_last=last)).leases.of(1)
    if found.any_lease_fits or not found.longest_lease_minutes:
        return
    lease = min(found.longest_lease_minutes, 30 * 1440)
    place = dataclasses.replace(one.place, lease=lease * MINUTE)
    assert model.busiest(place) <= found.scope_size
    over = one.plan(
        dataclasses.replace(
            one.records[1], dhcp_last=last, lease_minutes=found.longest_lease_minutes + 1
        )
    )
    assert over.leases.of(1).short


@pytest.mark.parametrize("seed", range(share(25, of=400)))
def test_with_the_proposal_nobody_is_without_an_address(seed):
    """The range and lease that are proposed, set and played with no more addresses than the range has."""
    one = sample(seed)
    pick = random.Random(seed)
    cidr = f"10.44.0.0/{pick.choice([22, 23, 24, 24, 25])}"
    bare = dataclasses.replace(
        one.records[1], cidr=cidr, dhcp="", dhcp_first="", dhcp_last="", lease_minutes=None
    )
    [scope] = one.plan(bare).scopes
    running = sum(pool.desktops for pool in one.place.pools) + one.place.others
    if scope.why:
        assert not scope.values
        assert (
            running > scope.size
            or one.plan(
                dataclasses.replace(
                    bare,
                    dhcp="range",
                    dhcp_first=scope.first,
                    dhcp_last=scope.last,
                    lease_minutes=30,
                )
            )
            .leases.of(1)
            .short
        )
        return
    assert scope.needed <= scope.size
    place = dataclasses.replace(one.place, lease=scope.lease_minutes * MINUTE)
    assert model.busiest(place) <= scope.size
    for worst in (True, False):
        server = model.Play(place, worst=worst, addresses=scope.size, chance=seed).run()
        assert server.refused == 0


@pytest.mark.parametrize(
    ("lease", "short"), [(12 * 60, True), (60, True), (30, True), (20, True), (10, False)]
)
def test_a_shorter_lease_is_no_mend_until_it_is_shorter_than_the_burst(lease, short):
    """100 nightly desktops, 4 at a time, 60 s each: 25 min. 150 addresses: 50 old leases come in 12 or 13 waves."""
    records = (
        network(lease, dhcp_last="10.44.0.150"),
        f.Template(id=2, network_id=1, most=100, reset_rule="nightly", memory_gib=1.0, vcpu=1),
        f.Host(id=3, sockets=2, cores_per_socket=64, memory_gib=2048.0),
    )
    numbers = {
        "lease.grace-minutes": 0,
        "desktop.build-seconds": 60.0,
        "host.builds-at-once": 4.0,
        "host.build-slowdown": 0.0,
    }
    assumed = tuple(
        f.Assumed(scope="site", key=key, value=value, origin="measured")
        for key, value in numbers.items()
    )
    found = plan_of(*records, assumed=assumed).leases.of(1)
    assert found.short == short
    place = Place([Pool("nightly", 100)], lease * MINUTE, host=(4, 60.0, 0.0))
    assert (model.busiest(place) > 150) == short


@pytest.mark.parametrize(
    ("lease", "renew", "rebind"), [(120, 60, 105), (1440, 720, 1260), (8 * 1440, 5760, 10080)]
)
def test_when_clients_renew(lease, renew, rebind):
    """Source: RFC 2131 §4.4.5: T1 is 0.5 and T2 is 0.875 of the lease unless the server says otherwise."""
    found = need("sign-out", 40, lease)
    assert (found.t1_minutes, found.t2_minutes) == (renew, rebind)
