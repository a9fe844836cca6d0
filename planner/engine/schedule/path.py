"""The critical path: early and late times, slack, and the chance to be done by a time.

Source: Kelley and Walker, Critical-Path Planning and Scheduling, 1959 (the two passes); Malcolm,
Roseboom, Clark and Fazar, Operations Research 7(5), 1959 (three times, the normal chance). Both from
memory; the tests check against worked examples.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from planner.engine.schedule.tasks import Net, Task, earliest, net

MOST_PATHS = 12  # told by name; all are counted
NEAR = 1e-9  # of the whole length: two sums of the same times may differ in the last digit


@dataclass(frozen=True, slots=True)
class Times:
    """When one task can begin and end, and when it must. Minutes from the start."""

    key: str
    early_start: float
    early_finish: float
    late_start: float
    late_finish: float

    @property
    def slack(self) -> float:
        """How much later it may begin without delaying the end, in minutes."""
        return self.late_start - self.early_start


@dataclass(frozen=True)
class CriticalPath:
    """The two passes over a network, with nobody short of people.

    ``length`` is when everything is done at the earliest, in minutes; it and all else is ``None`` or
    empty when there is a ``cycle``. ``critical`` are the keys without slack, ``paths`` the critical
    paths (the first :data:`MOST_PATHS` of ``path_count``). ``variance`` is that of the critical path
    that varies most.
    """

    times: dict[str, Times]
    length: float | None
    critical: tuple[str, ...]
    paths: tuple[tuple[str, ...], ...]
    path_count: int
    variance: float | None
    cycle: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()

    def chance(self, by: float) -> float | None:
        """The chance that all is done by a minute, 0 to 1; see :func:`normal_chance` for what it leaves out."""
        if self.length is None or self.variance is None:
            return None
        return normal_chance(self.length, self.variance, by)


def normal_chance(mean: float, variance: float, by: float) -> float:
    """P(X ≤ by) for a normal X, 0 to 1; without any variance 1 or 0.

    An upper estimate: it looks at one path alone, while the end waits for the latest of all that merge.
    """
    if variance <= 0:
        if by >= mean:
            return 1.0
        return 0.0
    return 0.5 * math.erfc((mean - by) / math.sqrt(2 * variance))


def critical_path(tasks: Iterable[Task]) -> CriticalPath:
    """Critical path method over the tasks' mean lengths. Never raises; a circle is told in ``cycle``."""
    return of_net(net(tasks))


def of_net(web: Net) -> CriticalPath:
    """:func:`critical_path` of a network that stands already."""
    if web.cycle:
        return CriticalPath({}, None, (), (), 0, None, web.cycle, web.problems)
    start, finish = early(web)
    end = max(finish, default=0.0)
    late_start, late_finish = late(web, end)
    near = NEAR * max(end, 1.0)
    critical = [place for place in web.order if late_start[place] - start[place] <= near]
    variance, count, paths = _paths(web, critical, start, finish, near)
    times = {
        task.key: Times(
            task.key, start[place], finish[place], late_start[place], late_finish[place]
        )
        for place, task in enumerate(web.tasks)
    }
    keys = tuple(web.tasks[place].key for place in critical)
    return CriticalPath(times, end, keys, paths, count, variance, (), web.problems)


def early(web: Net) -> tuple[list[float], list[float]]:
    """The forward pass: when each task can begin and end at the earliest, by its place."""
    start = [earliest(task) for task in web.tasks]
    finish = [0.0] * len(start)
    for place in web.order:
        begin = start[place]
        for other in web.before[place]:
            if finish[other] > begin:
                begin = finish[other]
        start[place] = begin
        finish[place] = begin + web.lengths[place]
    return start, finish


def late(web: Net, end: float) -> tuple[list[float], list[float]]:
    """The backward pass: when each task must begin and end at the latest for all to be done by ``end``."""
    finish = [end] * len(web.tasks)
    start = [0.0] * len(web.tasks)
    for place in reversed(web.order):
        last = end
        for other in web.behind[place]:
            if start[other] < last:
                last = start[other]
        finish[place] = last
        start[place] = last - web.lengths[place]
    return start, finish


def _paths(
    web: Net, critical: list[int], start: list[float], finish: list[float], near: float
) -> tuple[float, int, tuple[tuple[str, ...], ...]]:
    """Along the critical tasks: the largest variance of a path, how many there are, the first few."""
    chosen = set(critical)
    variance: dict[int, float] = {}
    count: dict[int, int] = {}
    links: dict[int, list[int]] = {}
    for place in reversed(critical):
        links[place] = [
            other
            for other in web.behind[place]
            if other in chosen and start[other] - finish[place] <= near
        ]
        variance[place] = web.tasks[place].variance + max(
            (variance[other] for other in links[place]), default=0.0
        )
        count[place] = sum(count[other] for other in links[place]) or 1
    followers = {other for found in links.values() for other in found}
    first = [place for place in critical if place not in followers]
    found: list[tuple[str, ...]] = []
    open_ends: list[tuple[int, ...]] = [(place,) for place in reversed(first)]
    while open_ends and len(found) < MOST_PATHS:
        path = open_ends.pop()
        if links[path[-1]]:
            open_ends += [(*path, other) for other in reversed(links[path[-1]])]
        else:
            found.append(tuple(web.tasks[place].key for place in path))
    return (
        max((variance[place] for place in first), default=0.0),
        sum(count[place] for place in first),
        tuple(found),
    )
