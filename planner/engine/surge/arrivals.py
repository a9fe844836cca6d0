"""Who comes when: the random part of the morning, drawn once with a fixed seed.

Each of a seat group's people comes with the chance of its share at once, so that how many come is
binomial. The first sign-in is normal around *arrive around* with the spread as standard deviation; what
falls outside the day is drawn again, eight times at most, then moved to the day's edge. A session is as
long as the day divided by the sign-ins, less the breaks, evenly between so much shorter and longer
(``session_spread``); the next sign-in follows after the break, as long as the morning lasts.
A part of a sign-in a day (2.4) is the chance of one more.

Every group has its own random numbers, by its place in the site: what changes at one group, and one more
group, leave the others' people alone; a copy of a site has the same mornings; fewer runs are the first of more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from planner.engine.surge.builds import in_order
from planner.engine.surge.morning import DAY, Group, Morning

SEED = 20_260_302
REDRAWN = 8


@dataclass(frozen=True, slots=True, eq=False)
class Arrivals:
    """Times of all sign-ins, [run, column] in seconds, ``inf`` where nobody comes; ``sessions`` alike.

    The columns of one stock stand together (``of``: one slice a stock) in order of arrival.
    """

    times: np.ndarray
    sessions: np.ndarray
    of: tuple[slice, ...]


def draw(morning: Morning, runs: int) -> Arrivals:
    """So many mornings' sign-ins. The same morning gives the same sign-ins every time."""
    drawn: list[list[tuple[np.ndarray, np.ndarray]]] = [[] for _ in morning.stocks]
    ends = morning.ends
    for group in morning.groups:
        if group.people:
            drawn[group.stock].append(_group(group, morning, runs, ends))
    parts = [_sorted(pairs, runs) for pairs in drawn]
    bounds = np.cumsum([0, *(times.shape[1] for times, _ in parts)]).tolist()
    return Arrivals(
        np.concatenate([np.empty((runs, 0)), *(times for times, _ in parts)], axis=1),
        np.concatenate([np.empty((runs, 0)), *(sessions for _, sessions in parts)], axis=1),
        tuple(map(slice, bounds[:-1], bounds[1:])),
    )


def _sorted(pairs: list[tuple[np.ndarray, np.ndarray]], runs: int) -> tuple[np.ndarray, np.ndarray]:
    if not pairs:
        return np.empty((runs, 0)), np.empty((runs, 0))
    times = np.concatenate([one for one, _ in pairs], axis=1)
    sessions = np.concatenate([one for _, one in pairs], axis=1)
    order = in_order(times)
    return np.take_along_axis(times, order, axis=1), np.take_along_axis(sessions, order, axis=1)


def _group(group: Group, morning: Morning, runs: int, ends: float) -> tuple[np.ndarray, np.ndarray]:
    shape = (runs, group.people)
    times = _within_the_day(
        group.around + group.spread * _random(group, 0).standard_normal(shape), group
    )
    evenly = _random(group, 1).random((runs, 2, group.people))
    times = np.where(evenly[:, 0] < group.share, times, math.inf)
    sessions = _lengths(group, morning, evenly[:, 1])
    if group.sign_ins <= 1 or times.min() + sessions.min() + morning.break_seconds > ends:
        return times, sessions
    all_times, all_sessions = [times], [sessions]
    turns = math.ceil(group.sign_ins)
    again, more = (
        _random(group, 2).random((runs, turns, group.people)),
        _random(group, 3).random(shape),
    )
    for turn in range(1, turns):
        times = times + sessions + morning.break_seconds
        if turn > group.sign_ins - 1:
            times[more >= group.sign_ins % 1] = math.inf
        times[times > ends] = math.inf
        if not np.isfinite(times).any():
            break
        sessions = _lengths(group, morning, again[:, turn])
        all_times.append(times)
        all_sessions.append(sessions)
    return np.concatenate(all_times, axis=1), np.concatenate(all_sessions, axis=1)


def _lengths(group: Group, morning: Morning, evenly: np.ndarray) -> np.ndarray:
    """Sessions, evenly between the shortest and the longest; ``evenly`` is 0 … 1."""
    return group.session * (1 + morning.session_spread * (2 * evenly - 1))


def _within_the_day(times: np.ndarray, group: Group) -> np.ndarray:
    for turn in range(REDRAWN):
        outside = (times < 0) | (times >= DAY)
        if not outside.any():
            return times
        again = _random(group, 4 + turn).standard_normal(int(outside.sum()))
        times[outside] = group.around + group.spread * again
    clipped: np.ndarray = np.clip(times, 0.0, DAY - 1)
    return clipped


def _random(group: Group, purpose: int) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64([SEED, group.place, purpose]))
