"""The smallest standby that meets the target, template by template, the others as planned.

The random people are the same for every standby that is tried. Where no desktop can come back during
the morning the answer is read off the planned mornings, without simulating again. Builds begin in the order they
were asked for, so what the n-th person of a template asks for is ready at a time that does not hang
on its standby S, as long as the person asks for a build at all (n ≤ most − S): the i-th person takes
what became ready as the (i − S)-th, and more standby never makes anybody wait longer. Less standby
than planned may ask for builds that nobody asked for before: they are counted as never ready and, for
the other bound, as ready after one build alone; mostly both bounds say the same.

Where desktops come back, or the bounds differ, the standbys in question are simulated, as far as the
effort allows; each is then known to meet the target, or not. Beyond that the answer is an estimate: builds
that nobody asked for take the usual time, and desktops come back when they do in the planned mornings.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.engine.surge.arrivals import Arrivals
from planner.engine.surge.handouts import STEP, HandOuts, Path, hand_out
from planner.engine.surge.morning import STAYS, Morning, Stock

EFFORT = 1_000_000  # steps × mornings that trying may take, a step counting as a few mornings more


@dataclass(slots=True)
class Quest:
    """One template's search: every standby up to ``fails`` is too small, ``meets`` is enough (``limit + 1``:
    none is known to be). ``guess`` is where to look first."""

    number: int
    fails: int
    meets: int
    guess: int
    limit: int
    sure: bool = True
    tried: bool = False

    @property
    def open(self) -> bool:
        return self.meets - self.fails > 1

    @property
    def found(self) -> tuple[int | None, bool]:
        """The answer, and whether it is sure: the one below it is known to be too small."""
        if self.fails < self.guess < self.meets:
            standby = self.guess
        else:
            standby = self.meets
        return (
            standby if standby <= self.limit else None,
            self.sure and self.meets - self.fails == 1,
        )

    def next(self) -> list[int]:
        """Which standbys to try now: beside the guess first, then ever further from it, then in the middle."""
        if not self.tried:
            beside = [one for one in (self.guess - 1, self.guess) if self.fails < one < self.meets]
            return beside or [self.meets - 1]
        if self.meets > self.limit:
            return [min(self.limit, self.fails + 1 + abs(self.fails - self.guess))]
        if self.fails < 0:
            return [max(0, self.meets - 1 - abs(self.meets - self.guess))]
        return [(self.fails + self.meets) // 2]

    def learn(self, standby: int, enough: bool) -> None:
        self.tried = True
        if enough:
            self.meets = min(self.meets, standby)
        else:
            self.fails = max(self.fails, standby)


def smallest(
    morning: Morning,
    arrivals: Arrivals,
    stocks: Sequence[Stock],
    planned: HandOuts,
    *,
    effort: int = EFFORT,
) -> list[tuple[int | None, bool]]:
    """For each stock the smallest standby up to its *most* at which at most the allowed share of sign-ins waits
    longer than the target (``None``: no standby does), and whether that is sure.

    ``planned`` are the mornings of ``stocks`` as they are. No ``effort``: nothing is simulated again.
    """
    calm = _calm(morning, arrivals)
    quests = [
        _read_off(number, stock, path, morning, calm)
        for number, (stock, path) in enumerate(zip(stocks, planned.paths, strict=True))
    ]
    runs, columns = arrivals.times.shape
    while any(quest.open for quest in quests):
        tries = [(quest, standby) for quest in quests if quest.open for standby in quest.next()]
        effort -= columns * (STEP + runs * len(tries))
        if effort < 0:
            break
        _try(morning, arrivals, stocks, tries)
    return [quest.found for quest in quests]


def _calm(morning: Morning, arrivals: Arrivals) -> bool:
    """Whether no desktop can come back during the morning, however little anybody waits."""
    ends = morning.ends
    return not any(
        stock.back != STAYS
        and (arrivals.times[:, at] + arrivals.sessions[:, at]).min(initial=np.inf) <= ends
        for stock, at in zip(morning.stocks, arrivals.of, strict=True)
    )


def _try(
    morning: Morning, arrivals: Arrivals, stocks: Sequence[Stock], tries: list[tuple[Quest, int]]
) -> None:
    ways = []
    for quest, standby in tries:
        way = list(stocks)
        way[quest.number] = dataclasses.replace(way[quest.number], standby=standby)
        ways.append(way)
    for (quest, standby), found in zip(tries, hand_out(morning, arrivals, ways), strict=True):
        path = found.paths[quest.number]
        over = int((path.given > path.arrivals + morning.target_seconds).sum())
        quest.learn(standby, over <= _allowed(path, morning))
        quest.sure = quest.sure and found.settled


def _allowed(path: Path, morning: Morning) -> float:
    return morning.may_wait * int(np.isfinite(path.arrivals).sum()) + 1e-6


def _read_off(number: int, stock: Stock, path: Path, morning: Morning, calm: bool) -> Quest:
    """What the planned mornings say of one template's smallest standby."""
    limit, allowed = min(stock.most, path.arrivals.shape[1]), _allowed(path, morning)
    planned = _Planned(stock, path, morning)

    def first_enough(unasked: float, low: int, high: int) -> int:
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (
                (low, middle) if planned.over(middle, unasked) <= allowed else (middle, high)
            )
        return high

    if not calm:
        return Quest(number, -1, limit + 1, first_enough(planned.usual, -1, limit + 1), limit)
    meets = first_enough(np.inf, -1, limit + 1)
    if not meets or meets > stock.ready or planned.over(meets - 1, morning.build_seconds) > allowed:
        return Quest(number, meets - 1, meets, meets, limit)
    fails = first_enough(morning.build_seconds, -1, meets) - 1
    return Quest(number, fails, meets, first_enough(planned.usual, fails, meets), limit)


class _Planned:
    """One template's planned mornings, asked how many sign-ins would wait too long at another standby."""

    def __init__(self, stock: Stock, path: Path, morning: Morning):
        self.stock, self.path = stock, path
        self.late = path.arrivals + morning.target_seconds
        self.in_order = self._came(path.built)

    @functools.cached_property
    def usual(self) -> float:
        """Seconds from asking for a build until it is ready, usually; one build alone where none was asked for."""
        asked = np.isfinite(self.path.built)
        if asked.any():
            return float(np.mean(self.path.built[asked] - self.path.arrivals[asked]))
        return 0.0

    def _came(self, built: np.ndarray) -> np.ndarray:
        """All that becomes ready, in order, when these builds were asked for."""
        back = self.path.back
        return np.sort(built if back is None else np.concatenate([built, back], axis=1), axis=1)

    def over(self, standby: int, unasked: float) -> int:
        """Sign-ins that wait too long; a build that nobody asked for in the planned mornings takes ``unasked``
        seconds from its person's coming."""
        asks, people = max(0, self.stock.most - standby), self.path.built.shape[1]
        if standby > self.stock.ready and asks < people:
            in_order = self._came(self.path.built[:, :asks])
        elif standby < self.stock.ready and np.isfinite(unasked):
            built = self.path.built[:, :asks]
            in_order = self._came(
                np.where(np.isinf(built), self.path.arrivals[:, :asks] + unasked, built)
            )
        else:
            in_order = self.in_order
        late = self.late[:, standby:]
        served = in_order[:, : late.shape[1]]
        width = served.shape[1]
        return int(
            np.count_nonzero(served > late[:, :width]) + np.count_nonzero(late[:, width:] < np.inf)
        )
