"""What a result rests on: every number set anew on random sites, room by room. What moves is named, and what is
named can move."""

from __future__ import annotations

import datetime as dt
import random

import pytest

from planner.catalogue.assumptions import Assumption
from planner.engine import provenance
from planner.engine.results import Results
from planner.record import facts as f
from tests.factories import site_facts
from tests.shares import share

RUNS = "seats.morning-runs"
ROOMS = tuple(provenance.listed())


def assumed(values: dict[str, float]) -> tuple[f.Assumed, ...]:
    few = {RUNS: 20.0, **values}
    return tuple(
        f.Assumed(scope="site", key=key, value=value, origin="measured")
        for key, value in few.items()
    )


def records(seed: int) -> list[f.Record]:
    """A site with something for every room, tight often enough for a number to matter."""
    pick = random.Random(seed)
    hosts = [
        f.Host(
            id=10 + number,
            name=f"h{number}",
            sockets=1,
            cores_per_socket=pick.choice([4, 8, 16]),
            memory_gib=float(pick.choice([32, 64, 96])),
            rated_watts=pick.choice([None, 400.0, 750.0]),
            weight_kg=pick.choice([None, 20.0, 30.0]),
            rack_units=pick.choice([None, 2]),
            network_id=1,
        )
        for number in range(pick.randint(1, 3))
    ]
    shared = pick.random() < 0.5
    stores = [
        f.Datastore(
            id=20 + number,
            name=f"d{number}",
            sharing="shared" if shared else "local",
            host_id=None if shared else host.id,
            raid=pick.choice(["1", "5", "10"]),
            disks=4,
            disk_gb=float(pick.choice([300, 500, 1000])),
            disk_operations=pick.choice([None, 80.0, 200.0]),
            throughput_mb_s=pick.choice([None, 200.0]),
            provisioning=pick.choice(["thin", "thick"]),
            others_gib=float(pick.choice([0, 50])),
        )
        for number, host in enumerate(hosts[:1] if shared else hosts)
    ]
    images = [
        f.Image(
            id=30 + number,
            name=f"i{number}",
            operating_system="desktop system",
            bits=64,
            disk_gib=float(pick.choice([60, 100])),
            used_gib=pick.choice([None, 40.0]),
            activation=pick.choice(["key-server", "multiple-key", ""]),
            support_ends=pick.choice([None, dt.date(2026, 9, 1), dt.date(2029, 1, 1)]),
        )
        for number in range(pick.randint(1, 2))
    ]
    found: list[f.Record] = [
        f.Site(
            id=1,
            purpose="live",
            work_starts=pick.choice([None, dt.time(8)]),
            work_ends=dt.time(17),
            go_live_date=pick.choice([None, dt.date(2026, 6, 1)]),
        ),
        f.Network(
            id=1,
            name="core",
            cidr="10.44.1.0/24",
            link_mbit_s=pick.choice([1000.0, 10_000.0]),
            mtu=pick.choice([None, 1500]),
        ),
        f.Network(
            id=2,
            name="desks",
            cidr="10.44.2.0/24",
            purpose="desktops",
            dhcp="range",
            dhcp_first="10.44.2.50",
            dhcp_last="10.44.2.250",
            lease_minutes=pick.choice([20, 60, 720, 1440]),
            other_dhcp_clients=0,
        ),
        f.Network(
            id=3,
            name="rooms",
            cidr="10.44.3.0/24",
            link_mbit_s=pick.choice([20.0, 100.0]),
            mtu=pick.choice([None, 1400]),
        ),
        *hosts,
        *stores,
        *images,
        f.Appliance(
            id=40,
            name="broker",
            host_id=hosts[0].id,
            datastore_id=stores[0].id,
            memory_gib=float(pick.choice([4, 16])),
            disk_gib=60.0,
            vcpu=2,
        ),
    ]
    for number in range(pick.randint(1, 3)):
        image = pick.choice(images)
        found.append(
            f.Template(
                id=50 + number,
                name=f"t{number}",
                image_id=image.id,
                network_id=2,
                memory_gib=float(pick.choice([2, 4, 8])),
                vcpu=pick.choice([1, 2, 4]),
                most=pick.randint(4, 24),
                standby=pick.randint(0, 4),
                reset_rule=pick.choice(["kept", "nightly", "weekly", "sign-out"]),
                growth_gib=float(pick.choice([2, 10])),
            )
        )
        found.append(
            f.SeatGroup(
                id=60 + number,
                name=f"g{number}",
                template_id=50 + number,
                network_id=3,
                people=pick.randint(4, 30),
                share_at_once=pick.choice([0.5, 0.9]),
                arrive_around=dt.time(8, 30),
                arrive_spread_minutes=pick.choice([5.0, 20.0]),
                sign_ins_a_day=pick.choice([1.0, 2.0, 3.5]),
                kbit_s=pick.choice([300.0, 1500.0]),
            )
        )
    found.append(
        f.Application(
            id=70,
            name="writer",
            image_id=images[0].id,
            licensed_by=pick.choice(["people", "at-once", "devices"]),
            licences_held=pick.choice([None, 10]),
        )
    )
    return found


def told(results: Results, room: str) -> object:
    """All that a room's result says."""
    found = getattr(results, room)
    if room != "surge":
        return found
    parts = (found.all_there, found.one_down, found.busiest, found.target_seconds)
    return *parts, found.target_share, found.down, found.missing, found.unchecked


def others(number: Assumption) -> list[float]:
    """Values it may have, beside the one in force."""
    half, double = number.value / 2, number.value * 2
    tried = [number.low, half, double, number.high]
    if number.key == RUNS:
        tried = [25.0, 30.0]
    return [
        value
        for value in dict.fromkeys(tried)
        if number.low <= value <= number.high and value != number.value
    ]


def moved(base: Results, site: list[f.Record], number: Assumption, rooms: set[str]) -> set[str]:
    """The rooms that say something else for some other value of a number."""
    found: set[str] = set()
    for value in others(number):
        changed = Results(site_facts(*site, assumed=assumed({number.key: value})))
        found |= {room for room in rooms - found if told(changed, room) != told(base, room)}
    return found


@pytest.mark.parametrize("seed", range(share(12, of=120)))
def test_what_moves_is_named(seed):
    site = records(seed)
    base = Results(site_facts(*site, assumed=assumed({})))
    named = {room: {one.key for one in provenance.rests_of(base, room).numbers} for room in ROOMS}
    for number in base.numbers.all.values():
        unnamed = {room for room in ROOMS if number.key not in named[room]}
        assert moved(base, site, number, unnamed) == set(), number.key


def test_what_is_named_can_move():
    """Every number that some room names moves that room's answer on some site, but those that have one value."""
    waiting: dict[str, set[str]] = {}
    seen: set[tuple[str, str]] = set()
    fixed = {key for key, one in Results(site_facts()).numbers.all.items() if one.low == one.high}
    for seed in range(share(24, of=60)):
        site = records(seed)
        base = Results(site_facts(*site, assumed=assumed({})))
        for room in ROOMS:
            for one in provenance.rests_of(base, room).numbers:
                if one.key not in fixed and (room, one.key) not in seen:
                    waiting.setdefault(one.key, set()).add(room)
        for key, rooms in waiting.items():
            for room in moved(base, site, base.numbers.all[key], rooms):
                seen.add((room, key))
        waiting = {
            key: rooms
            for key, all_rooms in waiting.items()
            if (rooms := {room for room in all_rooms if (room, key) not in seen})
        }
    assert waiting == {}
