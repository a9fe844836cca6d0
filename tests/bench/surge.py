"""How long the morning takes, against the same rules one event after another. Run: python -m tests.bench.surge

Yardstick: the SimPy model of tests/references/surge_simpy.py, at the same people and with answers that are
equal to 1e-9, both timed in this run on one processor. The event model is timed on fewer mornings and scaled.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import statistics
import time

import numpy as np

from planner.engine import surge
from planner.engine.surge.arrivals import draw
from planner.engine.surge.handouts import hand_out
from planner.engine.surge.morning import REBUILT, Group, Host, Morning, Stock
from planner.plan import Plan
from planner.record import facts as f
from tests.factories import make, site_facts
from tests.references.surge_simpy import one_run

RUNS, PEOPLE, EVENT_RUNS, ROUNDS = 1000, 200, 40, 7
CASES = {
    "2 hosts of 4 slots": {"hosts": 2, "standby": 20, "most": 220},
    "4 hosts of 4 slots, most binds": {"hosts": 4, "standby": 20, "most": 180},
    "4 templates, 4 hosts": {"hosts": 4, "standby": 6, "most": 60, "templates": 4},
    "2 hosts, desktops come back and are rebuilt": {
        "hosts": 2,
        "standby": 20,
        "most": 150,
        "session": 9000.0,
    },
}


def site(
    hosts: int, standby: int, most: int, templates: int = 1, session: float = 30_000.0
) -> Morning:
    may = (True,) * hosts
    return Morning(
        groups=tuple(
            Group(at, at, PEOPLE // templates, 1.0, 28_800.0 + 600 * at, 1800.0, 2.0, session)
            for at in range(templates)
        ),
        stocks=tuple(
            Stock(at + 1, f"t{at}", standby, most, REBUILT, may) for at in range(templates)
        ),
        hosts=tuple(Host(at, f"h{at}") for at in range(hosts)),
        slots=4,
        build_seconds=150.0,
        slowdown=0.15,
        break_seconds=900.0,
        session_spread=0.5,
        target_seconds=30.0,
        target_share=0.95,
        runs=RUNS,
    )


def against_events(words: str, found: Morning) -> None:
    people = draw(found, RUNS)
    times = []
    for _ in range(ROUNDS):
        started = time.process_time()
        (outs,) = hand_out(found, people, [found.stocks])
        times.append(time.process_time() - started)
    ground = (len(found.hosts), found.slots, found.build_seconds, found.slowdown)
    tables = []
    for run in range(EVENT_RUNS):
        came = [np.isfinite(people.times[run, at]) for at in people.of]
        tables.append(
            [
                [table[run, at][there].tolist() for at, there in zip(people.of, came, strict=True)]
                for table in (people.times, people.sessions)
            ]
        )
    started = time.process_time()
    told = [one_run(found.stocks, ground, found.ends, *table) for table in tables]
    events = (time.process_time() - started) * RUNS / EVENT_RUNS
    apart = max(
        max(
            (
                abs(one - other)
                for one, other in zip(path.given[run].tolist(), given, strict=False)
                if one != other
            ),
            default=0.0,
        )
        for run, rows in enumerate(told)
        for path, given in zip(outs.paths, rows, strict=True)
    )
    ours = statistics.median(times)
    sign_ins = np.isfinite(people.times).sum() / RUNS
    print(
        f"{words}: {RUNS:,} mornings of {sign_ins:.0f} sign-ins: {ours * 1000:.1f} ms, event model {events:.1f} s: "
        f"{events / ours:.0f} times (at least {events / max(times):.0f}); answers apart by at most {apart:.0e} s"
    )


def large_plan() -> Plan:
    """12 hosts, 20 templates, 600 people: as large as a site is expected to be."""
    hosts = [
        make(f.Host, name=f"h{at}", memory_gib=512, sockets=2, cores_per_socket=24)
        for at in range(12)
    ]
    templates = [
        make(
            f.Template,
            name=f"t{at}",
            memory_gib=(4, 6, 8)[at % 3],
            vcpu=2,
            most=28,
            standby=3,
            reset_rule=("sign-out", "nightly")[at % 2],
        )
        for at in range(20)
    ]
    groups = [
        make(
            f.SeatGroup,
            name=f"g{at}",
            template_id=one.id,
            people=30,
            share_at_once=0.8,
            sign_ins_a_day=2,
            arrive_around=dt.time(8, 2 * at),
            arrive_spread_minutes=10,
        )
        for at, one in enumerate(templates)
    ]
    return Plan(site_facts(*hosts, *templates, *groups))


def large_site() -> None:
    plan = large_plan()
    plan.placement  # noqa: B018  (another room's time)
    parts = {
        "read from the facts": lambda: surge.work_out(plan.facts, plan.numbers, plan.placement),
        "the formula": lambda: dataclasses.replace(plan.surge).busiest,
        "a glance, for findings": lambda: surge._glance.__wrapped__(
            plan.surge.morning, plan.surge._without
        ),
        "the same again": lambda: plan.surge.glance,
        "all mornings, with a host down, smallest standbys": lambda: surge._simulated.__wrapped__(
            plan.surge.morning, plan.surge._without
        ),
        "the curve": lambda: dataclasses.replace(plan.surge.all_there).curve,
    }
    for words, work in parts.items():
        work()
        times = []
        for _ in range(ROUNDS):
            started = time.process_time()
            work()
            times.append(time.process_time() - started)
        print(f"large site, {words}: {statistics.median(times) * 1000:.2f} ms")
    glance, course = plan.surge.glance[0], plan.surge.all_there
    print(
        f"large site: a glance is {glance.runs} mornings, all are {course.runs}, of {course.site.sign_ins:.0f} sign-ins"
    )


def main() -> None:
    for words, values in CASES.items():
        against_events(words, site(**values))
    large_site()


if __name__ == "__main__":
    main()
