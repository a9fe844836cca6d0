"""Quick upper bounds: what no placement can beat."""

from __future__ import annotations

import math

from planner.engine.placement.packing.problem import Problem, Work

REACH_BITS = 1 << 22  # beyond it the reachable sum of a host is not looked for


def reachable(capacity: int, asks: tuple[tuple[int, int], ...], work: Work) -> int:
    """The largest sum of desktops' sizes, ``asks`` being (size, count), that is not over ``capacity``.

    Two hosts with 30 free hold 24 each when all desktops ask 12. A bounded subset sum on the bits
    of one large integer; where that would be too large, the capacity itself, which is never too low.
    """
    key = (capacity, asks)
    if key not in work.reach:
        if asks:
            step = math.gcd(*(size for size, _ in asks))
        else:
            step = 1
        limit = capacity // step
        work.reach[key] = capacity if limit > REACH_BITS else _subset_sum(limit, step, asks) * step
    return work.reach[key]


def _subset_sum(limit: int, step: int, asks: tuple[tuple[int, int], ...]) -> int:
    bits, mask = 1, (1 << (limit + 1)) - 1
    for size, count in asks:
        size //= step
        count, lot = min(count, limit // size), 1
        while count:
            take = min(lot, count)
            bits |= (bits << (size * take)) & mask
            count -= take
            lot *= 2
    return bits.bit_length() - 1


def most_placeable(problem: Problem, work: Work) -> int:
    """An upper bound on how many desktops can be placed.

    For memory, vCPU and disk alone: the smallest first into all hosts' reachable room together;
    and for every size, the desktops of that size or more against how many such each host holds.
    """
    bound = problem.total
    for dimension in ("memory", "vcpu"):
        asks = sorted((getattr(one, dimension), one.count) for one in problem.classes if one.count)
        bound = min(bound, _smallest_first(asks, _room(problem, dimension, work)))
    disk = _disk_room(problem)
    if disk is not None:
        asks = sorted((one.disk, one.count) for one in problem.classes if one.count)
        bound = min(bound, _smallest_first(asks, disk))
    return min(bound, _by_size(problem, work))


def most_more(most: Problem, plan: Problem, number: int, work: Work) -> int:
    """An upper bound on how many desktops of one class fit beside the whole of ``plan``; ``most`` is the
    same problem with as many of that class as could ever be. By room left over, all hosts together."""
    bound = most.classes[number].count
    ask = plan.classes[number]
    rooms = [(_room(most, word, work), word) for word in ("memory", "vcpu")]
    disk = _disk_room(plan)
    if disk is not None:
        rooms.append((disk, "disk"))
    for room, word in rooms:
        size = getattr(ask, word)
        used = sum(getattr(one, word) * one.count for one in plan.classes)
        if size:
            bound = min(bound, (room - used) // size)
    return max(0, bound)


def _room(problem: Problem, dimension: str, work: Work) -> int:
    """All hosts' room in one dimension, cut to what the desktops' sizes can reach on each."""
    asks = tuple(
        sorted(
            (getattr(c, dimension), c.count)
            for c in problem.classes
            if c.count and getattr(c, dimension)
        )
    )
    rooms = [getattr(one, dimension) for one in problem.bins]
    if work.spend(len(asks) * len(set(rooms)) * 4):
        rooms = [reachable(room, asks, work) for room in rooms]
    return sum(rooms)


def _disk_room(problem: Problem) -> int | None:
    """All pools together; ``None`` when disk does not bind on some host."""
    if any(one.pool < 0 for one in problem.bins):
        return None
    return sum(problem.pools[pool] for pool in {one.pool for one in problem.bins})


def _smallest_first(asks: list[tuple[int, int]], room: int) -> int:
    placed = 0
    for size, count in asks:
        if size:
            here = min(count, room // size)
        else:
            here = count
        placed += here
        room -= here * size
        if here < count:
            break
    return placed


def _by_size(problem: Problem, work: Work) -> int:
    """For every size: all smaller desktops, and of the rest as many as hosts hold of the smallest such."""
    bound, bins = problem.total, problem.bins
    for first, second in (("memory", "vcpu"), ("vcpu", "memory")):
        classes = sorted(
            (c for c in problem.classes if c.count), key=lambda c: getattr(c, first), reverse=True
        )
        large, least = 0, 0
        for one in classes:
            if not work.spend(len(bins)):
                return bound
            large += one.count
            other = getattr(one, second)
            if large == one.count:
                least = other
            else:
                least = min(least, other)
            size = getattr(one, first)
            held = sum(
                min(
                    getattr(b, first) // size if size else large,
                    getattr(b, second) // least if least else large,
                )
                for b in bins
            )
            bound = min(bound, problem.total - large + min(large, held))
    return bound
