"""Laying out tasks for the people who are there: serial schedule generation by latest finish.

Each task in turn, the one that must end first before the others, gets the earliest time at which what
comes before it is done and somebody who may do it is free. The result is then turned: laid out once
from the end, and again in that order from the beginning, while that makes the end come earlier.

Source: Kolisch, Serial and parallel resource-constrained project scheduling methods revisited, European
Journal of Operational Research 90, 1996 (the scheme); Valls, Ballestín and Quintanilla, Justification
and RCPSP, the same 165, 2005 (the turning). Both from memory; tests compare with an exact solver.
"""

from __future__ import annotations

import functools
import math
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from planner.engine.schedule import path
from planner.engine.schedule.hours import ALWAYS, NEAR, Hours
from planner.engine.schedule.table import Made, Real, Table
from planner.engine.schedule.tasks import LONGEST, Net, Progress, Task, net
from planner.engine.schedule.turning import better, in_turn

MOST_TRIES, EFFORT = 12, 600  # layouts tried; as many fewer as there are more tasks


@dataclass(frozen=True, slots=True)
class Placed:
    """One task's place: minutes from the start, who does it ("" for a wait), and how real it is."""

    key: str
    start: float
    finish: float
    person: str = ""
    state: Progress = Progress.PLANNED


@dataclass(frozen=True)
class Layout:
    """Tasks laid out for people. ``placed`` in order of their start.

    ``finish`` is the minute all is done, ``None`` when nothing is placed. ``unplaced`` are keys for which
    there is nobody, or no open time left. ``chain`` is what the end hangs on: from the last task to end
    back through the task, or the same person's work, or what had to keep clear of the other because one of
    the two runs alone, that each had to wait for. Its ``variance`` is in
    minutes squared. ``now`` is the minute it was laid out from. On a ``cycle`` nothing is placed.
    """

    placed: tuple[Placed, ...]
    finish: float | None
    unplaced: tuple[str, ...]
    chain: tuple[str, ...]
    variance: float
    hours: Hours
    now: float = 0.0
    cycle: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()

    @functools.cached_property
    def of(self) -> dict[str, Placed]:
        """Each task's place by its key."""
        return {one.key: one for one in self.placed}

    def chance(self, by: float) -> float | None:
        """The chance that all is done by a minute, 0 to 1, from the chain's times alone.

        An upper estimate, as :func:`~planner.engine.schedule.path.normal_chance` says; ``None`` when
        nothing or not everything is placed.
        """
        if self.finish is None or self.unplaced:
            return None
        return path.normal_chance(0.0, self.variance, self.hours.open_between(self.finish, by))


def lay_out(
    tasks: Iterable[Task],
    people: Sequence[str],
    hours: Hours = ALWAYS,
    *,
    real: Mapping[str, Real] | None = None,
    now: float = 0.0,
    tries: int | None = None,
) -> Layout:
    """Lays the tasks' mean lengths out for the people, in open time. Never raises; deterministic.

    ``real`` holds what has happened by the minute ``now``; what has not is laid out from then on. A task
    under way ends after its mean length, or now if that is over. ``tries`` is how many layouts to
    compare (by default up to :data:`MOST_TRIES`, fewer when there are many tasks; 0: the plain one).
    """
    return of_net(net(tasks), people, hours, real=real, now=now, tries=tries)


def of_net(
    web: Net,
    people: Sequence[str],
    hours: Hours = ALWAYS,
    *,
    real: Mapping[str, Real] | None = None,
    now: float = 0.0,
    tries: int | None = None,
    rank: Sequence[float] | None = None,
) -> Layout:
    """:func:`lay_out` of a network that stands already, by ``rank`` (lowest first) if it is given."""
    if web.cycle:
        return Layout((), None, tuple(web.places), (), 0.0, hours, now, web.cycle, web.problems)
    people = list(dict.fromkeys(people))
    known, problems = _happened(web, people, real or {})
    table = Table(web, people, hours, known, now)
    best = table.laid(in_turn(web, rank))
    if not best.unplaced:
        best = better(
            table,
            best,
            min(MOST_TRIES, EFFORT // max(len(web.tasks), 1)) if tries is None else tries,
        )
    chain = _chain(web, best, hours)
    variance = sum(
        web.tasks[place].variance for place in chain if best.state[place] != Progress.DONE
    )
    position = {web.tasks[place].key: at for at, place in enumerate(web.order)}
    placed = sorted(
        (
            Placed(task.key, begin, finish, best.who(at), best.state[at])
            for at, (task, begin, finish) in enumerate(
                zip(web.tasks, best.start, best.finish, strict=True)
            )
            if finish is not None
        ),
        key=lambda one: (one.start, one.finish, position[one.key]),
    )
    return Layout(
        tuple(placed),
        best.end,
        tuple(web.tasks[place].key for place in best.unplaced),
        tuple(web.tasks[place].key for place in chain),
        variance,
        hours,
        now,
        (),
        (*web.problems, *problems),
    )


def with_room(
    web: Net, people: Sequence[str], hours: Hours, end: float, order: Sequence[int] | None = None
) -> set[str]:
    """The keys of the tasks that have room when they are laid out back from the minute ``end``.

    A task without room is left out with all that comes before it. ``order`` is the turned network's, where
    it is known already (:func:`in_turn`).
    """
    back = web.turned()
    table = Table(back, list(dict.fromkeys(people)), hours.backwards(end), {}, 0.0)
    made = table.laid(in_turn(back) if order is None else order)
    span = end - min((begin for begin, _, _ in hours.spans), default=end)
    return {
        task.key
        for task, finish in zip(web.tasks, made.finish, strict=True)
        if finish is not None and finish <= span + NEAR
    }


def _happened(
    web: Net, people: list[str], real: Mapping[str, Real]
) -> tuple[dict[int, Real], list[str]]:
    """What happened by task's place; whoever did something is one of the people."""
    found: dict[int, Real] = {}
    problems = []
    for key, one in real.items():
        place = web.places.get(key)
        if place is None:
            problems.append(f"“{key}” has happened, but is not among the tasks")
            continue
        start = _minute(one.start)
        if one.finish is None:
            finish = None
        else:
            finish = max(_minute(one.finish), start)
        found[place] = Real(start, finish, one.person)
        if one.person and one.person not in people:
            people.append(one.person)
    return found, problems


def _minute(value: float) -> float:
    if not math.isnan(value):
        return min(max(value, -LONGEST), LONGEST)
    return 0.0


def _chain(web: Net, made: Made, hours: Hours) -> list[int]:
    """What the end hangs on, first task first."""
    ended = sorted(
        (finish, made.start[place], -place)
        for place, finish in enumerate(made.finish)
        if finish is not None
    )
    work: dict[
        int, list[tuple[float, float, int]]
    ] = {}  # each person's tasks in the order of their ends
    for one in ended:
        work.setdefault(made.hands[-one[2]], []).append(one)
    alone = [one for one in ended if web.tasks[-one[2]].alone]
    chain: list[int] = []
    seen: set[int] = set()
    if ended:
        place = -ended[-1][2]
    else:
        place = None
    while place is not None:
        chain.append(place)
        seen.add(place)
        begin = made.start[place]
        held = [
            (finish, True, -other)
            for other in web.before[place]
            if other not in seen
            and (finish := made.finish[other]) is not None
            and finish <= begin + NEAR
        ]
        if made.hands[place] >= 0:
            own = work[made.hands[place]]
        else:
            own = []
        for others in (ended,) if web.tasks[place].alone else (own, alone) if alone else (own,):
            at = bisect_right(others, (begin + NEAR, math.inf, 0)) - 1
            while at >= 0 and -others[at][2] in seen:
                at -= 1
            if at >= 0:
                held.append((others[at][0], False, others[at][2]))
        finish, _, other = max(held, default=(-math.inf, False, 0))
        if held and hours.open_between(finish, begin) <= NEAR:
            place = -other
        else:
            place = None
    return chain[::-1]
