"""Placement of 500 desktops on 20 hosts with every host down in turn. Run: python -m tests.bench.placement

Yardstick: the exact solver alone (OR-tools), asked the same for all hosts, without any host down.
"""

from __future__ import annotations

import random
import time

from ortools.sat.python import cp_model

from planner.catalogue.assumptions import Numbers
from planner.engine.placement import placing as placement
from planner.engine.storage import datastores as storage
from planner.record import facts as f
from tests.factories import TODAY

HOSTS, TEMPLATES, DESKTOPS, SITES = 20, 10, 500, 10


def site(draw: random.Random, tight: float) -> f.SiteFacts:
    """Unlike hosts and templates; ``tight`` is the share of all memory that the desktops ask."""
    sizes = [draw.choice((2, 3, 4, 6, 8)) for _ in range(TEMPLATES)]
    counts = [DESKTOPS // TEMPLATES] * TEMPLATES
    asked = sum((size + 0.125) * count for size, count in zip(sizes, counts, strict=True))
    each = asked / tight / HOSTS
    hosts = tuple(
        f.Host(
            id=n,
            name=f"h{n}",
            sockets=2,
            cores_per_socket=32,
            memory_gib=round(each * draw.uniform(0.8, 1.2)) + 8,
        )
        for n in range(1, HOSTS + 1)
    )
    templates = tuple(
        f.Template(id=n + 1, name=f"t{n}", memory_gib=size, vcpu=2, most=count, growth_gib=1)
        for n, (size, count) in enumerate(zip(sizes, counts, strict=True))
    )
    return f.SiteFacts(today=TODAY, site=f.Site(id=1), hosts=hosts, templates=templates)


def by_solver(facts: f.SiteFacts, numbers: Numbers) -> float:
    """Seconds the exact solver takes for all hosts there."""
    found = placement.work_out(facts, numbers, storage.work_out(facts, numbers))
    before = time.perf_counter()
    model = cp_model.CpModel()
    rooms = [int((load.offers_gib or 0) * 1024) for load in found.hosts]
    asks = [int((t.memory_gib + 0.125) * 1024) for t in facts.templates]
    x = [[model.new_int_var(0, t.most, "") for _ in rooms] for t in facts.templates]
    for row, template in zip(x, facts.templates, strict=True):
        model.add(sum(row) <= template.most)
    for at, room in enumerate(rooms):
        model.add(sum(ask * row[at] for ask, row in zip(asks, x, strict=True)) <= room)
    model.maximize(sum(sum(row) for row in x))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = 20
    solver.solve(model)
    return time.perf_counter() - before


def main() -> None:
    numbers = Numbers()
    for tight in (0.6, 0.85, 0.95, 1.02):
        draw, ours, theirs, proved = random.Random(7), [], [], 0
        for _ in range(SITES):
            facts = site(draw, tight)
            stores = storage.work_out(facts, numbers)
            before = time.perf_counter()
            found = placement.work_out(facts, numbers, stores)
            ours.append(time.perf_counter() - before)
            proved += found.proved and all(down.proved for down in found.without)
            theirs.append(by_solver(facts, numbers))
        mean, most, other = (
            1000 * value for value in (sum(ours) / SITES, max(ours), sum(theirs) / SITES)
        )
        print(
            f"{tight:.0%} of the memory asked: {mean:.0f} ms on average, {most:.0f} ms at most for {HOSTS + 1} "
            f"placements; OR-tools for one {other:.0f} ms; all proved at {proved} of {SITES} sites"
        )


if __name__ == "__main__":
    main()
