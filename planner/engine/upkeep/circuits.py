"""Circuits: which load goes on which, so that none carries more than it may."""

from __future__ import annotations

import math
from bisect import bisect_left, insort
from collections.abc import Sequence

SLACK = 1 + 1e-9  # so that four loads of a quarter fill a circuit, whatever binary fractions say
TRIES, FILL_TRIES = 20_000, 2_000
SEARCHED, FILLED = 60, 300  # beyond so many loads the slower ways are not gone


def spread(loads: Sequence[float], limit: float) -> list[list[int]]:
    """An arrangement of the loads on the fewest circuits that each carry at most ``limit``.

    ``loads`` and ``limit`` are in one unit, watts say; the answer lists each circuit's loads by
    their place in ``loads``. A load that no circuit carries is in none. The fewest is proven for
    what a small site has; for very many different loads the search ends after a fixed number of
    tries with the best found (then no more than 11/9 of the fewest and one: best fit decreasing).
    """
    whole = limit * SLACK
    order = sorted(
        (number for number, load in enumerate(loads) if 0 < load <= whole),
        key=lambda n: (-loads[n], n),
    )
    ways = [_best_fit(loads, order, whole)]
    if len(order) <= FILLED:
        ways.append(_fullest(loads, order, whole))
    found, least = min(ways, key=len), _least(loads, order, whole)
    while len(found) > least:
        better = _into(loads, order, whole, len(found) - 1)
        if better is None:
            break
        found = better
    return [sorted(circuit) for circuit in found]


def _best_fit(loads: Sequence[float], order: list[int], limit: float) -> list[list[int]]:
    """Largest first, each onto the circuit it fills best."""
    circuits: list[list[int]] = []
    room: list[tuple[float, int]] = []  # what is left of each circuit, ascending
    for number in order:
        place = bisect_left(room, (loads[number], -1))
        if place == len(room):
            circuits.append([number])
            insort(room, (limit - loads[number], len(circuits) - 1))
        else:
            left, circuit = room.pop(place)
            circuits[circuit].append(number)
            insort(room, (left - loads[number], circuit))
    return circuits


def _fullest(loads: Sequence[float], order: list[int], limit: float) -> list[list[int]]:
    """Circuit by circuit, each with the largest load left and those others that fill it best.

    Source: Gupta & Ho, A new heuristic algorithm for the one-dimensional bin-packing problem, Production
    Planning & Control 10(6), 1999 (least slack in every bin; from memory).
    """
    circuits, left = [], list(order)
    while left:
        first, *others = left
        circuits.append([first, *_filling(loads, others, limit - loads[first])])
        taken = set(circuits[-1])
        left = [number for number in left if number not in taken]
    return circuits


def _filling(loads: Sequence[float], order: list[int], room: float) -> list[int]:
    """Of the loads, largest first, those that together come nearest to ``room`` without going over it."""
    best: list[int] = []
    best_sum, tries = 0.0, FILL_TRIES
    waiting: list[tuple[int, float, tuple[int, ...]]] = [(0, 0.0, ())]
    while waiting and tries and best_sum < room * (1 - 1e-9):
        at, carried, chosen = waiting.pop()
        tries -= 1
        if carried > best_sum:
            best, best_sum = list(chosen), carried
        if at < len(order):
            load = loads[order[at]]
            waiting.append((at + 1, carried, chosen))
            if carried + load <= room:
                waiting.append((at + 1, carried + load, (*chosen, order[at])))
    return best


def _least(loads: Sequence[float], order: list[int], limit: float) -> int:
    """Circuits that no arrangement can do without: the sum, and loads of which no two share one."""
    if not order:
        return 0
    total = math.fsum(loads[number] for number in order)
    return max(math.ceil(total / limit), sum(loads[number] > limit / 2 for number in order))


def _into(
    loads: Sequence[float], order: list[int], limit: float, count: int
) -> list[list[int]] | None:
    """The loads on ``count`` circuits, by trying; ``None`` when that cannot be, or was not found in time."""
    room, tries = [limit] * count, TRIES
    circuits: list[list[int]] = [[] for _ in range(count)]
    if len(order) > SEARCHED:
        return None

    def place(at: int) -> bool:
        nonlocal tries
        if at == len(order):
            return True
        load, seen = loads[order[at]], set()
        for circuit in range(count):
            tries -= 1
            if tries < 0:
                return False
            if room[circuit] < load or room[circuit] in seen:
                continue
            seen.add(room[circuit])
            before = room[circuit]
            room[circuit] -= load
            circuits[circuit].append(order[at])
            if place(at + 1):
                return True
            circuits[circuit].pop()
            room[circuit] = before
        return False

    if place(0):
        return circuits
    return None
