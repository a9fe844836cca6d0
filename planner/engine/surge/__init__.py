"""The morning: whether everybody finds a desktop ready, and how much standby that takes.

Two answers. The formula (:mod:`.standby_poisson`) is quick and takes every build for as long as one
alone. The simulation is the real thing: people arrive (:mod:`.arrivals`), are handed desktops
(:mod:`.handouts`) and replacements are built on hosts that have only so many hands (:mod:`.builds`);
the rules stand there, and a model of the same rules in the tests gives the same times to the last digit.

A desktop that is *kept* stays its person's, so a template that keeps its desktops is seen on its first
morning. What a template's simulation had to do without is said, and one whose facts do not allow
it is left out: its builds then take no slot from the others.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass, field

from planner.catalogue.assumptions import Numbers
from planner.engine.placement.placing import Placement
from planner.engine.surge import search
from planner.engine.surge.answers import Course, Curve, TemplateMorning, Waits, hurt, waits_of
from planner.engine.surge.arrivals import Arrivals, draw
from planner.engine.surge.handouts import EFFORT, HandOuts, hand_out
from planner.engine.surge.morning import MORNING_MOST, Host, Morning, Stock, downs, planned
from planner.engine.surge.standby_poisson import (
    busiest_mean,
    none_ready,
    ready_at_once,
    smallest_standby,
)
from planner.record.facts import Id, SiteFacts

__all__ = [
    "Busiest",
    "Course",
    "Curve",
    "Surge",
    "TemplateMorning",
    "Waits",
    "none_ready",
    "ready_at_once",
    "smallest_standby",
    "work_out",
]

Down = tuple[Host, tuple[Stock, ...]]  # the host that is down, and what the templates then have
Without = Down | None

RUNS_LEAST = 20
# simulated sign-ins, all runs together, and what may be tried and worked out anew for sign-outs (steps × runs)
FULL = (150_000, search.EFFORT, EFFORT)
GLANCE = (36_000, 0, EFFORT // 4)
MANY_SLOTS = 100  # with so many build slots a sign-in takes twice as long


@dataclass(frozen=True, slots=True)
class Busiest:
    """A template at the busiest time of its morning, by the formula: desktops on their way on average, the
    share of people who then find none ready (``None``: the standby is not known) and the smallest standby
    with which that share is no more than may wait. What waits for a slot or is built more slowly beside
    others is not in it."""

    template_id: Id
    mean: float
    none_ready: float | None
    smallest: int | None


@dataclass(frozen=True)
class Surge:
    """A site's morning, each part worked out when it is asked for.

    ``missing`` names, by template, what lacks for its morning; ``unchecked`` what the answers leave out.
    ``down`` is the host whose loss leaves most desktops out; of several the one whose loss hurts people most:
    most get none, then the longest wait, then by name. Waits are in seconds, times of day from midnight.
    """

    morning: Morning
    _downs: tuple[Down, ...] = field(default=(), repr=False)

    @property
    def target_seconds(self) -> float:
        return self.morning.target_seconds

    @property
    def target_share(self) -> float:
        return self.morning.target_share

    @property
    def missing(self) -> dict[Id, tuple[str, ...]]:
        return {one.template_id: one.missing for one in self.morning.lacking}

    @property
    def unchecked(self) -> tuple[str, ...]:
        many = self.morning.expected > MORNING_MOST
        too_many = (
            (f"more than {MORNING_MOST:,} sign-ins in a morning: it is not simulated",)
            if many
            else ()
        )
        return self.morning.unchecked + too_many

    @functools.cached_property
    def _without(self) -> Without:
        return _worst(self.morning, self._downs)

    @property
    def down(self) -> Host | None:
        if self._without:
            return self._without[0]
        return None

    @functools.cached_property
    def busiest(self) -> tuple[Busiest, ...]:
        """The formula's answer for every template that could be read."""
        return tuple(_busiest(self.morning, number) for number in self.morning.in_rows_order)

    @property
    def _courses(self) -> tuple[Course, ...]:
        return _simulated(self.morning, self._without)

    @property
    def all_there(self) -> Course | None:
        """The morning with every host there, simulated as often as the assumption says; ``None`` when there is
        nothing to simulate."""
        return next(iter(self._courses), None)

    @property
    def one_down(self) -> Course | None:
        """The same with a host down; ``None`` with fewer than two hosts."""
        return next(iter(self._courses[1:]), None)

    @property
    def glance(self) -> tuple[Course, ...]:
        """Both courses from fewer mornings, the first of the same ones: for findings, on every page. Standbys
        are read off, not tried. A small site's are as many as the whole."""
        return _glance(self.morning, self._without)


def work_out(facts: SiteFacts, numbers: Numbers, placement: Placement) -> Surge:
    """The morning of a site. Never raises; simulates nothing before it is asked to, and in bounded time then."""
    morning = planned(facts, numbers, placement)
    return Surge(morning, downs(morning, placement))


def runs_of(morning: Morning, sign_ins: int) -> int:
    """How many mornings have about so many sign-ins together, up to the number that is asked for."""
    slower = 1 + len(morning.hosts) * morning.slots / MANY_SLOTS
    return min(morning.runs, max(RUNS_LEAST, int(sign_ins / slower / max(1.0, morning.expected))))


@functools.lru_cache(maxsize=64)
def _worst(morning: Morning, downs: tuple[Down, ...]) -> Without:
    """The loss that hurts people most, from a glance's mornings; by name where none can be simulated."""
    runs = runs_of(morning, GLANCE[0])
    if len(downs) < 2 or not morning.stocks or not 0 < morning.expected <= MORNING_MOST:
        return next(iter(downs), None)
    outs = hand_out(morning, draw(morning, runs), [stocks for _, stocks in downs], GLANCE[2])
    found = list(zip((hurt(out.paths) for out in outs), downs, strict=True))
    return max(found, key=lambda pair: pair[0])[1]  # the first of equals, and they are by name


@functools.lru_cache(maxsize=4)
def _simulated(morning: Morning, without: Without) -> tuple[Course, ...]:
    return courses(morning, without, runs_of(morning, FULL[0]), *FULL[1:])


@functools.lru_cache(maxsize=64)
def _glance(morning: Morning, without: Without) -> tuple[Course, ...]:
    return courses(morning, without, runs_of(morning, GLANCE[0]), *GLANCE[1:], keep=False)


def courses(
    morning: Morning, without: Without, runs: int, tries: int, effort: int, *, keep: bool = True
) -> tuple[Course, ...]:
    """The mornings with every host there and, if given, without one; none when there is nobody, or far too many.

    ``tries`` is what trying standbys may take (:mod:`.search`), ``effort`` what working out sign-outs may
    (:mod:`.handouts`); ``keep`` the mornings for curves.
    """
    if not morning.stocks or not 0 < morning.expected <= MORNING_MOST:
        return ()
    arrivals = draw(morning, runs)
    ways: list[tuple[Host | None, Sequence[Stock]]] = [
        (None, morning.stocks),
        *([without] if without else []),
    ]
    outs = hand_out(morning, arrivals, [stocks for _, stocks in ways], effort)
    return tuple(
        _course(morning, arrivals, *way, found, tries, keep)
        for way, found in zip(ways, outs, strict=True)
    )


def _course(
    morning: Morning,
    arrivals: Arrivals,
    down: Host | None,
    stocks: Sequence[Stock],
    found: HandOuts,
    tries: int,
    keep: bool,
) -> Course:
    smallest = search.smallest(morning, arrivals, stocks, found, effort=tries)
    templates, known = [], []
    for stock, path, (standby, sure) in zip(stocks, found.paths, smallest, strict=True):
        if stock.standby is not None:
            waits = waits_of([path], morning.target_seconds)
        else:
            waits = None
        if waits is None:
            meets = None
        else:
            meets = waits.over_share <= morning.may_wait + 1e-9
        if stock.standby is None:
            ready = None
        else:
            ready = stock.ready
        templates.append(
            TemplateMorning(
                stock.template_id, stock.name, ready, stock.most, waits, meets, standby, sure
            )
        )
        if waits:
            known.append(path)
    return Course(
        down,
        len(arrivals.times),
        tuple(templates[number] for number in morning.in_rows_order),
        waits_of(known, morning.target_seconds),
        found.settled,
        tuple(stocks) if keep else (),
        found.paths if keep else (),
    )


def _busiest(morning: Morning, number: int) -> Busiest:
    stock, groups = (
        morning.stocks[number],
        [group for group in morning.groups if group.stock == number],
    )
    mean = busiest_mean(groups, morning.build_seconds)
    if stock.standby is None:
        found = None
    else:
        found = none_ready(stock.ready, mean)
    return Busiest(stock.template_id, mean, found, smallest_standby(mean, morning.may_wait))
