"""A snug way to place: fill one host after another as full as its desktops' sizes allow.

The quick ways leave a little unused on every host, and where hosts are nearly full that little
adds up to desktops. Here each host takes the set of waiting desktops that leaves the least room
in what binds most (memory or vCPU), the large ones first, so that the small ones remain for the
gaps. The sets are found as bounded subset sums on the bits of large integers.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass

from planner.engine.placement.packing.problem import Packed, Problem, Room, Work

BITS = 1 << 20  # beyond it a host is too fine for subset sums
SHUFFLES = 12


def snug(problem: Problem, packed: Packed, work: Work) -> Packed:
    """``packed``, or a placement that leaves fewer out; as few as the bound says are tried first."""
    best = packed
    for dimension in _dimensions(problem):
        order = sorted(
            range(len(problem.classes)),
            key=lambda n: getattr(problem.classes[n], dimension),
            reverse=True,
        )
        for bins, even in _ways(problem, dimension):
            low, high = best.left_at_least, best.left
            while low < high:
                if low == best.left_at_least:
                    drop = low
                else:
                    drop = (low + high) // 2
                placed = _try(problem, dimension, order, bins, even, drop, work)
                if placed is None:
                    return best
                left = problem.total - sum(map(sum, placed))
                if left < best.left:
                    best = Packed(placed, left, best.left_at_least)
                high, low = (drop, low) if left <= drop else (high, drop + 1)
            if best.proved:
                return best
    return best


def _dimensions(problem: Problem) -> list[str]:
    """Memory and vCPU, the scarcer first."""

    def wanted(word: str) -> float:
        offered: int = sum(getattr(one, word) for one in problem.bins)
        asked: int = sum(getattr(one, word) * one.count for one in problem.classes)
        return asked / (offered or 1)

    return [
        word for word in sorted(("memory", "vcpu"), key=wanted, reverse=True) if wanted(word) > 0.7
    ]


def _ways(problem: Problem, dimension: str) -> Iterator[tuple[list[int], bool]]:
    """Orders of the hosts, and whether to deal evenly: the small first, the large first, then shuffled."""
    small = sorted(range(len(problem.bins)), key=lambda at: getattr(problem.bins[at], dimension))
    for even in (False, True):
        yield small, even
        yield small[::-1], even
    shuffle = random.Random(1)  # noqa: S311  (the same plan always gets the same answer)
    for number in range(SHUFFLES):
        shuffle.shuffle(small)
        yield list(small), number % 2 == 1


def _try(
    problem: Problem,
    dimension: str,
    order: list[int],
    bins: list[int],
    even: bool,
    drop: int,
    work: Work,
) -> tuple[tuple[int, ...], ...] | None:
    """Places all but the ``drop`` largest; ``None`` when there is nothing left to spend.

    ``even``: no host takes more of a class than its fair part of those waiting, and one, so that the
    last hosts are not left with all the small desktops and too few processors for them.
    """
    room, waiting = Room(problem), [one.count for one in problem.classes]
    for number in order:
        gone = min(drop, waiting[number])
        waiting[number] -= gone
        drop -= gone
    to_come = sum(getattr(problem.bins[at], dimension) for at in bins)
    for at in bins:
        if not work.spend(10 * len(order)):
            return None
        size = getattr(problem.bins[at], dimension)
        if even and to_come:
            most = [count * size // to_come + 1 for count in waiting]
        else:
            most = waiting
        to_come -= size
        for number, count in _fill(
            problem, room, at, dimension, order, list(map(min, most, waiting))
        ):
            room.put(number, at, count)
            waiting[number] -= count
    for number in order[::-1]:  # whatever is left, small ones first, wherever it still goes
        count = problem.classes[number].count - sum(room.placed[number])
        room.fill(number, count, range(len(problem.bins)))
    return tuple(map(tuple, room.placed))


def _fill(
    problem: Problem, room: Room, at: int, dimension: str, order: list[int], most: list[int]
) -> list[tuple[int, int]]:
    """What to put on an empty bin, at ``most`` so many of each class: pairs of class and count."""
    sizes = [getattr(one, dimension) for one in problem.classes]
    lots = [_Lot(n, sizes[n], min(most[n], room.fits(problem.classes[n], at))) for n in order]
    lots = [lot for lot in lots if lot.count and lot.size]
    chosen = _fullest(getattr(room, dimension)[at], lots)
    if _holds(problem, room, at, chosen):
        return chosen
    return _in_order(problem, room, at, lots)


@dataclass(frozen=True, slots=True)
class _Lot:
    number: int
    size: int
    count: int


def _fullest(free: int, lots: list[_Lot]) -> list[tuple[int, int]]:
    """The set with the largest sum not over ``free``; of such sets one with many large ones. ``lots`` are
    largest first. Empty when the sums are too fine to list."""
    if lots:
        step = math.gcd(*(lot.size for lot in lots))
    else:
        step = 1
    limit = free // step
    if limit > BITS:
        return []
    mask, reach = (1 << (limit + 1)) - 1, [1]
    for lot in reversed(lots):
        bits, size, left, take = reach[-1], lot.size // step, min(lot.count, free // lot.size), 1
        while left:
            here = min(take, left)
            bits |= (bits << (size * here)) & mask
            left -= here
            take *= 2
        reach.append(bits)
    target, chosen = reach[-1].bit_length() - 1, []
    for lot, below in zip(lots, reversed(reach[:-1]), strict=True):
        size = lot.size // step
        count = next(
            n
            for n in range(min(lot.count, target // size), -1, -1)
            if below >> (target - n * size) & 1
        )
        target -= count * size
        if count:
            chosen.append((lot.number, count))
    return chosen


def _holds(problem: Problem, room: Room, at: int, chosen: list[tuple[int, int]]) -> bool:
    asks = [(problem.classes[number], count) for number, count in chosen]
    pool = problem.bins[at].pool
    return (
        bool(chosen)
        and sum(ask.memory * count for ask, count in asks) <= room.memory[at]
        and sum(ask.vcpu * count for ask, count in asks) <= room.vcpu[at]
        and (pool < 0 or sum(ask.disk * count for ask, count in asks) <= room.pools[pool])
    )


def _in_order(problem: Problem, room: Room, at: int, lots: list[_Lot]) -> list[tuple[int, int]]:
    """Largest first, as many as go: when the fullest set breaks another limit."""
    memory, vcpu = room.memory[at], room.vcpu[at]
    pool = problem.bins[at].pool
    if pool >= 0:
        disk = room.pools[pool]
    else:
        disk = 0
    chosen = []
    for lot in lots:
        ask, count = problem.classes[lot.number], lot.count
        for free, size in (
            (memory, ask.memory),
            (vcpu, ask.vcpu),
            (disk, ask.disk if pool >= 0 else 0),
        ):
            if size:
                count = min(count, free // size)
        if count > 0:
            memory, vcpu, disk = (
                memory - ask.memory * count,
                vcpu - ask.vcpu * count,
                disk - ask.disk * count,
            )
            chosen.append((lot.number, count))
    return chosen
