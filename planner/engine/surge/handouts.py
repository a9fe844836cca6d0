"""Hand-outs: when each person of the morning is handed a desktop.

The rules
- At the start of the morning each template's standby stands ready, and no other desktop of it exists.
- People ask in order of arrival. Whoever asks is handed the desktop that is ready first of those not
  yet promised to somebody before: the i-th hand-out is h_i = max(arrival_i, ready_i), ready_i the time
  when the i-th desktop became ready (the standby at the start).
- Whoever asks starts a replacement while fewer than *most* desktops exist; also who must wait. So
  desktops ready and on their way, less the people who wait, stay at the standby until *most* is reached:
  this is what the Poisson formula is about (:mod:`planner.engine.surge.standby_poisson`), and a standby
  of nought still serves everybody. Would only the hand-out start it, no more than the standby could be
  on their way at once, and those who wait would follow Erlang's C.
- Builds: :mod:`planner.engine.surge.builds`. All templates share the hosts' build slots, first asked,
  first built.
- A person signs out a session after the hand-out. The desktop then stays that person's, or is ready for
  the next at once, or asks for its rebuild at that moment and is ready when it is built; it goes on
  counting among *most*. What comes back after the morning's end does not count: who has no desktop by
  then, nor one on its way, has none that morning (``inf``).

Sign-outs depend on hand-outs and hand-outs on sign-outs, but only on earlier ones. So the morning is
worked out with the sign-outs of the last round until nothing moves: each round settles at least one
session more, and most mornings have no sign-out at all before the last hand-out. What is asked for after
a morning's last hand-out cannot change it and is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.engine.surge.arrivals import Arrivals
from planner.engine.surge.builds import Ground, in_order, ready_times
from planner.engine.surge.morning import REBUILT, STAYS, Morning, Stock

# steps × mornings that rounds may take together, a step counting as a few mornings more: where very many
# sessions follow each other in one morning, the last of them are left as they are
EFFORT, STEP = 2_000_000, 150


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """One template's mornings. ``arrivals``, ``given`` (when the person is handed a desktop): [run, person];
    ``built``: [run, n], when the desktop that the n-th person asked for is ready; ``back``: [run, person],
    when the desktop that came back is ready again (``None``: none came back). Seconds; ``inf``: never, or nobody."""

    arrivals: np.ndarray
    given: np.ndarray
    built: np.ndarray
    back: np.ndarray | None


@dataclass(frozen=True, slots=True, eq=False)
class HandOuts:
    """The paths of every stock. ``quiet``: no sign-out mattered; ``settled``: nothing moved any more."""

    paths: tuple[Path, ...]
    quiet: bool
    settled: bool


def hand_out(
    morning: Morning, arrivals: Arrivals, ways: Sequence[Sequence[Stock]], most_effort: int = EFFORT
) -> list[HandOuts]:
    """Works out the mornings of ``arrivals`` once for each of ``ways``: other standbys, mosts or hosts.

    All ways go through the simulation side by side. Every way has the stocks of the morning, in its order.
    """
    lanes = _Lanes(morning, arrivals, ways)
    given, built, _ = lanes.given_out(lanes.all, None)
    back: np.ndarray | None = None
    outs: np.ndarray | None = None
    moving, effort = lanes.all, 0
    quiet, settled = np.ones(lanes.count, bool), np.zeros(lanes.count, bool)
    while effort < most_effort:
        before, outs = (
            outs,
            lanes.sign_outs(moving, given if len(moving) == lanes.count else given[moving]),
        )
        changed = (np.isfinite(outs) if before is None else outs != before).any(axis=1)
        settled[moving[~changed]] = True
        moving, outs = moving[changed], outs[changed]
        if not len(moving):
            break
        effort += 2 * outs.shape[1] * (STEP + len(moving))
        quiet[moving] = False
        if back is None:
            back = np.full(given.shape, np.inf)
        else:
            back = back
        given[moving], built[moving], back[moving] = lanes.given_out(moving, outs)
    found = []
    for start in range(0, lanes.count, max(1, lanes.runs)):
        rows = slice(start, start + lanes.runs)
        paths = (
            Path(
                arrivals.times[:, at],
                given[rows, at],
                built[rows, at],
                None if back is None else back[rows, at],
            )
            for at in arrivals.of
        )
        found.append(HandOuts(tuple(paths), bool(quiet[rows].all()), bool(settled[rows].all())))
    return found


class _Lanes:
    """Every run of every way: the first way's runs, then the second's …"""

    def __init__(self, morning: Morning, arrivals: Arrivals, ways: Sequence[Sequence[Stock]]):
        self.of, self.ways, self.ends = arrivals.of, ways, morning.ends
        self.times, self.sessions = arrivals.times, arrivals.sessions
        self.runs, columns = arrivals.times.shape
        self.count = self.runs * len(ways)
        self.all = np.arange(self.count)
        self.ground = Ground(morning.slots, morning.build_seconds, morning.slowdown)
        self.came = np.isfinite(arrivals.times)
        self.order = (
            in_order(arrivals.times) if len(self.of) > 1 else None
        )  # of one template's: as they stand
        self.starts = np.zeros(
            (len(ways), columns), bool
        )  # whether the person's asking starts a build
        self.hosts = np.ones((len(ways), columns, len(morning.hosts)), bool)
        self.rebuilt, self.stays = np.zeros(columns, bool), np.zeros(columns, bool)
        for number, at in enumerate(self.of):
            self.rebuilt[at] = morning.stocks[number].back == REBUILT
            self.stays[at] = morning.stocks[number].back == STAYS
            for way, stocks in enumerate(ways):
                self.starts[way, at] = (
                    np.arange(at.stop - at.start) < stocks[number].most - stocks[number].ready
                )
                self.hosts[way, at] = stocks[number].hosts

    def _of_run(self, lanes: np.ndarray, table: np.ndarray) -> np.ndarray:
        """The lanes' rows of a table with a row a run; the table itself where they are all of one way."""
        return table if len(lanes) == self.runs == self.count else table[lanes % self.runs]

    def given_out(
        self, lanes: np.ndarray, outs: np.ndarray | None
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray | None]:
        """Hand-outs, the builds people asked for and what came back ready again, all [lane, column], given
        the sign-outs (``None``: there are none)."""
        way, columns = lanes // self.runs if self.runs else lanes, self.times.shape[1]
        times = self._of_run(lanes, self.times)
        if outs is None:
            again = np.zeros(columns, bool)
        else:
            again = np.isfinite(outs).any(axis=0)
        rebuilt = again & self.rebuilt
        asked = np.where(self.starts[way] if len(self.ways) > 1 else self.starts, times, np.inf)
        if self.order is None or rebuilt.any():
            order = None
        else:
            order = self._of_run(lanes, self.order)
        if outs is not None and rebuilt.any():
            asked = np.concatenate([asked, outs[:, rebuilt]], axis=1)
        ready = ready_times(asked, self._hosts(way, rebuilt), self.ground, order)
        built, back = ready[:, :columns], outs
        if outs is not None:
            back = outs.copy()
            back[:, rebuilt] = ready[:, columns:]
        return self._given(way, times, built, back, again), built, back

    def _given(
        self,
        way: np.ndarray,
        times: np.ndarray,
        built: np.ndarray,
        back: np.ndarray | None,
        again: np.ndarray,
    ) -> np.ndarray:
        """Whoever comes takes what is ready first: h_i = max(arrival_i, ready_i)."""
        given = times.copy()
        bounds = np.searchsorted(way, np.arange(len(self.ways) + 1))
        for number, at in enumerate(self.of):
            came = built[:, at]
            if back is not None and again[at].any():
                came = np.concatenate([came, back[:, at][:, again[at]]], axis=1)
            came = np.sort(came, axis=1)
            for one, stocks in enumerate(self.ways):
                rows = slice(bounds[one], bounds[one + 1])
                later = given[rows, at.start + stocks[number].ready : at.stop]
                np.maximum(later, came[rows, : later.shape[1]], out=later)
        return given

    def _hosts(self, way: np.ndarray, rebuilt: np.ndarray) -> np.ndarray:
        """Which hosts can carry each build, told once where it is the same for all."""
        found = self.hosts
        if (found == found[:, :1]).all():
            found = found[:, :1]
        else:
            found = np.concatenate([found, found[:, rebuilt]], axis=1)
        return found[:1] if (found == found[:1]).all() else found[way]

    def sign_outs(self, lanes: np.ndarray, given: np.ndarray) -> np.ndarray:
        """When desktops come back, as far as it can matter: by the lane's last hand-out and the morning's end."""
        outs = given + self._of_run(lanes, self.sessions)
        if self.stays.any():
            outs[:, self.stays] = np.inf
        outs = np.where(outs > self.ends, np.inf, outs)
        rows = np.flatnonzero(np.isfinite(outs).any(axis=1))
        if len(rows):
            last = np.where(self.came[lanes[rows] % self.runs], given[rows], -np.inf).max(axis=1)
            outs[rows] = np.where(outs[rows] > last[:, None], np.inf, outs[rows])
        return outs
