"""One layout at a time: each task in turn put at the earliest time its people are free (see :mod:`laying`)."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from planner.engine.schedule.hours import NEAR, Hours
from planner.engine.schedule.tasks import Net, Progress, earliest

Runs = Callable[
    [float, float], tuple[float, float] | None
]  # ready when and how long: begins and ends when


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
        self.state = [Progress.PLANNED] * count
        self.unplaced: list[int] = []

    def who(self, place: int) -> str:
        if self.hands[place] >= 0:
            return self.people[self.hands[place]]
        return ""

    @property
    def end(self) -> float | None:
        return max((finish for finish in self.finish if finish is not None), default=None)


class Table:
    """The network, the people and the hours: what every pass has in common."""

    def __init__(
        self, web: Net, people: Sequence[str], hours: Hours, known: Mapping[int, Real], now: float
    ):
        self.web, self.people, self.hours, self.known, self.now = web, people, hours, known, now
        self.begin, self.wait = hours.begin, hours.wait  # asked for every task
        everybody = range(len(people))
        index = {person: at for at, person in enumerate(people)}
        self.hands = [
            [index[name] for name in dict.fromkeys(task.people) if name in index]
            if task.people
            else everybody
            for task in web.tasks
        ]
        self.ready = [max(earliest(task), now) for task in web.tasks]
        self.any_alone = any(task.alone for task in web.tasks)
        self.wanted = [0.0] * len(people)  # minutes of work that only this person may do
        for hands, task, length in zip(self.hands, web.tasks, web.lengths, strict=True):
            if task.attended and task.people and len(hands) == 1:
                self.wanted[hands[0]] += length

    def laid(self, order: Iterable[int]) -> Made:
        """A layout of the tasks in this order, each as early as can be."""
        made = Made(len(self.web.tasks), self.people)
        free = [Free() for _ in self.people]
        quiet = (
            Quiet(free) if self.any_alone else None
        )  # nothing to keep apart, nothing to keep books of
        for place, real in self.known.items():
            self._real(made, free, quiet, place, real)
        for place in order:
            if place not in self.known:
                self._place(made, free, quiet, place)
        return made

    def _real(
        self, made: Made, free: list[Free], quiet: Quiet | None, place: int, real: Real
    ) -> None:
        task = self.web.tasks[place]
        finish = real.finish
        made.state[place] = Progress.UNDER_WAY if finish is None else Progress.DONE
        if finish is None:
            length = self.web.lengths[place]
            if task.attended:
                runs = self.begin(real.start, length)
            else:
                runs = (real.start, real.start + length)
            finish = max(runs[1] if runs else real.start + length, self.now)
        made.start[place], made.finish[place] = real.start, finish
        if real.person and task.attended:
            made.hands[place] = self.people.index(real.person)
            free[made.hands[place]].take(real.start, finish)
        if quiet:
            quiet.take(real.start, finish, task.alone)

    def _place(self, made: Made, free: list[Free], quiet: Quiet | None, place: int) -> None:
        ready, last = self.ready[place], -1
        for other in self.web.before[place]:
            finish = made.finish[other]
            if finish is None:  # it found no place, so neither does what waits for it
                made.unplaced.append(place)
                return
            if finish > ready:
                ready, last = finish, other
        length = self.web.lengths[place]
        task = self.web.tasks[place]
        if last >= 0:
            same = made.hands[last]
        else:
            same = -1
        if quiet and task.alone:
            self._place_alone(made, quiet, place, ready, same)
            return
        if not task.attended:
            if quiet:
                runs = quiet.wait(ready, length, self.wait)
            else:
                runs = self.wait(ready, length)
            if runs:
                made.start[place], made.finish[place] = runs
                if quiet:
                    quiet.take(*runs, False)
            else:
                made.unplaced.append(place)
            return
        best: tuple[float, float, bool, float, int, float, int] | None = None
        for person in self.hands[place]:
            found = free[person].earliest(ready, length, self.begin)
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
        if quiet:
            quiet.take(begin, end, False)

    def _place_alone(self, made: Made, quiet: Quiet, place: int, ready: float, same: int) -> None:
        """The earliest time at which nothing runs: everybody is free, and who did what comes before goes on."""
        attended, hands = self.web.tasks[place].attended, self.hands[place]
        if attended:
            runs = self.begin
        else:
            runs = self.wait
        if hands or not attended:
            found = quiet.still.earliest(ready, self.web.lengths[place], runs)
        else:
            found = None
        if found is None:
            made.unplaced.append(place)
            return
        begin, end, _ = found
        quiet.take(begin, end, True)
        made.start[place], made.finish[place] = begin, end
        if attended:
            made.hands[place] = same if same in hands else hands[0]


class Free:
    """When one person is free: gaps in order, the last one without an end."""

    __slots__ = ("begins", "ends")

    def __init__(self) -> None:
        self.begins, self.ends = [-math.inf], [math.inf]

    def earliest(self, ready: float, length: float, runs: Runs) -> tuple[float, float, int] | None:
        """Begin, end and gap of the earliest time for a task of this length; ``None``: never.

        ``runs`` is :meth:`Hours.begin` for work or :meth:`Hours.wait`.
        """
        ends = self.ends
        for gap in range(bisect_right(ends, ready), len(ends)):
            found = runs(max(ready, self.begins[gap]), length)
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
        """Marks a stretch that is taken, whatever else stands there."""
        first, last = bisect_left(self.ends, begin), bisect_right(self.begins, end)
        pieces = []
        for left, right in zip(self.begins[first:last], self.ends[first:last], strict=True):
            pieces += [
                (a, b)
                for a, b in ((left, min(right, begin)), (max(left, end), right))
                if b - a > NEAR
            ]
        self.begins[first:last] = [a for a, _ in pieces]
        self.ends[first:last] = [b for _, b in pieces]


class Quiet:
    """What keeps alone tasks apart from the rest: when nothing runs, and when no alone task does."""

    __slots__ = ("free", "open", "still")

    def __init__(self, free: list[Free]) -> None:
        self.still, self.open, self.free = Free(), Free(), free

    def take(self, begin: float, end: float, alone: bool) -> None:
        """Marks when a task runs; while an alone one does, nobody is free."""
        self.still.take(begin, end)
        if alone:
            for one in (self.open, *self.free):
                one.take(begin, end)

    def wait(self, ready: float, length: float, runs: Runs) -> tuple[float, float] | None:
        """When a wait begins and ends that keeps clear of alone tasks; ``None``: never."""
        found = self.open.earliest(ready, length, runs)
        return found and found[:2]
