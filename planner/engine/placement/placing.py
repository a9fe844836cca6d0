"""Placement: which desktops fit on which host, with every host there and with each one down.

Decisions where the facts leave room
- A spare host does not count; a host to buy counts (:func:`planner.engine.placement.capacity.counting_hosts`).
- An appliance lives on its host and goes down with it; the others stay where they are.
- Of answers that are equally good the one by the hosts' and templates' names is taken, never by the order of rows.
- Desktops may run on any host that counts. Their disks take room on the datastore their host
  keeps them on (:mod:`planner.engine.storage.datastores`); several hosts may share one.
- Where disk cannot be checked (no datastore, or its size or a template's growth is not known) the
  answer is for memory and vCPU alone, and ``unchecked`` says so.
"""

from __future__ import annotations

import functools
import math
from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TypedDict, TypeVar

from planner.catalogue.assumptions import Numbers
from planner.engine.placement import capacity, packing
from planner.engine.placement.capacity import Ask, Offer
from planner.engine.placement.loads import HostLoad, Resource, Sizes, loads_of, most_bind
from planner.engine.storage.datastores import Storage
from planner.record.facts import Id, SiteFacts

Row = TypeVar("Row", HostLoad, "HostDown")
__all__ = ["HostDown", "HostLoad", "Placement", "work_out"]

SMALL = (
    64  # hosts × kinds of desktop: up to here everything is solved exactly, whatever the answer is
)
MORE_SECONDS = 0.5  # of the exact solver's own clock, for how many more fit
HOSTS_DOWN = 200  # different hosts that are taken down in turn; a site with more is not one site


class _Short:
    """What the desktops that go without ask; for results that have them in ``left``."""

    left: dict[Id, int]
    _sizes: Sizes | None

    @property
    def short_gib(self) -> float:
        """Memory the desktops that go without ask: a further host that offers so much would carry them."""
        if self._sizes is None:
            return 0.0
        return self._sizes.gib_of(self.left)

    @property
    def short_vcpu(self) -> int:
        if self._sizes is None:
            return 0
        return self._sizes.vcpu_of(self.left)


@dataclass(frozen=True)
class HostDown(_Short):
    """What happens with one host down. ``fits`` is ``None`` when it could not be told.

    ``left_out`` desktops go without; nobody can do with fewer than ``left_at_least``. ``left`` says of
    which templates. ``loads`` are the other hosts' loads.
    """

    host_id: Id
    name: str
    fits: bool | None
    left_out: int
    left_at_least: int
    left: dict[Id, int] = field(default_factory=dict)
    carried: tuple[tuple[int, ...], ...] = field(default=(), repr=False)  # [class][other host]
    _sizes: Sizes | None = field(default=None, repr=False, compare=False)

    @property
    def proved(self) -> bool:
        return self.left_out == self.left_at_least

    @functools.cached_property
    def loads(self) -> tuple[HostLoad, ...]:
        if self._sizes is None:
            return ()
        return loads_of(self._sizes, self.carried, without=self.host_id)

    @property
    def binds(self) -> Resource:
        """What runs out first on most of the other hosts."""
        return most_bind(self.loads)


@dataclass(frozen=True)
class Placement(_Short):
    """Where the desktops go. ``fits`` is ``None`` while ``missing`` names what is not known, or when
    neither a placement nor the proof that there is none was found (``proved`` is then false).

    ``needs_…`` are what all desktops ask together, ``offers_…`` what all hosts offer. ``unchecked``
    says what the answer leaves out.
    """

    hosts: tuple[HostLoad, ...] = ()
    fits: bool | None = None
    left_out: int = 0
    left_at_least: int = 0
    left: dict[Id, int] = field(default_factory=dict)
    without: tuple[HostDown, ...] = ()
    needs_gib: float | None = None
    needs_vcpu: int | None = None
    offers_gib: float | None = None
    offers_vcpu: float | None = None
    missing: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()
    solver_calls: int = 0
    _sizes: Sizes | None = field(default=None, repr=False, compare=False)
    _packed: packing.Packed | None = field(default=None, repr=False, compare=False)

    @property
    def proved(self) -> bool:
        """Whether ``left_out`` is certain to be the fewest."""
        return self.fits is not None and self.left_out == self.left_at_least

    @property
    def binds(self) -> Resource:
        """What runs out first on most hosts."""
        return most_bind(self.hosts)

    def host(self, host_id: Id | None) -> HostLoad | None:
        return next((load for load in self.hosts if load.host_id == host_id), None)

    def down(self, host_id: Id | None) -> HostDown | None:
        return next((down for down in self.without if down.host_id == host_id), None)

    @functools.cached_property
    def _more(self) -> tuple[dict[Id, int], bool]:
        if self._sizes is None or self._packed is None or self.fits is None:
            return {}, self.fits is not None
        found, sure = {}, True
        counts = _more_of_each(self._sizes.problem, self._packed)
        for members, (count, proved) in zip(self._sizes.members, counts, strict=True):
            found.update(dict.fromkeys((ask.template_id for ask in members), count))
            sure = sure and proved
        return self._sizes.as_they_stand(found), sure

    @property
    def more(self) -> dict[Id, int]:
        """How many more desktops of each template fit beside all others, worked out when asked for."""
        return self._more[0]

    @property
    def more_proved(self) -> bool:
        """Whether ``more`` is exact; if not, at least so many fit."""
        return self._more[1]


@functools.lru_cache(
    maxsize=256
)  # it may ask the exact solver, and a page that is opened again asks the same
def _more_of_each(problem: packing.Problem, packed: packing.Packed) -> tuple[tuple[int, bool], ...]:
    work = packing.Work(solver_seconds=MORE_SECONDS)
    return tuple(
        packing.more(problem, packed, number, work) for number in range(len(problem.classes))
    )


def work_out(facts: SiteFacts, numbers: Numbers, storage: Storage) -> Placement:
    """Places every template's *most* desktops. Never raises. Exact where ``proved``; what the exact
    solver may spend is bounded, and so is everything else."""
    offers, asks = capacity.offers(facts, numbers), capacity.asks(facts, numbers)
    missing = [line for offer in offers for line in offer.missing]
    missing += [line for ask in asks for line in ask.missing]
    rows = {offer.host_id: at for at, offer in enumerate(offers)}
    offers = tuple(sorted(offers, key=lambda offer: (offer.name, offer.host_id)))
    stand = [ask.template_id for ask in asks]
    asks = tuple(sorted(asks, key=lambda ask: (ask.name, ask.template_id)))
    if not offers:
        missing.append("no host that counts is named")
    if not asks:
        missing.append("no desktop template is named")
    sizes = _sizes(facts, numbers, storage, offers, asks, stand)
    totals = _totals(offers, asks)
    if missing:
        hosts = _as_they_stand(loads_of(sizes, ()), rows)
        return Placement(
            hosts=hosts, missing=tuple(dict.fromkeys(missing)), unchecked=sizes.unchecked, **totals
        )
    work = packing.Work()
    packed = packing.pack(sizes.problem, work)
    if not packed.fits and len(sizes.problem.bins) * len(sizes.problem.classes) > SMALL:
        work.solver_seconds = (
            0.0  # how many more go without with a host down is then not worth its time
        )
    without = _as_they_stand(_each_down(sizes, packed, work), rows)
    return Placement(
        hosts=_as_they_stand(loads_of(sizes, packed.placed), rows),
        fits=packed.fits,
        left_out=packed.left,
        left_at_least=packed.left_at_least,
        left=sizes.left(packed.placed),
        without=without,
        unchecked=sizes.unchecked,
        solver_calls=work.solver_calls,
        _sizes=sizes,
        _packed=packed,
        **totals,
    )


def _as_they_stand(found: tuple[Row, ...], rows: dict[Id, int]) -> tuple[Row, ...]:
    """Hosts in the order of their rows: they are packed by name, so that the answer does not follow from it."""
    return tuple(sorted(found, key=lambda one: rows[one.host_id]))


class Totals(TypedDict):
    """All desktops' needs and all hosts' offers together; ``None`` where one of them is not known."""

    needs_gib: float | None
    needs_vcpu: int | None
    offers_gib: float | None
    offers_vcpu: float | None


def _sum(values: list[float | None]) -> float | None:
    """``None`` for nothing at all, and where one is not known."""
    known = [value for value in values if value is not None]
    if known and len(known) == len(values):
        return sum(known)
    return None


def _totals(offers: tuple[Offer, ...], asks: tuple[Ask, ...]) -> Totals:
    asking = [ask for ask in asks if ask.count != 0]
    counts = [ask.count for ask in asking]
    lacking = (
        not asks or None in counts or any(ask.gib is None or ask.vcpu is None for ask in asking)
    )
    return {
        "needs_gib": None
        if lacking
        else sum((ask.count or 0) * (ask.gib or 0.0) for ask in asking),
        "needs_vcpu": None
        if lacking
        else sum((ask.count or 0) * (ask.vcpu or 0) for ask in asking),
        "offers_gib": _sum([offer.gib for offer in offers]),
        "offers_vcpu": _sum([offer.vcpu for offer in offers]),
    }


def _sizes(
    facts: SiteFacts,
    numbers: Numbers,
    storage: Storage,
    offers: tuple[Offer, ...],
    asks: tuple[Ask, ...],
    stand: list[Id],
) -> Sizes:
    """The facts in whole numbers: asks rounded up and offers down, to MiB and whole vCPU.

    ``stand`` are the templates in the order of their rows, for what is shown.
    """
    templates = {template.id: template for template in facts.templates}
    disk = {
        ask.template_id: capacity.desktop_disk_gib(templates[ask.template_id], numbers)
        for ask in asks
    }
    unchecked = [
        f"disk: growth of {ask.name}" for ask in asks if ask.count and disk[ask.template_id] is None
    ]
    disk_known = not unchecked
    homes = dict(storage.homes)
    rooms = {store.datastore_id: store.room_gib for store in storage.stores}
    pools: dict[Id, int] = {}
    bins = []
    for offer in offers:
        home = homes.get(offer.host_id)
        if home is not None:
            room = rooms.get(home)
        else:
            room = None
        if room is None:
            unchecked.append(
                f"disk: {offer.name}, {'no datastore' if home is None else 'its datastore is not sized'}"
            )
        pool = -1
        if room is not None and disk_known and home is not None:
            pool = pools.setdefault(home, len(pools))
        bins.append(packing.Bin(_down((offer.gib or 0.0) * 1024), _down(offer.vcpu or 0.0), pool))
    unchecked += [
        f"memory: {appliance.label} stands on no host"
        for appliance in facts.appliances
        if not appliance.host_id
    ]
    members: dict[tuple[int, int, int], list[Ask]] = {}
    for ask in asks:
        if ask.gib is not None and ask.vcpu is not None:
            key = (
                max(1, _up(ask.gib * 1024)),
                ask.vcpu,
                _up((disk[ask.template_id] or 0.0) * 1024),
            )
            members.setdefault(key, []).append(ask)
    classes = tuple(
        packing.Class(*key, sum(ask.count or 0 for ask in group)) for key, group in members.items()
    )
    problem = packing.Problem(
        classes, tuple(bins), tuple(_down((rooms[home] or 0.0) * 1024) for home in pools)
    )
    return Sizes(
        problem=problem,
        offers=offers,
        members=tuple(map(tuple, members.values())),
        stores=tuple(
            (homes.get(offer.host_id), rooms.get(homes.get(offer.host_id) or 0)) for offer in offers
        ),
        disk={id: disk[id] for id in stand},
        unchecked=tuple(dict.fromkeys(unchecked)),
    )


def _up(value: float) -> int:
    return math.ceil(value - 1e-6)


def _down(value: float) -> int:
    return math.floor(value + 1e-6)


# -- each host down in turn -----------------------------------------------------------------------


def _each_down(sizes: Sizes, packed: packing.Packed, work: packing.Work) -> tuple[HostDown, ...]:
    """Takes every host down in turn. Hosts that are alike share an answer, and so does a host that is
    no larger than one without which everything still fits: they change places."""
    problem = sizes.problem
    order = sorted(range(len(problem.bins)), key=lambda at: _weight(problem, at), reverse=True)
    answers: dict[int, packing.Packed] = {}
    found: dict[int, HostDown] = {}
    shared = Counter(one.pool for one in problem.bins)
    own = [one.pool >= 0 and shared[one.pool] == 1 for one in problem.bins]
    for at in order:
        other = next(
            (o for o in answers if _stands_in(problem, answers[o], o, at, own[o] and own[at])), None
        )
        if other is not None:
            answer = _swapped(answers[other], other, at)
        elif len(answers) < HOSTS_DOWN and work.steps > 0:
            answer = packing.one_down(problem, packed, at, work)
            # nobody leaves out fewer with a host down than with every host there
            answer = answers[at] = replace(
                answer, left_at_least=max(answer.left_at_least, packed.left_at_least)
            )
        else:
            total = problem.total
            answer = packing.Packed(
                tuple((0,) * (len(problem.bins) - 1) for _ in problem.classes), total, 0
            )
        offer = sizes.offers[at]
        found[at] = HostDown(
            host_id=offer.host_id,
            name=offer.name,
            fits=answer.fits,
            left_out=answer.left,
            left_at_least=answer.left_at_least,
            left=sizes.left(answer.placed),
            carried=answer.placed,
            _sizes=sizes,
        )
    return tuple(found[at] for at in range(len(problem.bins)))


def _weight(problem: packing.Problem, at: int) -> tuple[int, int, int]:
    one = problem.bins[at]
    return one.memory, one.vcpu, problem.pools[one.pool] if one.pool >= 0 else 0


def _stands_in(
    problem: packing.Problem, answer: packing.Packed, other: int, at: int, own: bool
) -> bool:
    """Whether the answer for ``other`` down also answers for ``at`` down, the two having changed places.

    ``own``: each has a disk pool to itself. Hosts that are alike always do; a smaller one does where
    everything fits without the larger.
    """
    large, small = problem.bins[other], problem.bins[at]
    if own:
        rooms = (problem.pools[large.pool], problem.pools[small.pool])
    else:
        rooms = (0, 0)
    if not own and large.pool != small.pool:
        return False
    if (large.memory, large.vcpu, rooms[0]) == (small.memory, small.vcpu, rooms[1]):
        return True
    return (
        answer.left == 0
        and large.memory >= small.memory
        and large.vcpu >= small.vcpu
        and rooms[0] >= rooms[1]
    )


def _swapped(answer: packing.Packed, other: int, at: int) -> packing.Packed:
    """The answer for ``other`` down made into the one for ``at`` down: what ``at`` carried, ``other`` carries."""
    rows = []
    for row in answer.placed:
        whole = [*row[:other], 0, *row[other:]]
        whole[other] = whole[at]
        del whole[at]
        rows.append(tuple(whole))
    return packing.Packed(tuple(rows), answer.left, answer.left_at_least)
