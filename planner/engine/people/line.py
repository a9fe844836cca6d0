"""Line: what people's sessions ask of the link they come by, and how long a key press takes to show.

Sessions at once come from the same chances as the desktops (:mod:`planner.engine.people.concurrency`): so
many that more are there with a chance of at most the risk. Where groups on one network have different
rates, the load is the sum of them all and its chances are added up just as exactly.

The delay is a budget: there and back over the line, and the time one update of the screen takes to
send when the line is free. What a busy line, the desktop and the screen itself add comes on top. Over
a link of purpose *remote* or *perimeter* people are far away, over any other they are in the house.

Source: common practice, no source, for the budget; its target and the sizes are assumptions.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np

from planner.catalogue.assumptions import Numbers
from planner.engine.people.chances import Crowd, Spread, add, together
from planner.engine.people.concurrency import Concurrency, crowds, lacking
from planner.engine.placement.capacity import known, positive
from planner.engine.storage.copying import line_seconds
from planner.record.choices import NetworkPurpose
from planner.record.facts import Id, Network, Ref, SeatGroup, SiteFacts

FAR = (NetworkPurpose.REMOTE, NetworkPurpose.PERIMETER)
GRID = 8192  # steps of load; finer than anybody could measure
KIB_A_GIB = 2**20


@dataclass(frozen=True, slots=True)
class LineNeed:
    """One network that people come from. Rates in Mbit/s, times in ms; None: not known (see ``missing``).

    ``sessions`` at once and ``needs_mbit_s`` are high marks, passed with the chance of the risk only;
    ``at_least_mbit_s`` is the load of the groups that are known, so that a line that is too narrow
    already now is noticed before everything is filled in. ``usable_mbit_s`` is the link without what
    stays free for everything else; ``room_for`` is how many sessions of the average rate it carries.
    ``binds`` is what comes nearest to its limit: "rate", "delay", or "" when neither is known.
    """

    network_id: Id
    name: str
    far: bool
    groups: tuple[str, ...]
    sessions: int | None
    needs_mbit_s: float | None
    at_least_mbit_s: float
    link_mbit_s: float | None
    usable_mbit_s: float | None
    room_for: int | None
    round_trip_ms: float
    update_ms: float | None
    target_ms: float
    missing: tuple[str, ...] = ()
    missing_at: tuple[Ref, ...] = ()

    @property
    def delay_ms(self) -> float | None:
        if self.update_ms is None:
            return None
        return self.round_trip_ms + self.update_ms

    @property
    def binds(self) -> str:
        rate = _share(self.at_least_mbit_s, self.usable_mbit_s)
        delay = _share(self.delay_ms, self.target_ms)
        if rate is None and delay is None:
            return ""
        if (rate or 0.0) >= (delay or 0.0):
            return "rate"
        return "delay"


@dataclass(frozen=True)
class Line:
    """The networks people come from, in the networks' order."""

    risk: float
    by_network: tuple[LineNeed, ...] = ()

    @functools.cached_property
    def _by_id(self) -> dict[Id, LineNeed]:
        return {need.network_id: need for need in self.by_network}

    def of(self, network_id: Id | None) -> LineNeed | None:
        """The need of one network, None when nobody comes from it."""
        if network_id is not None:
            return self._by_id.get(network_id)
        return None


def work_out(facts: SiteFacts, numbers: Numbers, concurrency: Concurrency) -> Line:
    """Weighs every link people come by. Raises nothing."""
    groups: dict[Id | None, list[SeatGroup]] = {}
    for group in facts.seat_groups:
        groups.setdefault(group.network_id, []).append(group)
    risk = concurrency.risk
    return Line(
        risk, tuple(_need(n, groups[n.id], numbers, risk) for n in facts.networks if n.id in groups)
    )


def load_kbit_s(parts: list[tuple[int, float, float]], risk: float) -> float | None:
    """The load in kbit/s that is passed with a chance of at most ``risk``: the smallest such.

    ``parts`` are (people, share at once, kbit/s a session). Exact where the rates have a common step
    that is not too fine for the load, else rounded up by at most one part in 8192 for each rate. None
    when a number cannot be one.
    """
    by_rate: dict[float, list[Crowd]] = {}
    for people, share, rate in parts:
        if rate > 0:
            by_rate.setdefault(rate, []).append((people, share))
    spreads = {rate: together(crowd) for rate, crowd in by_rate.items()}
    if None in spreads.values():
        return None
    if len(spreads) < 2:
        return sum(rate * spread.enough(risk) for rate, spread in spreads.items() if spread)
    step = _step({rate: spread.last for rate, spread in spreads.items() if spread})
    return (
        add(_on_grid(spread, rate, step) for rate, spread in spreads.items() if spread).enough(risk)
        * step
    )


def _step(most: dict[float, int]) -> float:
    """The step of the grid, given the most sessions at each rate."""
    total = math.fsum(rate * count for rate, count in most.items())
    thousandths = [round(1000 * rate) for rate in most]
    common = math.gcd(*thousandths) / 1000
    exact = common > 0 and all(n == 1000 * rate for n, rate in zip(thousandths, most, strict=True))
    if exact and total <= GRID * common:
        return common
    return max(total, 1e-9) / GRID


def _on_grid(spread: Spread, rate: float, step: float) -> Spread:
    counts = spread.first + np.arange(len(spread.chances))
    steps = np.ceil(counts * (rate / step) - 1e-9).astype(int)  # never too low
    return Spread(int(steps[0]), np.bincount(steps - steps[0], weights=spread.chances))


def _need(network: Network, groups: list[SeatGroup], numbers: Numbers, risk: float) -> LineNeed:
    missing = lacking(groups)
    missing += [
        (f"the kbit/s of {g.label}", g.ref.at("kbit_s")) for g in groups if known(g.kbit_s) is None
    ]
    link = positive(network.link_mbit_s)
    if link is None:
        missing.append((f"the link rate of {network.label}", network.ref.at("link_mbit_s")))
    parts = []
    for group in groups:
        crowd, rate = crowds([group]), known(group.kbit_s)
        if crowd is not None and rate is not None:
            parts.append((*crowd[0], rate))
    everybody = crowds(groups)
    if everybody is None:
        spread = None
    else:
        spread = together(everybody)
    load = load_kbit_s(parts, risk)
    if load is None or (everybody is not None and spread is None):
        missing.append(
            (f"a number of people on {network.label} that can be", groups[0].ref.at("people"))
        )
    if network.mtu is None:
        mtu = numbers["line.mtu"]
    else:
        mtu = network.mtu
    update = line_seconds(numbers["sessions.update-kib"] / KIB_A_GIB, link, mtu)
    if update is None and link is not None:
        missing.append((f"the MTU of {network.label}", network.ref.at("mtu")))
    if link is None:
        usable = None
    else:
        usable = link * max(0.0, 1 - numbers["sessions.line-free-share"])
    far = network.purpose in FAR
    return LineNeed(
        network_id=network.id,
        name=network.label,
        far=far,
        groups=tuple(group.label for group in groups),
        sessions=None if spread is None else spread.enough(risk),
        needs_mbit_s=load / 1000 if load is not None and len(parts) == len(groups) else None,
        at_least_mbit_s=(load or 0.0) / 1000,
        link_mbit_s=link,
        usable_mbit_s=usable,
        room_for=_room(usable, parts) if len(parts) == len(groups) else None,
        round_trip_ms=numbers[
            "sessions.far-round-trip-ms" if far else "sessions.near-round-trip-ms"
        ],
        update_ms=None if update is None else 1000 * update,
        target_ms=numbers["sessions.delay-target-ms"],
        missing=tuple(words for words, _ in missing),
        missing_at=tuple(at for _, at in missing),
    )


def _room(usable: float | None, parts: list[tuple[int, float, float]]) -> int | None:
    mean = math.fsum(people * share for people, share, _ in parts)
    load = math.fsum(people * share * rate for people, share, rate in parts)
    if usable is not None and load > 0:
        room = usable * 1000 * mean / load
    else:
        room = math.inf
    if math.isfinite(room):
        return math.floor(room + 1e-9)
    return None


def _share(value: float | None, limit: float | None) -> float | None:
    if value is None or limit is None:
        return None
    if limit > 0:
        return value / limit
    return math.inf
