"""What the simulated mornings say: how long people wait, how many, and the curve of the morning."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from planner.engine.surge.handouts import Path
from planner.engine.surge.morning import Host, Stock
from planner.record.facts import Id

MINUTES_MOST = 1440


@dataclass(frozen=True, slots=True)
class Waits:
    """How long people wait for a desktop, over all simulated mornings.

    ``sign_ins`` a morning on average. ``median``, ``p95`` and ``p99`` in seconds: so much of the sign-ins
    wait no longer; ``inf`` is a person who gets no desktop that morning, and so many of them there are
    (``none``). ``over`` of the sign-ins wait longer than the target, which is the share ``over_share``;
    the share's standard error is ``over_error``.
    """

    sign_ins: float
    median: float
    p95: float
    p99: float
    over: float
    over_share: float
    over_error: float
    none: float


@dataclass(frozen=True, slots=True)
class Curve:
    """The morning by minute, means over the simulated mornings; the first value is at the end of minute
    ``first`` of the day. ``arrivals`` in the minute; people ``waiting`` at its end, and at most so many on 95
    mornings of a hundred; desktops that stand ``ready``."""

    first: int
    arrivals: tuple[float, ...]
    waiting: tuple[float, ...]
    waiting_p95: tuple[float, ...]
    ready: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class TemplateMorning:
    """One template's morning. ``standby`` and ``most`` are what the simulation had: never more than there is room for.

    ``waits`` is ``None`` where the standby is not known or nobody comes, and ``meets`` with it. ``smallest``
    is the smallest standby that meets the target, every other template as planned; ``None`` where not even
    *most* does. It is ``sure`` when it is exact for these mornings, else the best estimate.
    """

    template_id: Id
    name: str
    standby: int | None
    most: int
    waits: Waits | None
    meets: bool | None
    smallest: int | None
    sure: bool


@dataclass(frozen=True)
class Course:
    """How the morning goes with every host there, or with the host ``down``.

    ``site`` is over all templates whose standby is known; ``settled`` is false where so many sessions
    follow each other that the last waits are not exact.
    """

    down: Host | None
    runs: int
    templates: tuple[TemplateMorning, ...]
    site: Waits | None
    settled: bool
    _stocks: tuple[Stock, ...] = field(default=(), repr=False, compare=False)
    _paths: tuple[Path, ...] = field(default=(), repr=False, compare=False)

    @functools.cached_property
    def _by_id(self) -> dict[Id, TemplateMorning]:
        return {one.template_id: one for one in self.templates}

    def of(self, template_id: Id | None) -> TemplateMorning | None:
        """One template's morning, ``None`` where it could not be worked out."""
        if template_id is not None:
            return self._by_id.get(template_id)
        return None

    @functools.cached_property
    def curve(self) -> Curve | None:
        """All templates together; ``None`` when nobody comes or the mornings were not kept."""
        return curve(self._stocks, self._paths)

    def curve_of(self, template_id: Id | None) -> Curve | None:
        """The curve of one template."""
        pairs = zip(self._stocks, self._paths, strict=False)
        found = [(stock, path) for stock, path in pairs if stock.template_id == template_id]
        return curve([stock for stock, _ in found], [path for _, path in found])


def waits_of(paths: Sequence[Path], target: float) -> Waits | None:
    """Waits of everybody on these paths, ``target`` in seconds; ``None`` when nobody comes."""
    if paths:
        runs = len(paths[0].arrivals)
    else:
        runs = 0
    people, over, parts = np.zeros(runs), np.zeros(runs), []
    for path in paths:
        there = path.arrivals < np.inf
        people += np.count_nonzero(there, axis=1)
        over += np.count_nonzero(
            path.given > path.arrivals + target, axis=1
        )  # nobody's inf is not more than inf
        parts.append(path.given[there] - path.arrivals[there])
    total, late = float(people.sum()), float(over.sum())
    if not total:
        return None
    waits = np.sort(np.concatenate(parts))
    median, p95, p99 = (
        float(waits[max(0, math.ceil(share * len(waits)) - 1)]) for share in (0.5, 0.95, 0.99)
    )
    scatter = float(((over - late / total * people) ** 2).sum())
    error = math.sqrt(scatter * runs / max(1, runs - 1)) / total
    none = np.count_nonzero(waits == np.inf) / runs
    return Waits(total / runs, median, p95, p99, late / runs, late / total, error, none)


def hurt(paths: Sequence[Path]) -> tuple[float, float]:
    """How badly a morning goes: people who get no desktop, a morning on average, then the longest wait in seconds
    of those who get one."""
    none, longest = 0.0, 0.0
    for path in paths:
        there = path.arrivals < np.inf
        waits = path.given[there] - path.arrivals[there]
        served = np.isfinite(waits)
        none += float(np.count_nonzero(~served)) / len(path.arrivals)
        longest = max(longest, float(waits[served].max(initial=0.0)))
    return none, longest


def curve(stocks: Sequence[Stock], paths: Sequence[Path]) -> Curve | None:
    """The curve of these templates together; at most a day long."""
    times = [path.arrivals[np.isfinite(path.arrivals)] for path in paths]
    ends = [path.given[np.isfinite(path.given)] for path in paths]
    if not any(len(one) for one in times):
        return None
    first = int(min(one.min() for one in times if len(one)) // 60)
    last = max(float(one.max()) for one in (*times, *ends) if len(one))
    minutes = min(MINUTES_MOST, math.ceil(last / 60) - first + 1)
    runs = len(paths[0].arrivals)

    def by_then(tables: Sequence[np.ndarray]) -> np.ndarray:
        """How many of the times lie before the end of each minute: [run, minute]."""
        found = np.zeros(runs * minutes, int)
        for table in tables:
            run, column = np.nonzero(table < 60 * (first + minutes))
            place = np.maximum(0, (table[run, column] // 60).astype(int) - first)
            found += np.bincount(run * minutes + place, minlength=runs * minutes)
        return found.reshape(runs, minutes).cumsum(axis=1)

    asked, given = (
        by_then([path.arrivals for path in paths]),
        by_then([path.given for path in paths]),
    )
    became = by_then(
        [path.built for path in paths] + [path.back for path in paths if path.back is not None]
    )
    waiting = np.sort(asked - given, axis=0)
    arrivals = np.diff(asked, axis=1, prepend=0).mean(axis=0)
    ready = sum(stock.ready for stock in stocks) + (became - given).mean(axis=0)
    return Curve(
        first,
        tuple(arrivals.tolist()),
        tuple(waiting.mean(axis=0).tolist()),
        tuple(waiting[max(0, math.ceil(0.95 * runs) - 1)].tolist()),
        tuple(ready.tolist()),
    )
