"""Quick ways to place: largest first, in several orders."""

from __future__ import annotations

from planner.engine.placement.packing.problem import Packed, Problem, Room, Work


def orders(problem: Problem) -> list[list[int]]:
    """Class numbers, largest first, by several ideas of large."""
    memory = sum(one.memory for one in problem.bins) or 1
    vcpu = sum(one.vcpu for one in problem.bins) or 1
    disk = sum(problem.pools) or 1
    ideas = (
        lambda one: (
            one.memory / memory + one.vcpu / vcpu + (one.disk / disk if problem.pools else 0)
        ),
        lambda one: max(
            one.memory / memory, one.vcpu / vcpu, one.disk / disk if problem.pools else 0
        ),
        lambda one: (one.memory, one.vcpu),
        lambda one: (one.vcpu, one.memory),
    )
    found: list[list[int]] = []
    for idea in ideas:
        order = sorted(
            range(len(problem.classes)),
            key=lambda number: idea(problem.classes[number]),
            reverse=True,
        )
        if order not in found:
            found.append(order)
    return found


def pack_in_order(
    problem: Problem, order: list[int], bins: list[int] | range | None, drop: int = 0
) -> tuple[Room, int]:
    """Places the classes in ``order``, leaving out the first ``drop`` desktops of it; spread when ``bins`` is None."""
    room, left = Room(problem), drop
    for number in order:
        count = problem.classes[number].count
        dropped = min(drop, count)
        drop -= dropped
        count -= dropped
        left += room.spread(number, count) if bins is None else room.fill(number, count, bins)
    return room, left


def greedy(problem: Problem, work: Work, at_least: int) -> Packed:
    """The best of the quick ways: spread evenly if that fits, else packed tight, else with the
    largest desktops left out, as few as the quick ways manage."""
    size = len(problem.classes) * len(problem.bins) + 1
    tries = orders(problem)
    best, least = pack_in_order(problem, tries[0], None)
    work.spend(2 * size)
    small_first = sorted(
        range(len(problem.bins)), key=lambda at: (problem.bins[at].memory, problem.bins[at].vcpu)
    )
    for order in [*tries, tries[0][::-1]]:
        for bins in (range(len(problem.bins)), small_first):
            if least <= at_least or not work.spend(size):
                break
            room, left = pack_in_order(problem, order, bins)
            if left < least:
                best, least = room, left
    for order in tries:
        low, high = at_least, least  # leaving out the `high` largest is possible; is fewer?
        while low < high and work.spend(size):
            drop = (low + high) // 2
            room, left = pack_in_order(problem, order, small_first, drop)
            if left < least:
                best, least = room, left
            if left == drop:
                high = drop
            else:
                low = drop + 1
    return Packed(tuple(map(tuple, best.placed)), least, at_least)
