"""The chance to be done by a time when everything may take longer or shorter: a seeded simulation."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from planner.engine.schedule.hours import ALWAYS, NEAR, Hours
from planner.engine.schedule.laying import Layout, Placed
from planner.engine.schedule.tasks import Progress, Task, earliest

RUNS, SEED = 2000, 20260302


@dataclass(frozen=True)
class Simulated:
    """Ends of many days that could happen, in minutes, from the earliest to the latest."""

    ends: tuple[float, ...]

    def chance(self, by: float) -> float:
        """The share of days that are done by a minute."""
        return bisect_right(self.ends, by) / len(self.ends)

    def by(self, chance: float) -> float:
        """The minute by which that share (0 to 1) of the days is done."""
        return self.ends[min(max(math.ceil(chance * len(self.ends)) - 1, 0), len(self.ends) - 1)]


def simulate(
    tasks: Iterable[Task], layout: Layout, *, runs: int = RUNS, seed: int = SEED
) -> Simulated | None:
    """Runs the layout with lengths drawn from their three estimates; ``None`` unless everything is placed.

    Everybody keeps to the order of the layout: a task begins when those before it, and the same person's
    one before, have ended; an alone one is kept apart from all that stands before and behind it. Lengths are
    independent and follow the beta shape that goes with the three estimates: its mean is (o + 4m + p) / 6.
    Waits begin in open time too. What is done keeps its times; what is under way has begun when it did.

    Source: the beta shape as in Malcolm and others, Operations Research 7(5), 1959 (from memory).
    """
    if layout.unplaced or layout.cycle or not layout.placed or runs < 1:
        return None
    latest = np.full(runs, -np.inf)
    for _, _, end in drawn(tasks, layout, runs, seed):
        np.maximum(latest, end, out=latest)
    return Simulated(tuple(np.sort(latest).tolist()))


def drawn(
    tasks: Iterable[Task], layout: Layout, runs: int, seed: int
) -> Iterator[tuple[Placed, np.ndarray, np.ndarray]]:
    """Each task of the layout in turn, with the minutes it is ready and those it ends on so many days."""
    known: dict[str, Task] = {}
    for task in tasks:
        known.setdefault(task.key, task)  # of two with one key the first counts
    draw = np.random.default_rng(seed)
    clock = _Clock(layout.hours if layout.hours.spans else ALWAYS)
    ends: dict[str, np.ndarray] = {}
    last: dict[str, np.ndarray] = {}
    apart = any(task.alone for task in known.values())
    alone, latest = (
        np.full(runs, -np.inf),
        np.full(runs, -np.inf),
    )  # the end of alone tasks, of all, so far
    for one in layout.placed:
        task = known[one.key]
        if one.state == Progress.DONE:
            begin, end = np.full(runs, float(one.start)), np.full(runs, float(one.finish))
        else:
            first = one.start
            if one.state == Progress.PLANNED:
                first = max(earliest(task), layout.now)
            begin = np.full(runs, float(first))
            if one.state == Progress.PLANNED:
                before = [*(ends[key] for key in task.after if key in ends), last.get(one.person)]
                if apart:
                    before.append(latest if task.alone else alone)
                for other in before:
                    if other is not None:
                        np.maximum(begin, other, out=begin)
            end = clock.end(begin, _lengths(task, runs, draw), task.attended)
            if one.state == Progress.UNDER_WAY:
                np.maximum(end, layout.now, out=end)
        ends[one.key] = end
        if one.person:
            last[one.person] = np.maximum(last.get(one.person, end), end)
        if apart:
            np.maximum(latest, end, out=latest)
            if task.alone:
                np.maximum(alone, end, out=alone)
        yield one, begin, end


def _lengths(task: Task, runs: int, draw: np.random.Generator) -> np.ndarray:
    low, middle, high = task.times
    if high <= low:
        return np.full(runs, float(low))
    spread = high - low
    return low + spread * draw.beta(
        1 + 4 * (middle - low) / spread, 1 + 4 * (high - middle) / spread, runs
    )


class _Clock:
    """The open time as straight pieces, so that whole arrays are moved along it at once."""

    def __init__(self, hours: Hours):
        far = 1e9
        times: list[float] = []
        opened: list[float] = []
        total = 0.0
        for begin, end, _ in hours.spans:
            end = min(end, begin + far)
            times += [begin, end]
            opened += [total, total + end - begin]
            total += end - begin
        self.times, self.opened = np.array(times), np.array(opened)
        # Going back, a minute at which time closed must not become the one at which it opens again.
        self.back = self.opened + np.where(np.arange(len(times)) % 2, 0.0, 1e-9)

    def end(self, begin: np.ndarray, lengths: np.ndarray, attended: bool) -> np.ndarray:
        opened = np.interp(begin, self.times, self.opened)
        ends: np.ndarray
        if attended:
            ends = np.interp(opened + lengths, self.back, self.times)
            return ends
        reached = np.interp(opened, self.back, self.times)
        closed = begin > reached + NEAR  # ready while nobody is there: it begins when they are back
        later = np.interp(opened + NEAR, self.back, self.times)
        ends = np.where(closed, later, np.maximum(begin, reached)) + lengths
        return ends
