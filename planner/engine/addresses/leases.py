"""Leases: how large a DHCP scope the desktops need.

A desktop that is rebuilt usually comes back with a new MAC address, and its old lease lives on until it runs
out, counted from its last renewal: a client renews at half a lease and whenever it starts anew, so at worst a
whole lease after the rebuild. Some servers keep it still longer. What counts is the busiest moment, not the
average: desktops that run, other clients, and the most rebuilds within any stretch of time as long as an old
lease lives (:mod:`planner.engine.addresses.resets` says when they come). So a shorter lease mends nothing until
it is shorter than the burst in which desktops are rebuilt, or by whole nights.

Source: RFC 2131 §4.4.5 (renewal at half, rebinding at seven eighths of a lease), §4.3.2 (a client that starts
anew asks for its lease again); the count is common practice, no source. A model of clients and server in
tests/references plays it event by event.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from planner.catalogue.assumptions import Numbers
from planner.engine.addresses import addressing, ipv4, resets
from planner.engine.addresses.resets import exact
from planner.engine.addresses.rhythms import Rhythm
from planner.engine.recovery.building import Building
from planner.record.choices import Dhcp, ResetRule
from planner.record.facts import Id, Network, Ref, SeatGroup, SiteFacts, Template

DAY = 1440
RENEWAL, REBINDING = 0.5, 0.875  # of a lease; RFC 2131 §4.4.5
STEPS = (DAY, 60, 10)  # what a person would set: whole days, whole hours, tens of minutes


@dataclass(frozen=True, slots=True)
class ScopeNeed:
    """One network's leases. Counts are of addresses; times in minutes; None: not known.

    ``scope_size`` is what the DHCP range can lease (None without a range). ``running`` desktops at
    most, ``rebuilds_a_day`` of them on average, ``others`` beside them: count those with a reservation inside
    the range among the others, they take its addresses too. ``old`` are the leases of rebuilt desktops that are
    still held at the busiest moment, as far as is known. ``needed`` is how many leases there are then;
    ``at_least`` counts what is known of it, and ``living`` what is known of it without the old leases, so that a
    scope that is too small already now is noticed before everything is filled in.

    ``longest_lease_minutes`` is the longest lease whose need still fits the scope: 0 when none does,
    None when unknown or when ``any_lease_fits`` (nothing is rebuilt, or nothing beside it).
    ``at_shortest`` is the need with the shortest lease that is proposed. ``t1_minutes`` and ``t2_minutes`` are when
    a client renews and rebinds the present lease. ``missing`` says in words what is not known, ``missing_at``
    where it would be typed.
    """

    network_id: Id
    scope_size: int | None
    needed: int | None
    at_least: int
    living: int
    old: int
    running: int | None
    rebuilds_a_day: float | None
    others: int | None
    lease_minutes: int | None
    longest_lease_minutes: int | None
    any_lease_fits: bool
    at_shortest: int | None
    t1_minutes: float | None
    t2_minutes: float | None
    missing: tuple[str, ...] = ()
    missing_at: tuple[Ref, ...] = ()

    @property
    def old_leases(self) -> int | None:
        """Old leases at the busiest moment; None while it is not known how many."""
        if self.needed is None:
            return None
        return self.old

    @property
    def short(self) -> bool:
        """Whether the scope is surely too small, with what is known."""
        return self.scope_size is not None and self.at_least > self.scope_size


@dataclass(frozen=True)
class Leases:
    """What every network with a DHCP range or with desktops on it needs, in the networks' order."""

    by_network: tuple[ScopeNeed, ...] = ()

    @functools.cached_property
    def _by_id(self) -> dict[Id, ScopeNeed]:
        return {need.network_id: need for need in self.by_network}

    def of(self, network_id: Id | None) -> ScopeNeed | None:
        """The need of one network, None when it leases nothing."""
        if network_id is not None:
            return self._by_id.get(network_id)
        return None


def work_out(
    facts: SiteFacts, numbers: Numbers | None = None, building: Building | None = None
) -> Leases:
    """The need of each network at its busiest moment. Never raises.

    ``building`` says how fast desktops are rebuilt; without it, and where it cannot tell, they are all at once.
    """
    if numbers is None:
        counted = Numbers()
    else:
        counted = numbers
    templates: dict[Id | None, list[Template]] = {}
    for template in facts.templates:
        templates.setdefault(template.network_id, []).append(template)
    groups: dict[Id | None, list[SeatGroup]] = {}
    for group in facts.seat_groups:
        groups.setdefault(group.template_id, []).append(group)
    found = []
    for network in facts.networks:
        if network.dhcp == Dhcp.RANGE or network.id in templates:
            own = templates.get(network.id, [])
            rhythms = resets.rhythms(facts, own, groups, counted, building)
            found.append(_need(network, own, groups, rhythms, counted))
    return Leases(tuple(found))


def rebuilds_a_day(template: Template, groups: Iterable[SeatGroup]) -> float | None:
    """How many desktops of a template are rebuilt a day on average; None when it is not known.

    *kept* 0, *nightly* its most, *weekly* a seventh of it, *each sign-out* as many as people sign in.

    Sign-ins a day are people × sign-ins a day each, not only of the share that sits there at once:
    that share says how many are signed in at the busiest moment, and people who come in shifts sign
    in all the same. Common practice, no source.
    """
    found = resets.rebuilds_a_day(template, groups)
    if found is None:
        return None
    return float(found)


def sensible_lease(longest_minutes: float | None, shortest_minutes: float) -> int | None:
    """The longest lease that a person would set and that is not over ``longest_minutes``, in minutes.

    Whole days, else whole hours, else tens of minutes; None when that is under ``shortest_minutes``.
    """
    if longest_minutes is None:
        return None
    for step in STEPS:
        if longest_minutes >= step:
            found = int(longest_minutes // step) * step
            if found >= shortest_minutes:
                return found
            return None
    return None


def _missing(
    network: Network, templates: list[Template], groups: dict[Id | None, list[SeatGroup]]
) -> Iterator[tuple[str, Ref]]:
    """What is not known, in words, with where it would be typed."""
    lasting = True
    for template in templates:
        if exact(template.most) is None:
            yield f"the most of {template.label}", template.ref.at("most")
        if not template.reset_rule:
            yield f"the reset rule of {template.label}", template.ref.at("reset_rule")
        if template.reset_rule == ResetRule.SIGN_OUT:
            own = groups.get(template.id, [])
            if not own:
                yield f"who uses {template.label}", template.ref
            for group in own:
                for field, words in (
                    ("people", "the people"),
                    ("sign_ins_a_day", "the sign-ins a day"),
                ):
                    if exact(getattr(group, field)) is None:
                        yield f"{words} of {group.label}", group.ref.at(field)
        lasting = lasting and template.reset_rule == ResetRule.KEPT
    if network.dhcp == Dhcp.RANGE and exact(network.other_dhcp_clients) is None:
        yield "how many other DHCP clients there are", network.ref.at("other_dhcp_clients")
    if network.dhcp == Dhcp.RANGE and not lasting and exact(network.lease_minutes) is None:
        yield "the lease time", network.ref.at("lease_minutes")


def _need(
    network: Network,
    templates: list[Template],
    groups: dict[Id | None, list[SeatGroup]],
    rhythms: Sequence[Rhythm],
    numbers: Numbers,
) -> ScopeNeed:
    missing = list(_missing(network, templates, groups))
    most = [exact(template.most) for template in templates]
    rebuilds = [
        resets.rebuilds_a_day(template, groups.get(template.id, [])) for template in templates
    ]
    lease, others = exact(network.lease_minutes), exact(network.other_dhcp_clients)
    living = math.ceil(sum((one for one in most if one), Fraction(0)) + (others or 0))
    grace = numbers["lease.grace-minutes"]
    if lease is None:
        old = 0
    else:
        old = _old(rhythms, float(lease), grace)
    known = None not in most and None not in rebuilds and others is not None
    size, longest, any_fits = _size(network), None, False
    if known and size is not None:
        longest, any_fits = _longest(size - living, rhythms, grace)
    shortest = _old(rhythms, numbers["lease.shortest-minutes"], grace)
    all_rebuilds = sum((one for one in rebuilds if one), Fraction(0))
    return ScopeNeed(
        network_id=network.id,
        scope_size=size,
        needed=living + old if known and (lease is not None or not rhythms) else None,
        at_least=living + old,
        living=living,
        old=old,
        running=None if None in most else sum(template.most or 0 for template in templates),
        rebuilds_a_day=None if None in rebuilds else float(all_rebuilds),
        others=network.other_dhcp_clients if others is not None else None,
        lease_minutes=network.lease_minutes if lease is not None else None,
        longest_lease_minutes=longest,
        any_lease_fits=any_fits,
        at_shortest=living + shortest if known else None,
        t1_minutes=None if lease is None else float(lease * Fraction(RENEWAL)),
        t2_minutes=None if lease is None else float(lease * Fraction(REBINDING)),
        missing=tuple(words for words, _ in missing),
        missing_at=tuple(at for _, at in missing),
    )


def _size(network: Network) -> int | None:
    """How many addresses the range can lease; None without a range."""
    ends = addressing.dhcp_ends(network)
    if network.dhcp != Dhcp.RANGE or not ends or ends[0] > ends[1]:
        return None
    read = ipv4.parse_prefix(network.cidr)
    return addressing.dhcp_size(network, read[1] if read else None)


def _old(rhythms: Iterable[Rhythm], lease: float, grace: float) -> int:
    """The most leases of rebuilt desktops that are held at once: those rebuilt within a lease and the grace."""
    return sum(rhythm.most_within(lease + grace) for rhythm in rhythms)


def _longest(room: int, rhythms: Sequence[Rhythm], grace: float) -> tuple[int | None, bool]:
    """The longest lease in whole minutes whose old leases find room, and whether every lease does."""
    if room < 0:
        return 0, False
    if not rhythms:
        return None, True
    low, high = 0, 1  # a lease of no time is none
    while _old(rhythms, high, grace) <= room:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if _old(rhythms, middle, grace) <= room:
            low = middle
        else:
            high = middle
    return low, False
