"""How long the port sheet takes: its lines, what is confirmed, every view. Run: python -m tests.bench.ports

Yardstick: the same site's plan as JSON, in the same run.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")

from planner.engine.flows import port_sheet as flows
from planner.engine.flows.gaps import Gaps
from planner.engine.flows.views import Views
from planner.plan import Plan
from planner.record import facts as f
from planner.stages.confirmed import confirmed
from sites.pages import ports
from tests.factories import site_facts
from tests.papers.demo_facts import demo

TIMES = 5


def middle(work: Callable[[], object]) -> float:
    """The median time of some runs, in seconds."""
    taken = []
    for _ in range(TIMES):
        before = time.perf_counter()
        work()
        taken.append(time.perf_counter() - before)
    return sorted(taken)[TIMES // 2]


def thousand() -> f.SiteFacts:
    """A thousand networks, each with a template, a server and a printer of its own."""
    networks = [
        f.Network(id=n, name=f"n{n}", cidr=f"10.{n // 250}.{n % 250}.0/24", dhcp="range")
        for n in range(1, 1001)
    ]
    templates = [f.Template(id=n, name=f"t{n}", network_id=n) for n in range(1, 1001)]
    servers = [
        f.Server(
            id=n,
            name=f"dc-{n}",
            network_id=n,
            address=f"10.{n // 250}.{n % 250}.5",
            roles=("directory", "dns", "dhcp", "time", "files"),
        )
        for n in range(1, 1001)
    ]
    printers = [
        f.Device(
            id=n, name=f"p{n}", what="printer", network_id=n, address=f"10.{n // 250}.{n % 250}.9"
        )
        for n in range(1, 1001)
    ]
    return site_facts(
        *networks, *templates, *servers, *printers, f.Directory(directory_kind="domain")
    )


def looked_at(facts: f.SiteFacts, lines: tuple) -> Views:
    views = Views(facts, lines)
    _ = views.pairs, views.firewalls, views.sides, views.inbound
    return views


def page(plan: Plan, view: str) -> int:
    """What the template asks for in one view."""
    shown = ports.sheet(plan, {"ports": view})
    names = {
        "all": ("rows",),
        "firewall": ("firewalls",),
        "machine": ("machines",),
        "pairs": ("matrix", "pairs"),
        "desktops": ("inbound",),
    }
    return sum(len(getattr(shown, name)) for name in (*names[view], "missing", "undecided"))


def main() -> None:
    for words, facts in (("large site", demo("large")), ("a thousand networks", thousand())):
        plan = Plan(facts)
        _ = plan.stages, plan.confirmed  # what the rail has worked out already
        lines = plan.flows.flows
        yardstick = middle(lambda facts=facts: json.dumps(f.to_json(facts)))
        print(
            f"{words}: {len(lines)} lines; the plan as JSON (yardstick) {yardstick * 1000:.1f} ms"
        )
        work: dict[str, Callable[[], object]] = {
            "the lines": lambda facts=facts: flows.work_out(facts),
            "what is confirmed": lambda plan=plan: confirmed(plan, plan.stages),
            "pairs, firewalls, machines, desktops": lambda facts=facts, lines=lines: looked_at(
                facts, lines
            ),
            "what is missing": lambda facts=facts, lines=lines: [
                Gaps(facts).of(line) for line in lines
            ],
        }
        for view in ports.VIEWS:
            work[f"page, ?ports={view}"] = lambda plan=plan, view=view: page(plan, view)
        for name, one in work.items():
            seconds = middle(one)
            print(
                f"{words}: {name}: {seconds * 1000:.1f} ms, {seconds / yardstick:.2f} of the yardstick"
            )


if __name__ == "__main__":
    main()
