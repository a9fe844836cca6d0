"""How good and how fast layouts are, beside an exact solver. Run: python -m tests.bench.schedule"""

from __future__ import annotations

import os
import random
import statistics
import time

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")

from planner.engine import schedule
from planner.plan import Plan
from tests.papers.demo_facts import demo
from tests.references.test_schedule_reference import optimum, some_work

COUNT, TURNS = 200, 20


def quality(named: bool, alone: float = 0.0) -> None:
    """Ends of layouts against the proven optimum, and the time of both; ``alone`` is the share that runs alone."""
    draw = random.Random(3 if named else 4)
    gaps, plain, bounds, ours, theirs = [], [], [], 0.0, 0.0
    for _ in range(COUNT):
        tasks, people = some_work(draw, named, alone)
        before = time.perf_counter()
        best = optimum(tasks, people)
        theirs += time.perf_counter() - before
        if best is None:
            continue
        before = time.perf_counter()
        finish = schedule.lay_out(tasks, people).finish
        ours += time.perf_counter() - before
        gaps.append(finish / best - 1)
        plain.append(schedule.lay_out(tasks, people, tries=0).finish / best - 1)
        bounds.append(1 - schedule.lower_bound(tasks, people) / best)
    kind = "some with a named owner" if named else "anybody does anything"
    kind += f", {alone:.0%} alone" if alone else ""
    print(f"{len(gaps)} networks of 5 to 20 tasks, {kind}:")
    for words, found in (("layout", gaps), ("plain layout", plain), ("bound", bounds)):
        exact = sum(gap < 1e-9 for gap in found)
        print(
            f"  {words}: {statistics.mean(found):.2%} mean, {max(found):.1%} largest gap, {exact} at the optimum"
        )
    print(
        f"  layout {1000 * ours / len(gaps):.2f} ms each, exact solver {1000 * theirs / COUNT:.1f} ms: "
        f"ratio {theirs / COUNT / (ours / len(gaps)):.0f}"
    )


def day() -> None:
    """The day of a large site, beside filling the words of the same steps."""
    facts = demo("large")
    days, words = [], []
    for _ in range(TURNS):
        plan = Plan(facts)
        _ = plan.stages, plan.recovery
        before = time.process_time()
        steps = plan.day.shares.day
        days.append(time.process_time() - before)
        before = time.process_time()
        _ = [stage.steps for stage in plan.stages.stages[2:7]]
        words.append(time.process_time() - before)
    best, yardstick = min(days), min(words)
    print(
        f"the day of {len(steps)} steps: {1000 * best:.1f} ms; the words of those steps: {1000 * yardstick:.1f} ms; "
        f"ratio {best / yardstick:.2f}"
    )
    plan = Plan(facts)
    before = time.perf_counter()
    chance = plan.day.simulated
    seconds = time.perf_counter() - before
    print(
        f"2,000 simulated days with the day itself: {1000 * seconds:.0f} ms"
        if chance
        else "nothing to simulate"
    )


def main() -> None:
    quality(named=False)
    quality(named=True)
    quality(named=False, alone=1 / 6)
    quality(named=True, alone=1 / 6)
    day()


if __name__ == "__main__":
    main()
