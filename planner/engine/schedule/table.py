"""One layout at a time: each task in turn put at the earliest time its people are free (see :mod:`laying`)."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from planner.engine.schedule.hours import NEAR, Hours
from planner.engine.schedule.tasks import Net, earliest


@dataclass(frozen=True, slots=True)
class Real:
    """What really happened to a task: begun at a minute by somebody, and ended or under way."""

    start: float
    finish: float | None = None
    person: str = ""


class Made:
    """One layout while it is made: times by place, who (an index, -1 for nobody), what found no place."""

    def __init__(self, count: int, people: Sequence[str]):
        self.people = people
        self.start = [0.0] * count
        self.finish: list[float | None] = [None] * count
        self.hands = [-1] * count
        self.state = ["planned"] * count
        self.unplaced: list[int] = []

    def who(self, place: int) -> str:
        return self.people[self.hands[place]] if self.hands[place] >= 0 else ""

    @property
    def end(self) -> float | None:
        return max((finish for finish in self.finish if finish is not None), default=None)


class Table:
    """The network, the people and the hours: what every pass has in common."""

    def __init__(self, web: Net, people: Sequence[str], hours: Hours, known: Mapping[int, Real], now: float):
        self.web, self.people, self.hours, self.known, self.now = web, people, hours, known, now
        everybody = range(len(people))
        index = {person: at for at, person in enumerate(people)}
        self.hands = [
            [index[name] for name in dict.fromkeys(task.people) if name in index] if task.people else everybody
            for task in web.tasks
        ]
        self.ready = [max(earliest(task), now) for task in web.tasks]
        self.wanted = [0.0] * len(people)  # minutes of work that only this person may do
        for hands, task, length in zip(self.hands, web.tasks, web.lengths, strict=True):
            if task.attended and task.people and len(hands) == 1:
                self.wanted[hands[0]] += length

    def laid(self, order: Iterable[int]) -> Made:
        """A layout of the tasks in this order, each as early as can be."""
        made = Made(len(self.web.tasks), self.people)
        free = [Free() for _ in self.people]
        for place, real in self.known.items():
            self._real(made, free, place, real)
        for place in order:
            if place not in self.known:
                self._place(made, free, place)
        return made

    def _real(self, made: Made, free: list[Free], place: int, real: Real) -> None:
        task = self.web.tasks[place]
        finish = real.finish
        made.state[place] = "under way" if finish is None else "done"
        if finish is None:
            length = self.web.lengths[place]
            runs = self.hours.begin(real.start, length) if task.attended else (real.start, real.start + length)
            finish = max(runs[1] if runs else real.start + length, self.now)
        made.start[place], made.finish[place] = real.start, finish
        if real.person and task.attended:
            made.hands[place] = self.people.index(real.person)
            free[made.hands[place]].take(real.start, finish)

    def _place(self, made: Made, free: list[Free], place: int) -> None:
        ready, last = self.ready[place], -1
        for other in self.web.before[place]:
            finish = made.finish[other]
            if finish is None:  # it found no place, so neither does what waits for it
                made.unplaced.append(place)
                return
            if finish > ready:
                ready, last = finish, other
        length = self.web.lengths[place]
        if not self.web.tasks[place].attended:
            runs = self.hours.wait(ready, length)
            if runs:
                made.start[place], made.finish[place] = runs
            else:
                made.unplaced.append(place)
            return
        best: tuple | None = None
        same = made.hands[last] if last >= 0 else -1
        for person in self.hands[place]:
            found = free[person].earliest(ready, length, self.hours)
            if found is None:
                continue
            begin, end, gap = found
            idle = begin - free[person].begins[gap]
            choice = (end, self.wanted[person], person != same, idle, person, begin, gap)
            if best is None or choice < best:
                best = choice
        if best is None:
            made.unplaced.append(place)
            return
        end, _, _, _, person, begin, gap = best
        free[person].fill(gap, begin, end)
        made.start[place], made.finish[place], made.hands[place] = begin, end, person


class Free:
    """When one person is free: gaps in order, the last one without an end."""

    __slots__ = ("begins", "ends")

    def __init__(self) -> None:
        self.begins, self.ends = [-math.inf], [math.inf]

    def earliest(self, ready: float, length: float, hours: Hours) -> tuple[float, float, int] | None:
        """Begin, end and gap of the earliest time for work of this length; ``None``: never."""
        ends = self.ends
        for gap in range(bisect_right(ends, ready), len(ends)):
            found = hours.begin(max(ready, self.begins[gap]), length)
            if found is None:
                return None
            if found[1] <= ends[gap] + NEAR:
                return found[0], found[1], gap
        return None

    def fill(self, gap: int, begin: float, end: float) -> None:
        left, right = self.begins[gap], self.ends[gap]
        pieces = [(a, b) for a, b in ((left, begin), (end, right)) if b - a > NEAR]
        self.begins[gap : gap + 1] = [a for a, _ in pieces]
        self.ends[gap : gap + 1] = [b for _, b in pieces]

    def take(self, begin: float, end: float) -> None:
        """Marks a stretch that reality took, whatever else stood there."""
        pieces = []
        for left, right in zip(self.begins, self.ends, strict=True):
            pieces += [(a, b) for a, b in ((left, min(right, begin)), (max(left, end), right)) if b - a > NEAR]
        self.begins, self.ends = [a for a, _ in pieces], [b for _, b in pieces]
