"""Concurrency: how many people need a desktop at once, and so how many desktops may be wanted.

*Most* should be so large that at the busiest time hardly ever anybody finds no desktop: the smallest
m with P(more than m people at once) ≤ the risk. The people of a seat group are there with its share
at once, each by himself (see :mod:`planner.engine.people.chances`).

Walk-up seats, where people come by from a large crowd that nobody can count, follow Erlang instead.
A load is in erlangs: people who come by an hour × hours each stays.

Source: A. K. Erlang, Solution of some Problems in the Theory of Probabilities of Significance in
Automatic Telephone Exchanges, 1917 (from memory); the recursion is common practice in teletraffic engineering.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers
from planner.engine.people.chances import Crowd, together
from planner.engine.placement.capacity import known
from planner.record.choices import SeatKind
from planner.record.facts import Id, Ref, SeatGroup, SiteFacts, Template

SEATS_MOST = 100_000  # the recursion takes one turn a seat
TURNS = 200  # more than halving needs to settle on the last digit


def most_needed(groups: Iterable[Crowd], risk: float) -> int | None:
    """The smallest m with P(X > m) ≤ risk, X being how many of all ``groups`` are there at once.

    ``groups`` are (people, share at once 0 … 1); the groups do not hang together, so that their counts
    add as a convolution. A risk of nought asks for everybody. None when a number cannot be one.
    """
    spread = together(groups)
    if spread is None:
        return None
    return spread.enough(risk)


def chance_over(groups: Iterable[Crowd], m: float) -> float | None:
    """P(X > m), the chance that somebody finds no desktop when m may run; None when it cannot be told.

    Right to nine digits and more; below about 1e-50 it is given as nought.
    """
    spread = together(groups)
    if spread is None:
        return None
    return spread.over(m)


def erlang_b(load: float, seats: int) -> float | None:
    """The share of people turned away when they do not wait: B₀ = 1, Bₙ = A·Bₙ₋₁ / (n + A·Bₙ₋₁).

    ``load`` A is in erlangs. None when a number cannot be one. Raises nothing.
    """
    if known(load) is None or not 0 <= seats <= SEATS_MOST:
        return None
    turned_away = 1.0
    for n in range(1, int(seats) + 1):
        turned_away = load * turned_away / (n + load * turned_away)
    return turned_away


def erlang_c(load: float, seats: int) -> float | None:
    """The share of people who must wait for a seat, if they do: C = B / (1 − (A/n)·(1 − B)).

    1 when the load is not below the seats: the queue then grows for ever. None as in :func:`erlang_b`.
    """
    blocked = erlang_b(load, seats)
    if blocked is None or load >= seats:
        if blocked is None:
            return None
        return 1.0
    return blocked / (1 - load / seats * (1 - blocked))


def seats_for(load: float, blocking: float) -> int | None:
    """The fewest seats at which at most the share ``blocking`` is turned away (Erlang B); 0 when nobody comes.

    None when no number of seats does (``blocking`` not above 0) or a number cannot be one.
    """
    if known(load) is None or not blocking > 0:
        return None
    if load > 0:
        turned_away = 1.0
    else:
        turned_away = 0.0
    for seats in range(SEATS_MOST + 1):
        if seats:
            turned_away = load * turned_away / (seats + load * turned_away)
        if turned_away <= blocking:
            return seats
    return None


def load_for(seats: int, blocking: float) -> float | None:
    """The load in erlangs at which just the share ``blocking`` finds all seats taken (Erlang B).

    None when there is none: ``blocking`` not between 0 and 1, or no such number of seats.
    """
    if not 0 < blocking < 1 or not 0 <= seats <= SEATS_MOST:
        return None
    low, high = 0.0, seats / (1 - blocking)  # what is not turned away fits the seats: A·(1 − B) ≤ n
    load = high / 2
    for _ in range(TURNS):
        if not low < load < high:
            break
        turned_away = erlang_b(load, seats) or 0.0
        low, high = (low, load) if turned_away > blocking else (load, high)
        slope = turned_away * (seats / load - 1 + turned_away)  # dB/dA
        if slope:
            step = load - (turned_away - blocking) / slope
        else:
            step = low
        if abs(step - load) <= 1e-15 * load:
            break
        if low < step < high:
            load = step
        else:
            load = (low + high) / 2
    return load


@dataclass(frozen=True, slots=True)
class SeatNeed:
    """What the seat groups of one template need. None: not known (see ``missing``).

    ``mean`` is how many people are there at once on average at the busiest time, ``needed`` the most
    desktops that the risk asks for, ``chance_short`` the chance that somebody finds no desktop when
    ``most`` may run. ``beyond_all`` is how many desktops may run beyond everybody and the standby.
    Where people come by client addresses, ``walk_ups_turned_away`` is the share that finds none if
    they come by from a large crowd instead of being the counted ones.
    """

    template_id: Id
    name: str
    groups: tuple[str, ...]
    people: int | None
    mean: float | None
    most: int | None
    needed: int | None
    chance_short: float | None
    beyond_all: int | None = None
    walk_ups_turned_away: float | None = None
    missing: tuple[str, ...] = ()
    missing_at: tuple[Ref, ...] = ()

    @property
    def below_mean(self) -> bool:
        """Whether fewer may run than are there on average."""
        return self.most is not None and self.mean is not None and self.most < self.mean

    @property
    def short(self) -> bool:
        """Whether fewer may run than the risk asks for."""
        return self.most is not None and self.needed is not None and self.most < self.needed


@dataclass(frozen=True)
class Concurrency:
    """What every template's seats need, in the templates' order; ``risk`` is the chance that is taken."""

    risk: float
    by_template: tuple[SeatNeed, ...] = ()

    @functools.cached_property
    def _by_id(self) -> dict[Id, SeatNeed]:
        return {need.template_id: need for need in self.by_template}

    def of(self, template_id: Id | None) -> SeatNeed | None:
        """The need of one template, None when there is no such template."""
        if template_id is not None:
            return self._by_id.get(template_id)
        return None


def work_out(facts: SiteFacts, numbers: Numbers) -> Concurrency:
    """Weighs every template's *most* against the people who get its desktops. Raises nothing."""
    groups: dict[Id | None, list[SeatGroup]] = {}
    for group in facts.seat_groups:
        groups.setdefault(group.template_id, []).append(group)
    risk = numbers["seats.risk"]
    return Concurrency(
        risk, tuple(_need(one, groups.get(one.id, []), risk) for one in facts.templates)
    )


def crowds(groups: Sequence[SeatGroup]) -> list[Crowd] | None:
    """(People, share) of every group; None when one is not known, or no share of people."""
    found = []
    for group in groups:
        people, share = known(group.people), known(group.share_at_once)
        if people is None or share is None or share > 1:
            return None
        found.append((int(people), share))
    return found


def lacking(groups: Sequence[SeatGroup]) -> list[tuple[str, Ref]]:
    """What is not known of how many people there are at once: words, and where it would be typed."""
    found = []
    for group in groups:
        if known(group.people) is None:
            found.append((f"the people of {group.label}", group.ref.at("people")))
        share = known(group.share_at_once)
        if share is None or share > 1:
            found.append((f"the share at once of {group.label}", group.ref.at("share_at_once")))
    return found


def _need(template: Template, groups: list[SeatGroup], risk: float) -> SeatNeed:
    if groups:
        missing = lacking(groups)
    else:
        missing = [(f"who uses {template.label}", template.ref)]
    most, standby = known(template.most), known(template.standby)
    if most is None:
        missing.append((f"the most of {template.label}", template.ref.at("most")))
    counted = [known(group.people) for group in groups]
    if not groups or None in counted:
        people = None
    else:
        people = int(sum(count or 0 for count in counted))
    if groups:
        pairs = crowds(groups)
    else:
        pairs = None
    if pairs is None:
        spread = None
    else:
        spread = together(pairs)
    if pairs and spread is None:
        missing.append(
            (f"a number of people for {template.label} that can be", groups[0].ref.at("people"))
        )
    if spread is None or pairs is None:
        mean = None
    else:
        mean = math.fsum(count * share for count, share in pairs)
    come_by = mean is not None and any(group.seat_kind == SeatKind.CLIENTS for group in groups)
    if people is None or most is None or standby is None:
        beyond = None
    else:
        beyond = int(most - people - standby)
    return SeatNeed(
        template_id=template.id,
        name=template.label,
        groups=tuple(group.label for group in groups),
        people=people,
        mean=mean,
        most=None if most is None else int(most),
        needed=None if spread is None else spread.enough(risk),
        chance_short=None if spread is None or most is None else spread.over(most),
        beyond_all=None if beyond is None else max(0, beyond),
        walk_ups_turned_away=erlang_b(mean, int(most))
        if come_by and mean is not None and most is not None
        else None,
        missing=tuple(words for words, _ in missing),
        missing_at=tuple(at for _, at in missing),
    )
