"""The answers: do all fit, do they fit with one host down, how many more."""

from __future__ import annotations

from dataclasses import replace

from planner.engine.placement.packing import exact
from planner.engine.placement.packing.bounds import most_more, most_placeable
from planner.engine.placement.packing.problem import Packed, Problem, Room, Work
from planner.engine.placement.packing.quick import greedy, orders
from planner.engine.placement.packing.snug import snug


def pack(problem: Problem, work: Work) -> Packed:
    """The placement with the fewest desktops left out; ``proved`` says whether fewer is impossible."""
    if not problem.total or not problem.bins:
        empty = tuple((0,) * len(problem.bins) for _ in problem.classes)
        return Packed(empty, problem.total, problem.total)
    packed = quickly(problem, problem.total - most_placeable(problem, work), work)
    if packed.proved:
        return packed
    return exactly(problem, packed, work)


def quickly(problem: Problem, at_least: int, work: Work) -> Packed:
    """The best placement the quick ways find; ``at_least`` so many are left out by any."""
    packed = greedy(problem, work, at_least)
    if packed.proved:
        return packed
    return snug(problem, packed, work)


def exactly(problem: Problem, packed: Packed, work: Work) -> Packed:
    """Asks the exact solver for a better placement than ``packed``, or for the proof that there is none."""
    counts = [one.count for one in problem.classes]
    bound = problem.total - packed.left_at_least
    found = exact.solve(problem, [0] * len(counts), counts, bound, work)
    if found is None:
        return packed
    placed, at_most = found
    left_at_least = max(packed.left_at_least, problem.total - at_most)
    left = problem.total - sum(map(sum, placed))
    if left < packed.left:
        return Packed(placed, left, left_at_least)
    return replace(packed, left_at_least=min(packed.left, left_at_least))


def one_down(problem: Problem, packed: Packed, down: int, work: Work) -> Packed:
    """The placement without bin ``down``. ``placed`` has no column for it.

    First only its own desktops move to where others leave room, as they would on the day; then
    everything may be placed anew.
    """
    rest = problem.without(down)
    room, left = Room(rest), packed.left
    for number, row in enumerate(packed.placed):
        for at, count in enumerate(row[:down] + row[down + 1 :]):
            if count:
                room.put(number, at, count)
    for number in orders(rest)[0] if rest.bins else ():
        left += room.spread(number, packed.placed[number][down])
    work.spend(2 * len(rest.bins) * len(rest.classes))
    if left == 0 and rest.bins:
        return Packed(tuple(map(tuple, room.placed)), 0, 0)
    return pack(rest, work)


def more(problem: Problem, packed: Packed, number: int, work: Work) -> tuple[int, bool]:
    """How many more desktops of one class fit when all others stay, and whether that is proved.

    Not proved means: at least so many.
    """
    if packed.left:
        return 0, packed.fits is False
    held = sum(_alone(problem, number, at) for at in range(len(problem.bins)))
    wanted = problem.classes[number].count
    most = _with_count(problem, number, max(held, wanted))
    high = min(
        held - wanted,
        most_placeable(most, work) - problem.total,
        most_more(most, problem, number, work),
    )
    room = _room_of(problem, packed)
    low = min(high, held - room.fill(number, held, range(len(problem.bins))) if held else 0)
    top, middle = high, high  # the most that could be is often the most that is: tried first
    while low < top and work.steps > 0:
        if quickly(_with_count(problem, number, wanted + middle), 0, work).left == 0:
            low = middle
        else:
            top = middle - 1
        middle = (low + top + 1) // 2
    if low >= high:
        return low, True
    counts = [one.count for one in problem.classes]
    at_most = [*counts[:number], wanted + high, *counts[number + 1 :]]
    found = exact.solve(most, counts, at_most, problem.total + high, work)
    if found is None:
        return low, False
    placed, bound = found
    best = max(low, sum(map(sum, placed)) - problem.total)
    return best, best >= bound - problem.total


def _alone(problem: Problem, number: int, at: int) -> int:
    """How many of a class a bin holds when it holds nothing else."""
    ask, one = problem.classes[number], problem.bins[at]
    limits = [
        room // size for room, size in ((one.memory, ask.memory), (one.vcpu, ask.vcpu)) if size
    ]
    if one.pool >= 0 and ask.disk:
        limits.append(problem.pools[one.pool] // ask.disk)
    return min(limits, default=0)


def _with_count(problem: Problem, number: int, count: int) -> Problem:
    changed = replace(problem.classes[number], count=count)
    return replace(
        problem, classes=(*problem.classes[:number], changed, *problem.classes[number + 1 :])
    )


def _room_of(problem: Problem, packed: Packed) -> Room:
    """What ``packed`` leaves free; counts are lifted, so that more than planned may be placed."""
    room = Room(
        replace(problem, classes=tuple(replace(one, count=10**18) for one in problem.classes))
    )
    for number, row in enumerate(packed.placed):
        for at, count in enumerate(row):
            room.put(number, at, count)
    return room
