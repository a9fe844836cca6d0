"""How long each configuration and the calendar take on the large site. Run: python -m tests.bench.configs"""

from __future__ import annotations

import datetime as dt
import json
import os
import time
from collections.abc import Callable

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")

from planner.papers.calendar import build_calendar
from planner.papers.configs import CONFIGS, Edition
from planner.papers.sheets.files import port_sheet, write_csv
from planner.plan import Plan
from planner.record import facts as f
from tests.factories import site_facts
from tests.papers.demo_facts import demo

TIMES = 5
EDITION = Edition(dt.date(2027, 1, 14), "B")
STAMP = dt.datetime(2027, 1, 4, 8, 30, tzinfo=dt.UTC)


def middle(work: Callable[[], object]) -> float:
    """The median time of some runs, in seconds."""
    taken = []
    for _ in range(TIMES):
        before = time.perf_counter()
        work()
        taken.append(time.perf_counter() - before)
    return sorted(taken)[TIMES // 2]


def packed(slug: str, plan: Plan) -> bytes:
    kind = CONFIGS[slug]
    return kind.packed(kind.make(plan, EDITION), EDITION)


def full() -> f.SiteFacts:
    """A /16 with every second address a device: 32,766 of them."""
    devices = tuple(
        f.Device(
            id=n,
            name=f"d{n}",
            network_id=1,
            address=f"10.7.{n >> 7}.{(n & 127) * 2 + 2 - (n & 127 == 127)}",
        )
        for n in range(32_766)
    )
    core = f.Network(
        id=1,
        name="big",
        cidr="10.7.0.0/16",
        dhcp="range",
        dhcp_first="10.7.0.9",
        dhcp_last="10.7.9.9",
    )
    server = f.Server(id=1, name="dc-1", address="10.8.0.5", roles=("dns",))
    return site_facts(core, server, *devices, f.Directory(id=1, domain="corp.example"))


def main() -> None:
    for words, facts in (("large site", demo("large")), ("a /16 half full", full())):
        plan = Plan(facts)
        _ = (
            plan.addressing,
            plan.flows,
            plan.leases,
            plan.naming,
            plan.review,
        )  # what every page has worked out already
        yardstick = middle(lambda facts=facts: json.dumps(f.to_json(facts)))
        print(f"{words}: the plan as JSON (yardstick) {yardstick * 1000:.1f} ms")
        work: dict[str, Callable[[], bytes]] = {
            slug: lambda slug=slug, plan=plan: packed(slug, plan) for slug in CONFIGS
        }
        work["calendar"] = lambda plan=plan: build_calendar(plan, stamp=STAMP)
        work["port sheet, CSV"] = lambda plan=plan: write_csv(port_sheet(plan))
        for name, one in work.items():
            seconds, size = middle(one), len(one())
            ratio = seconds / yardstick
            print(
                f"{words}: {name}: {seconds * 1000:.1f} ms, {size:,} bytes, {ratio:.2f} of the yardstick"
            )


if __name__ == "__main__":
    main()
