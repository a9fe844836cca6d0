"""Rhythms: when desktops are rebuilt, week after week, and how many at most within so many minutes.

Rebuilds come in bursts: so many, evenly, from one minute to another. The burst is what counts: a night's
rebuilds lie within an hour, and an average over the day says nothing about that hour.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np

DAY, WEEK = 1440.0, 10_080.0  # minutes
INSTANT = 1 / 60  # minutes: what nobody knows the length of comes all at once
HAIR = 1e-6  # of a rebuild: what sums of fractions may be off


@dataclass(frozen=True, slots=True)
class Burst:
    """So many rebuilds, evenly, from ``starts`` on for ``length``; minutes."""

    starts: float
    length: float
    count: float


@dataclass(frozen=True)
class Rhythm:
    """Bursts that come again every ``period``. So many of one moment stand ``together``: a burst is not
    a stream, and a few are ready at the same time."""

    period: float
    bursts: tuple[Burst, ...]
    together: float = 1.0

    @functools.cached_property
    def total(self) -> float:
        """Rebuilds in one period."""
        return sum(burst.count for burst in self.bursts)

    def most_within(self, minutes: float) -> int:
        """The most rebuilds in any so many minutes, wherever they begin.

        Whole periods hold the same however they lie. Of what is left over, as many as its best place holds:
        of a row of rebuilds that stand ``together`` in fours, fewer than four more than the even stream has.
        """
        if minutes <= 0 or not self.total:
            return 0
        periods, rest = divmod(minutes, self.period)
        whole = periods * self.total
        if rest:
            over = math.ceil(self._best(rest) - HAIR) + self.together - 1
            whole += min(self.total, over)
        return math.ceil(whole - HAIR)

    def _best(self, window: float) -> float:
        """What the best place of a window shorter than a period holds of the even stream."""
        edges, made = self._stream
        ends = np.concatenate([edges, edges + window, [self.period]])
        ends = ends[(ends >= self.period) & (ends <= 2 * self.period)]
        found = np.interp(ends, edges, made) - np.interp(ends - window, edges, made)
        return float(found.max(initial=0.0))

    @functools.cached_property
    def _stream(self) -> tuple[np.ndarray, np.ndarray]:
        """How many were rebuilt by when, over three periods: straight lines between these points."""
        starts = np.array([burst.starts % self.period for burst in self.bursts])
        lengths = np.array([min(max(burst.length, INSTANT), self.period) for burst in self.bursts])
        counts = np.array([burst.count for burst in self.bursts])
        turns = np.array([-1, 0, 1])[:, None] * self.period
        begin, end = (starts + turns).ravel(), (starts + lengths + turns).ravel()
        pace = np.tile(counts / lengths, 3)
        edges, at = np.unique(np.concatenate([begin, end]), return_inverse=True)
        paces = np.cumsum(np.bincount(at.ravel(), weights=np.concatenate([pace, -pace])))
        made = np.concatenate([[0.0], np.cumsum(paces[:-1] * np.diff(edges))])
        return edges, made
