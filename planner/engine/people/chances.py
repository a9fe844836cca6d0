"""Chances: how many of several crowds are there at once, exactly.

Each of n people is there with the same chance, by himself: the count is binomial. Several crowds add
as a convolution. Nothing is approximated: the chances of neighbouring counts stand in a known ratio,
so they are multiplied up from the commonest count and then made to sum to one. What is rarer than
:data:`FLOOR` of the commonest count is left out, so that the work stays bounded.

People who come and go together (a meeting of the whole house) are not by themselves: for them the
share at once is the one of that day.

Source: W. Feller, An Introduction to Probability Theory and Its Applications, vol. 1, 3rd ed., ch. VI
§3 (ratio of neighbouring binomial terms) and ch. XI §2 (convolution), from memory.
"""

from __future__ import annotations

import functools
import heapq
import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

FLOOR = 1e-60
PEOPLE_MOST = 1_000_000  # more in one sum is a slip of the keyboard
NEAR = 1e-12  # what rounding may add to a chance that stands exactly on the risk

Crowd = tuple[int, float]


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """The chance of every count from ``first`` on (``chances``, floats that sum to 1). What is not
    listed is rarer than any plan asks about and counts as impossible."""

    first: int
    chances: np.ndarray

    @property
    def last(self) -> int:
        return self.first + len(self.chances) - 1

    def over(self, count: float) -> float:
        """P(X > count), between 0 and 1; ``count`` may be any number."""
        if not count < self.last:
            return 0.0
        if count < self.first:
            return 1.0
        # the small ones first, so that a far tail keeps its digits
        return float(min(1.0, self.chances[: math.floor(count) - self.first : -1].sum()))

    def enough(self, risk: float) -> int:
        """The smallest m ≥ 0 with P(X > m) ≤ risk. A risk that is not above nought asks for the last."""
        if not risk > 0:  # also what is no number
            return self.last
        if risk >= 1:
            return 0
        beyond = np.cumsum(self.chances[::-1])[::-1][1:]  # P(X > first), P(X > first + 1) …
        return self.first + int(np.count_nonzero(beyond > risk * (1 + NEAR)))


def binomial(people: int, share: float) -> Spread:
    """How many of ``people`` (0 …) are there when each is with chance ``share`` (0 … 1)."""
    if people == 0 or share == 0:
        return Spread(0, np.ones(1))
    if share == 1:
        return Spread(people, np.ones(1))
    mode = min(people, int((people + 1) * share))
    reach = math.ceil(17 * math.sqrt(people * share * (1 - share))) + 200  # safely beyond the floor
    low, high = max(0, mode - reach), min(people, mode + reach)
    odds = share / (1 - share)
    up, down = np.arange(mode, high, dtype=float), np.arange(mode, low, -1, dtype=float)
    rising = np.cumprod((people - up) / (up + 1) * odds)
    falling = np.cumprod(down / (people - down + 1) / odds)
    return _trimmed(low, np.concatenate((falling[::-1], np.ones(1), rising)))


def add(spreads: Iterable[Spread]) -> Spread:
    """The spread of the sum of counts that do not hang together; nought when there are none."""
    waiting = [(len(one.chances), number, one) for number, one in enumerate(spreads)]
    heapq.heapify(waiting)  # the shortest first: the least work
    serial = len(waiting)
    while len(waiting) > 1:
        one, other = heapq.heappop(waiting)[2], heapq.heappop(waiting)[2]
        both = _trimmed(one.first + other.first, np.convolve(one.chances, other.chances))
        heapq.heappush(waiting, (len(both.chances), serial, both))
        serial += 1
    if waiting:
        return waiting[0][2]
    return Spread(0, np.ones(1))


def together(crowds: Iterable[Crowd]) -> Spread | None:
    """How many of all the crowds, (people, share) each, are there at once. None when there are more
    people than :data:`PEOPLE_MOST`, or when a number cannot be one."""
    people_by_share: dict[float, int] = {}
    for people, share in crowds:
        if not 0 <= people <= PEOPLE_MOST or not 0 <= share <= 1:
            return None
        people_by_share[share] = people_by_share.get(share, 0) + int(people)
    if sum(people_by_share.values()) > PEOPLE_MOST:
        return None
    return _together(tuple(sorted(people_by_share.items())))


@functools.lru_cache(maxsize=64)
def _together(people_by_share: tuple[tuple[float, int], ...]) -> Spread:
    return add(binomial(people, share) for share, people in people_by_share)


def _trimmed(first: int, weights: np.ndarray) -> Spread:
    kept = np.flatnonzero(weights >= FLOOR * weights.max())
    weights = weights[kept[0] : kept[-1] + 1]
    return Spread(first + int(kept[0]), weights / weights.sum())
