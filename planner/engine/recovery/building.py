"""Building: in which pieces of time desktops that are rebuilt together come, all hosts at work.

The same waves as a reset that is told in minutes (:mod:`planner.engine.recovery.waves`), piece by piece,
for those who must know how many come within a quarter of an hour.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers
from planner.engine.placement.placing import Placement
from planner.engine.recovery import starts, waves
from planner.engine.recovery.waves import Pace
from planner.engine.storage.datastores import Storage
from planner.record.facts import Id, SiteFacts, Template


@dataclass(frozen=True, slots=True)
class Piece:
    """So many desktops are ready, evenly, from ``starts`` on for ``length``; seconds."""

    starts: float
    length: float
    count: int


@dataclass(frozen=True, slots=True)
class Course:
    """A rebuild of some templates' desktops. ``together`` come at the same moment at most, as ends of waves that
    take up to ``wave`` seconds."""

    pieces: tuple[Piece, ...]
    together: int
    wave: float

    @property
    def count(self) -> int:
        return sum(piece.count for piece in self.pieces)

    @property
    def pace(self) -> float:
        """The most desktops a second at any time."""
        changes: dict[float, float] = {}
        for piece in self.pieces:
            rate = piece.count / piece.length
            changes[piece.starts] = changes.get(piece.starts, 0.0) + rate
            end = piece.starts + piece.length
            changes[end] = changes.get(end, 0.0) - rate
        rate = most = 0.0
        for at in sorted(changes):
            rate += changes[at]
            most = max(most, rate)
        return most


@dataclass(frozen=True)
class Building:
    """What a rebuild follows from: where the desktops are, how hosts build, what datastores give."""

    placement: Placement
    pace: Pace | None
    rates: dict[Id, float | None]

    def course(self, templates: Iterable[Template]) -> Course | None:
        """How the placed desktops of some templates are rebuilt; ``None`` where it cannot be told."""
        if self.pace is None or self.placement.missing:
            return None
        ids = [template.id for template in templates]
        counts: dict[Id | None, list[int]] = {}
        for load in self.placement.hosts:
            here = sum(load.desktops.get(id, 0) for id in ids)
            counts.setdefault(load.store_id, []).append(here)
        pieces: list[Piece] = []
        together, wave = 0, 0.0
        for store_id, on_hosts in counts.items():
            if store_id is not None:
                rate = self.rates.get(store_id)
            else:
                rate = None
            runs = waves.runs(on_hosts, self.pace, rate)
            pieces += _pieces(runs)
            wave = max([wave, *(run.seconds for run in runs)])
            together += min(sum(on_hosts), self.pace.at_once * sum(map(bool, on_hosts)))
        if pieces:
            return Course(tuple(pieces), together, wave)
        return None


def work_out(
    facts: SiteFacts, numbers: Numbers, storage: Storage, placement: Placement
) -> Building:
    """How desktops are rebuilt on a site's hosts. Never raises."""
    rates = starts.start_rates(facts, numbers, storage)
    return Building(placement, starts.build_pace(numbers), rates)


def _pieces(runs: Sequence[waves.Run]) -> list[Piece]:
    found, begun = [], 0.0
    for run in runs:
        found.append(Piece(begun, run.waves * run.seconds, run.waves * run.machines))
        begun += run.waves * run.seconds
    return found
