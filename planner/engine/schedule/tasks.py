"""What is to be scheduled: tasks with three times each, and the network they form."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from planner.record.choices import Choice

LONGEST = 10_000_000.0  # minutes, some nineteen years: anything longer is a slip of the pen


class Progress(Choice):
    """How real a task's place is."""

    PLANNED = "planned"
    UNDER_WAY = "under way"  # begun; its end is an estimate
    DONE = "done"


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of work or one wait. Times are in minutes.

    ``optimistic``, ``likely`` and ``pessimistic`` are the three estimates of its length. An ``attended``
    task takes one person's whole attention: one of ``people``, or anybody when that is empty; one that
    is not attended takes nobody's. It begins after every task in ``after`` has ended, and not before
    the minute ``earliest``. While an ``alone`` task runs, attended or not, no other task does, neither
    anybody's work nor a wait; a break or a night that a task spans belongs to it.
    """

    key: str
    optimistic: float
    likely: float
    pessimistic: float
    attended: bool = True
    after: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    earliest: float = 0.0
    alone: bool = False

    @property
    def times(self) -> tuple[float, float, float]:
        """The three estimates, put in order; a length that cannot be is nought or :data:`LONGEST`."""
        low, middle, high = self.optimistic, self.likely, self.pessimistic
        if 0 <= low <= middle <= high <= LONGEST:
            return low, middle, high
        low, middle, high = sorted((_length(low), _length(middle), _length(high)))
        return low, middle, high

    @property
    def mean(self) -> float:
        """(o + 4m + p) / 6, in minutes.

        Source: Malcolm, Roseboom, Clark and Fazar, Operations Research 7(5), 1959 (from memory).
        """
        low, middle, high = self.times
        return (low + 4 * middle + high) / 6

    @property
    def variance(self) -> float:
        """((p − o) / 6)², in minutes squared. Source: as for the mean."""
        low, _, high = self.times
        return ((high - low) / 6) ** 2


def _length(minutes: float) -> float:
    return min(minutes, LONGEST) if minutes > 0 else 0.0  # what is not a number is not above nought


@dataclass(frozen=True)
class Net:
    """Tasks as a network: everything by the task's place in ``tasks``.

    ``before`` and ``behind`` are the places of what comes directly before and after each; ``order`` has
    every place after those before it, and is empty when there is a ``cycle`` (keys, the first again at
    the end). ``problems`` say in words what was passed over.
    """

    tasks: tuple[Task, ...]
    places: dict[str, int]
    before: list[list[int]]
    behind: list[list[int]]
    order: list[int]
    lengths: list[float]
    cycle: tuple[str, ...] = ()
    problems: tuple[str, ...] = field(default=())

    def turned(self) -> Net:
        """The network from its end: what came before comes behind. ``earliest`` still counts from the start."""
        return Net(
            self.tasks,
            self.places,
            self.behind,
            self.before,
            self.order[::-1],
            self.lengths,
            self.cycle,
        )


def net(tasks: Iterable[Task]) -> Net:
    """The network of the tasks. Never raises: a circle is told in ``cycle``, the rest in ``problems``.

    Of two tasks with one key the first counts; what comes after a task that is not there does not wait.
    """
    problems: list[str] = []
    known: list[Task] = []
    places: dict[str, int] = {}
    for task in tasks:
        if task.key in places:
            problems.append(f"“{task.key}” stands twice; the first one counts")
        else:
            places[task.key] = len(known)
            known.append(task)
            if not _sound(task):
                problems.append(f"the times of “{task.key}” are not three lengths in order")
    before: list[list[int]] = []
    behind: list[list[int]] = [[] for _ in known]
    for place, task in enumerate(known):
        found = []
        for key in dict.fromkeys(task.after):
            other = places.get(key)
            if other is None:
                problems.append(f"“{task.key}” waits for “{key}”, which is not there")
            else:
                found.append(other)
                behind[other].append(place)
        before.append(found)
    order = _in_order(before, behind)
    if len(order) < len(known):
        cycle = _cycle(known, before, order)
    else:
        cycle = ()
    lengths = [task.mean for task in known]
    return Net(
        tuple(known),
        places,
        before,
        behind,
        [] if cycle else order,
        lengths,
        cycle,
        tuple(problems),
    )


def _sound(task: Task) -> bool:
    low, middle, high = task.optimistic, task.likely, task.pessimistic
    return 0 <= low <= middle <= high <= LONGEST and not math.isnan(task.earliest)


def _in_order(before: Sequence[Sequence[int]], behind: Sequence[Sequence[int]]) -> list[int]:
    """Every place after those before it, as near to the given order as can be; less on a circle."""
    waiting = [len(found) for found in before]
    order = [place for place, count in enumerate(waiting) if not count]
    for place in order:  # the list grows while it is walked
        for other in behind[place]:
            waiting[other] -= 1
            if not waiting[other]:
                order.append(other)
    return order


def _cycle(
    tasks: Sequence[Task], before: Sequence[Sequence[int]], order: Sequence[int]
) -> tuple[str, ...]:
    """One circle: from a task that never comes up, back along what it waits for, until one repeats."""
    stuck = set(range(len(tasks))).difference(order)
    walked: dict[int, int] = {}
    place = min(stuck)
    while place not in walked:
        walked[place] = len(walked)
        place = next(other for other in before[place] if other in stuck)
    circle = [one for one, at in walked.items() if at >= walked[place]]
    return tuple(tasks[one].key for one in (place, *reversed(circle)))


def earliest(task: Task) -> float:
    """When a task may begin, in minutes; nought when nobody said, or when what was said is no time."""
    if task.earliest > 0:
        return min(task.earliest, LONGEST)
    return 0.0
