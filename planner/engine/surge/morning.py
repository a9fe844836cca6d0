"""A morning in numbers: who comes when, what each template keeps ready, what the hosts can build.

Read from the facts once, so that the simulation knows nothing of records. Times are in seconds, those
of day from midnight.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers
from planner.engine.people.hours import day_minutes
from planner.engine.placement import capacity
from planner.engine.placement.capacity import known, positive
from planner.engine.placement.placing import HostLoad, Placement
from planner.record.choices import ResetRule
from planner.record.facts import Id, SeatGroup, Site, SiteFacts, Template

DAY = 86_400.0
PEOPLE_MOST, MORNING_MOST = (
    5_000,
    10_000,
)  # people of a site, sign-ins of a morning; beyond them nothing is simulated
SIGN_INS_MOST = 12  # of one person in a day
HOSTS_MOST, SLOTS_MOST = (
    64,
    1_000,
)  # of a site; beyond them nothing is built, which is on the safe side
DOWNS_MOST = 8  # hosts that are tried out against each other for the worst loss
SESSION_LEAST = 300.0  # seconds
LATE = 3.0  # standard deviations after which hardly anybody of a group is still to come

STAYS, AT_ONCE, REBUILT = "stays", "at once", "rebuilt"
COMES_BACK: Mapping[str, str] = {
    ResetRule.KEPT: STAYS,
    "": STAYS,
    ResetRule.NIGHTLY: AT_ONCE,
    ResetRule.WEEKLY: AT_ONCE,
    ResetRule.SIGN_OUT: REBUILT,
}


@dataclass(frozen=True, slots=True)
class Group:
    """One seat group: ``people`` of whom each comes with chance ``share``; ``place`` is the group's among those
    of the site in the order they were made, ``stock`` that of their template in :attr:`Morning.stocks`.
    ``session`` is the mean length of one of ``sign_ins`` a day."""

    place: int
    stock: int
    people: int
    share: float
    around: float
    spread: float
    sign_ins: float
    session: float


@dataclass(frozen=True, slots=True)
class Stock:
    """A template's desktops: ``standby`` of them ready at the start (``None``: nobody knows), ``most`` in all.

    ``back`` says what a desktop does after the sign-out: it *stays* its person's, is ready *at once* for
    the next, or is *rebuilt*. ``hosts`` says of each host whether it can carry such a desktop.
    """

    template_id: Id
    name: str
    standby: int | None
    most: int
    back: str
    hosts: tuple[bool, ...]

    @property
    def ready(self) -> int:
        """Desktops that stand ready when the morning begins; an unknown standby counts as none."""
        return min(self.standby or 0, self.most)


@dataclass(frozen=True, slots=True)
class Lacking:
    """A template whose morning cannot be worked out, and what is ``missing`` for it, in words."""

    template_id: Id
    name: str
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Host:
    host_id: Id
    name: str


@dataclass(frozen=True, slots=True)
class Morning:
    """All the simulation works from. ``slots`` is how many desktops each host builds at once; ``ends`` the
    time of day after which nobody's second sign-in counts. ``lacking`` are the templates left out, ``unchecked``
    says what the others do without. All by name, so that nothing follows from the order of rows but in what
    order answers are shown: ``shown`` are the places of the stocks as the templates stand."""

    groups: tuple[Group, ...]
    stocks: tuple[Stock, ...]
    hosts: tuple[Host, ...]
    slots: int
    build_seconds: float
    slowdown: float
    break_seconds: float
    session_spread: float
    target_seconds: float
    target_share: float
    runs: int
    lacking: tuple[Lacking, ...] = ()
    unchecked: tuple[str, ...] = ()
    shown: tuple[int, ...] = ()

    @property
    def ends(self) -> float:
        return min(
            DAY, max((group.around + LATE * group.spread for group in self.groups), default=0.0)
        )

    @property
    def expected(self) -> float:
        """Sign-ins of a morning, about so many on average."""

        def each(group: Group) -> float:
            again = (self.ends - group.around) / (group.session + self.break_seconds)
            return 1 + max(0.0, min(group.sign_ins - 1, again))

        return sum(group.people * group.share * each(group) for group in self.groups)

    @property
    def in_rows_order(self) -> tuple[int, ...]:
        """The places of the stocks in the order of the templates; as they are where nothing is said."""
        return self.shown or tuple(range(len(self.stocks)))

    @property
    def may_wait(self) -> float:
        """The share of sign-ins that may wait longer than the target."""
        return 1 - self.target_share


def planned(facts: SiteFacts, numbers: Numbers, placement: Placement) -> Morning:
    """The morning as it is planned, every host there. Never raises; what cannot be read is ``lacking``."""
    hosts, unchecked = _hosts(placement)
    slots = int(numbers["host.builds-at-once"])
    if len(hosts) * slots > SLOTS_MOST:
        slots = max(1, SLOTS_MOST // len(hosts))
        unchecked.append(f"more than {SLOTS_MOST:,} builds at once: so many are counted")
    people = sum(int(known(group.people) or 0) for group in facts.seat_groups)
    if people > PEOPLE_MOST:
        unchecked.append(f"more than {PEOPLE_MOST:,} people: the morning is not simulated")
    by_template: dict[Id | None, list[SeatGroup]] = {}
    for group in facts.seat_groups:
        by_template.setdefault(group.template_id, []).append(group)
    places = {id: place for place, id in enumerate(sorted(group.id for group in facts.seat_groups))}
    carriers = _carriers(facts, numbers, placement, len(hosts))
    stocks: list[Stock] = []
    groups: list[Group] = []
    lacking: list[Lacking] = []
    for template in sorted(facts.templates, key=lambda one: (one.label, one.id)):
        own = sorted(by_template.get(template.id, []), key=lambda group: group.id)
        missing = tuple(_missing(template, own)) or (
            () if people <= PEOPLE_MOST else (unchecked[-1],)
        )
        if not missing and not any(carriers[template.id]):
            missing = (f"a host that can carry {template.label}",)
        if missing:
            lacking.append(Lacking(template.id, template.label, missing))
            continue
        unchecked += _assumed(template, own)
        groups += [
            _group(facts.site, group, (places[group.id], len(stocks)), template, numbers)
            for group in own
        ]
        stocks.append(_stock(template, placement.left, carriers[template.id]))
    return Morning(
        groups=tuple(groups),
        stocks=tuple(stocks),
        hosts=hosts,
        slots=slots,
        build_seconds=numbers["desktop.build-seconds"],
        slowdown=numbers["host.build-slowdown"],
        break_seconds=60 * numbers["seats.break-minutes"],
        session_spread=numbers["seats.session-spread"],
        target_seconds=numbers["seats.wait-target-seconds"],
        target_share=numbers["seats.wait-target-share"],
        runs=int(numbers["seats.morning-runs"]),
        lacking=tuple(lacking),
        unchecked=tuple(dict.fromkeys(unchecked)),
        shown=_as_they_stand(facts, stocks),
    )


def _as_they_stand(facts: SiteFacts, stocks: list[Stock]) -> tuple[int, ...]:
    """The places of the stocks in the order of the templates."""
    places = {stock.template_id: place for place, stock in enumerate(stocks)}
    return tuple(places[one.id] for one in facts.templates if one.id in places)


def downs(morning: Morning, placement: Placement) -> tuple[tuple[Host, tuple[Stock, ...]], ...]:
    """The hosts whose loss leaves most desktops out, each with what the templates then have; by name.

    A lost host's build slots are gone, and so is the room of the desktops that then find none. Of hosts that
    are alike to everybody the first stands for the others. None with fewer than two hosts.
    """
    if len(morning.hosts) < 2:
        return ()
    by_host = {down.host_id: down for down in placement.without}
    left_out = [
        by_host[host.host_id].left_out if host.host_id in by_host else 0 for host in morning.hosts
    ]
    found: dict[object, tuple[Host, tuple[Stock, ...]]] = {}
    for at, host in enumerate(morning.hosts):
        if left_out[at] < max(left_out):
            continue
        down = by_host.get(host.host_id)
        if down:
            left = down.left
        else:
            left = {}
        stocks = tuple(_without(stock, at, left, placement.left) for stock in morning.stocks)
        carries = tuple(stock.hosts[at] for stock in morning.stocks)
        alike = (carries, tuple(stock.most for stock in stocks))
        found.setdefault(alike, (host, stocks))
    return tuple(found.values())[:DOWNS_MOST]


def _without(stock: Stock, gone: int, left: dict[Id, int], before: dict[Id, int]) -> Stock:
    hosts = tuple(may and at != gone for at, may in enumerate(stock.hosts))
    fewer = left.get(stock.template_id, 0) - before.get(stock.template_id, 0)
    return dataclasses.replace(
        stock, hosts=hosts, most=max(0, stock.most - max(0, fewer)) if any(hosts) else 0
    )


def _in_order(placement: Placement) -> list[HostLoad]:
    """The hosts by name: what happens must not follow from the order somebody typed them in."""
    return sorted(placement.hosts, key=lambda load: (load.name, load.host_id))


def _hosts(placement: Placement) -> tuple[tuple[Host, ...], list[str]]:
    hosts = tuple(Host(load.host_id, load.name) for load in _in_order(placement)[:HOSTS_MOST])
    many = len(placement.hosts) > HOSTS_MOST
    return hosts, [f"more than {HOSTS_MOST} hosts: so many are counted"] if many else []


def _carriers(
    facts: SiteFacts, numbers: Numbers, placement: Placement, count: int
) -> dict[Id, tuple[bool, ...]]:
    """Of every template, which hosts have room for one desktop of it, as far as is known."""

    loads = _in_order(placement)

    def carries(ask: capacity.Ask, at: int) -> bool:
        load = loads[at]
        pairs = ((ask.gib, load.offers_gib), (ask.vcpu, load.offers_vcpu))
        return all(asked is None or offered is None or asked <= offered for asked, offered in pairs)

    return {
        ask.template_id: tuple(carries(ask, at) for at in range(count))
        for ask in capacity.asks(facts, numbers)
    }


def _missing(template: Template, groups: list[SeatGroup]) -> Iterator[str]:
    if positive(template.most) is None:
        yield (
            f"the most of {template.label}"
            if template.most != 0
            else f"a most of {template.label} above nought"
        )
    if not groups:
        yield f"who uses {template.label}"
    for group in groups:
        share = known(group.share_at_once)
        if known(group.people) is None:
            yield f"the people of {group.label}"
        if share is None or share > 1:
            yield f"the share at once of {group.label}"
        if group.arrive_around is None:
            yield f"around when {group.label} arrive"
        if known(group.arrive_spread_minutes) is None:
            yield f"how spread the arrivals of {group.label} are"


def _assumed(template: Template, groups: list[SeatGroup]) -> Iterator[str]:
    """What is not known and can be done without, for now."""
    if template.reset_rule not in COMES_BACK or not template.reset_rule:
        yield f"the reset rule of {template.label}: no desktop comes back in the morning"
    for group in groups:
        sign_ins = known(group.sign_ins_a_day)
        if sign_ins is None:
            yield f"the sign-ins a day of {group.label}: one is counted"
        elif sign_ins > SIGN_INS_MOST:
            yield f"more than {SIGN_INS_MOST} sign-ins a day of {group.label}: so many are counted"


def _stock(template: Template, left: dict[Id, int], hosts: tuple[bool, ...]) -> Stock:
    standby = known(template.standby)
    return Stock(
        template.id,
        template.label,
        None if standby is None else int(standby),
        max(0, int(template.most or 0) - left.get(template.id, 0)),
        COMES_BACK.get(template.reset_rule, STAYS),
        hosts,
    )


def _group(
    site: Site, group: SeatGroup, places: tuple[int, int], template: Template, numbers: Numbers
) -> Group:
    arrives = group.arrive_around or dt.time()
    sign_ins = min(SIGN_INS_MOST, max(1.0, known(group.sign_ins_a_day) or 1.0))
    spread = min(DAY, 60 * (known(group.arrive_spread_minutes) or 0.0))
    pause = 60 * numbers["seats.break-minutes"]
    session = max(
        SESSION_LEAST, (60.0 * day_minutes(site, numbers) - (sign_ins - 1) * pause) / sign_ins
    )
    around = arrives.hour * 3600.0 + arrives.minute * 60 + arrives.second
    stays = COMES_BACK.get(template.reset_rule, STAYS) == STAYS
    return Group(
        *places,
        int(known(group.people) or 0),
        known(group.share_at_once) or 0.0,
        around,
        spread,
        1.0 if stays else sign_ins,
        session,
    )
