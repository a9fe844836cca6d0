"""In which turn tasks are laid out, and how a layout is made better (see :mod:`laying`)."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator, Sequence

from planner.engine.schedule import bounds, path
from planner.engine.schedule.hours import ALWAYS, NEAR
from planner.engine.schedule.table import Made, Table
from planner.engine.schedule.tasks import Net

TURNS = 4  # at most for one layout; each costs two passes
SHAKEN, SEED = 0.25, 7  # of the whole length; how far a rank is shaken


def in_turn(web: Net, rank: Sequence[float] | None = None) -> list[int]:
    """Every place after those before it, by rank; without one by latest finish, then by latest start."""
    position = [0] * len(web.tasks)
    for at, place in enumerate(web.order):
        position[place] = at
    if rank is not None:
        return _sifted(web, sorted(web.order, key=lambda place: (rank[place], position[place])))
    end = max(path.early(web)[1], default=0.0)
    start, finish = path.late(web, end)
    return sorted(web.order, key=lambda place: (finish[place], start[place], position[place]))


def _sifted(web: Net, order: list[int]) -> list[int]:
    """The same order, with whatever stood before what it must follow put behind it."""
    done = [False] * len(order)
    found: list[int] = []
    for first in order:
        stack = [first]
        while stack:
            place = stack[-1]
            if done[place]:
                missing = []
            else:
                missing = [other for other in web.before[place] if not done[other]]
            if missing:
                stack += missing
                continue
            stack.pop()
            if not done[place]:
                done[place] = True
                found.append(place)
    return found


def better(table: Table, best: Made, tries: int) -> Made:
    """Turns the layout, then others by other ranks, until the tries are over or none can be better."""
    if tries < 1:
        return best
    bound = None
    if not table.known and table.now <= 0:
        bound = bounds.of_net(table.web, table.people, table.hours)
    for rank in itertools.islice(_ranks(table.web), tries):
        if bound is not None and (best.end or 0.0) <= bound + NEAR:
            break
        made = _turned(table, best if rank is None else table.laid(in_turn(table.web, rank)))
        if not made.unplaced and (made.end or 0.0) < (best.end or 0.0) - NEAR:
            best = made
    return best


def _ranks(web: Net) -> Iterator[list[float] | None]:
    """What to lay out by: latest finish (``None``), latest start, what follows, then finishes shaken a little."""
    end = max(path.early(web)[1], default=0.0)
    start, finish = path.late(web, end)
    yield None
    yield start
    yield [
        -length - sum(web.lengths[other] for other in web.behind[at])
        for at, length in enumerate(web.lengths)
    ]
    draw = random.Random(SEED)  # noqa: S311 (chance is no secret here, and the same every time)
    while True:
        yield [one + draw.random() * SHAKEN * end for one in finish]


def _turned(table: Table, best: Made) -> Made:
    """Lays out from the end and again from the beginning while the end comes earlier."""
    web = table.web
    back = web.turned()
    mirror = Table(back, table.people, ALWAYS, {}, 0.0)
    mirror.ready = [-math.inf] * len(web.tasks)
    made = best
    for _ in range(TURNS):
        late_first = in_turn(back, [-(finish or 0.0) for finish in made.finish])
        turned = mirror.laid(late_first)
        made = table.laid(in_turn(web, [-(finish or 0.0) for finish in turned.finish]))
        if made.unplaced or (made.end or 0.0) >= (best.end or 0.0) - NEAR:
            break
        best = made
    return best
