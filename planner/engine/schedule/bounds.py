"""How early the end could come at best: no layout, however clever, beats this minute."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from planner.engine.schedule.hours import ALWAYS, Hours
from planner.engine.schedule.tasks import Net, Task, earliest, net

HEADS = 48  # beginnings tried for each group of tasks; fewer only make the bound weaker


def lower_bound(
    tasks: Iterable[Task], people: Sequence[str], hours: Hours = ALWAYS
) -> float | None:
    """The minute before which all cannot be done; ``None`` on a circle, or when somebody is missing for a task.

    The largest of these. The longest chain in open time, with nobody short of people. And for every group of
    attended tasks: none of it can begin before the earliest of them, together they keep its people busy for
    so long, and after the last of them what must follow still takes its time. Groups are all tasks, and
    those that only one person may do, each cut by when they can begin and by what follows. An alone task
    keeps everybody busy. And a chain and the alone tasks beside it can only be done one after the other.

    Source: the head, body and tail of a group as in Carlier, The one-machine sequencing problem, European
    Journal of Operational Research 11, 1982, taken over several people (from memory).
    """
    return of_net(net(tasks), people, hours)


def of_net(web: Net, people: Sequence[str], hours: Hours = ALWAYS) -> float | None:
    """:func:`lower_bound` of a network that stands already."""
    names = list(dict.fromkeys(people))
    hands = [
        [name for name in names if not task.people or name in task.people] for task in web.tasks
    ]
    if web.cycle or any(
        task.attended and not found for task, found in zip(web.tasks, hands, strict=True)
    ):
        return None
    head, finish = _heads(web, hours)
    tail = _tails(web)
    tasks = web.tasks
    alone = [place for place, task in enumerate(tasks) if task.alone]
    busy = [place for place, task in enumerate(tasks) if task.attended]
    lengths, crowd = web.lengths, max(len(names), 1)
    bound = max(finish, default=0.0)
    if alone:
        bound = max(bound, _one_by_one(web, alone, head))
        if (
            hours is ALWAYS
        ):  # elsewhere a wait may run while time is closed and keep nobody from anything
            busy += [place for place in alone if not tasks[place].attended]
        lengths = [
            one * crowd if task.alone else one for one, task in zip(lengths, tasks, strict=True)
        ]
    bound = max(bound, _group(busy, head, tail, lengths, crowd, hours))
    for name in names:
        own = [place for place in busy if hands[place] == [name] or tasks[place].alone]
        bound = max(bound, _group(own, head, tail, web.lengths, 1, hours))
    if math.isfinite(bound):
        return bound
    return None


def _one_by_one(web: Net, alone: list[int], head: list[float]) -> float:
    """The bound from a chain and the alone tasks: no two of these run at once, whatever the hours.

    From every minute at which an alone task can begin: the longest chain that begins from then on, its own
    alone tasks not counted, and all alone tasks of which none can begin before it.
    """
    chain = [0.0] * len(head)
    for place in reversed(web.order):
        if web.tasks[place].alone:
            own = 0.0
        else:
            own = web.lengths[place]
        chain[place] = own + max((chain[other] for other in web.behind[place]), default=0.0)
    heads = sorted({0.0, *(head[place] for place in alone)})
    bound = 0.0
    for first in heads[:: -(-len(heads) // HEADS)]:
        work = sum(web.lengths[place] for place in alone if head[place] >= first)
        longest = max(
            (one for one, begin in zip(chain, head, strict=True) if begin >= first), default=0.0
        )
        bound = max(bound, first + work + longest)
    return bound


def _heads(web: Net, hours: Hours) -> tuple[list[float], list[float]]:
    """When each task can begin and end at the earliest in open time; infinite where it never can."""
    start, finish = [0.0] * len(web.tasks), [0.0] * len(web.tasks)
    for place in web.order:
        task = web.tasks[place]
        ready = max([earliest(task), *(finish[other] for other in web.before[place])])
        runs = (hours.begin if task.attended else hours.wait)(ready, web.lengths[place])
        start[place], finish[place] = runs or (math.inf, math.inf)
    return start, finish


def _tails(web: Net) -> list[float]:
    """The minutes that must still pass after each task, at least."""
    tail = [0.0] * len(web.tasks)
    for place in reversed(web.order):
        tail[place] = max(
            (tail[other] + web.lengths[other] for other in web.behind[place]), default=0.0
        )
    return tail


def _group(
    group: list[int],
    head: list[float],
    tail: list[float],
    lengths: list[float],
    people: int,
    hours: Hours,
) -> float:
    """The bound from one group of attended tasks that ``people`` share."""
    heads = sorted({head[place] for place in group})
    step = -(-len(heads) // HEADS) or 1
    by_tail = sorted(group, key=lambda place: -tail[place])
    bound = 0.0
    for first in heads[::step]:
        work = 0.0
        told = None
        for place in by_tail:
            if head[place] < first:
                continue
            if (
                told is not None and tail[place] < told
            ):  # only where what follows gets less is it worth asking
                bound = max(bound, hours.after(first, work / people) + told)
            work += lengths[place]
            told = tail[place]
        if told is not None:
            bound = max(bound, hours.after(first, work / people) + told)
    return bound
