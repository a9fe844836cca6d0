"""Leases: how large a DHCP scope the desktops need.

A desktop that is rebuilt usually comes back with a new MAC address, and its old lease lives on until
it runs out. So by Little's law (L = λW; Operations Research 9(3), 1961) a network carries
rebuilds a day × lease in days of dead leases beside the living ones.

Source: a house model on RFC 2131 §4.4.5 (renewal at half, rebinding at seven eighths of a lease).
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from planner.catalogue.assumptions import Numbers
from planner.engine.addresses import addressing, ipv4
from planner.record.choices import Dhcp, ResetRule
from planner.record.facts import Id, Network, Ref, SeatGroup, SiteFacts, Template

DAY = 1440
RENEWAL, REBINDING = 0.5, 0.875  # of a lease; RFC 2131 §4.4.5
ABSURD = 10**15
STEPS = (DAY, 60, 10)  # what a person would set: whole days, whole hours, tens of minutes


@dataclass(frozen=True, slots=True)
class ScopeNeed:
    """One network's leases. Counts are of addresses; times in minutes; None: not known.

    ``scope_size`` is what the DHCP range can lease (None without a range). ``running`` desktops at
    most, ``rebuilds_a_day`` of them, ``others`` beside them: count those with a reservation inside
    the range among the others, they take its addresses too. ``needed`` is how many leases there are
    at the worst time; ``at_least`` counts what is known of it, and ``living`` what is known of it
    without the dead leases, so that a scope that is too small already now is noticed before
    everything is filled in.

    ``longest_lease_minutes`` is the longest lease whose need still fits the scope: 0 when none does,
    None when unknown or when ``any_lease_fits`` (nothing is rebuilt, or nothing beside it).
    ``t1_minutes`` and ``t2_minutes`` are when a client renews and rebinds the present lease.
    ``missing`` says in words what is not known, ``missing_at`` where it would be typed.
    """

    network_id: Id
    scope_size: int | None
    needed: int | None
    at_least: int
    living: int
    running: int | None
    rebuilds_a_day: float | None
    others: int | None
    lease_minutes: int | None
    longest_lease_minutes: int | None
    any_lease_fits: bool
    t1_minutes: float | None
    t2_minutes: float | None
    missing: tuple[str, ...] = ()
    missing_at: tuple[Ref, ...] = ()

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
        return self._by_id.get(network_id) if network_id is not None else None


def work_out(facts: SiteFacts, numbers: Numbers | None = None) -> Leases:
    """The need of each network: most running + Σ rebuilds a day × lease in days + other DHCP clients."""
    templates: dict[Id | None, list[Template]] = {}
    for template in facts.templates:
        templates.setdefault(template.network_id, []).append(template)
    groups: dict[Id | None, list[SeatGroup]] = {}
    for group in facts.seat_groups:
        groups.setdefault(group.template_id, []).append(group)
    return Leases(
        tuple(
            _need(network, templates.get(network.id, []), groups)
            for network in facts.networks
            if network.dhcp == Dhcp.RANGE or network.id in templates
        )
    )


def rebuilds_a_day(template: Template, groups: Iterable[SeatGroup]) -> float | None:
    """How many desktops of a template are rebuilt a day; None when it is not known.

    *kept* 0, *nightly* its most, *weekly* a seventh of it, *each sign-out* as many as people sign in.

    Sign-ins a day are people × sign-ins a day each, not only of the share that sits there at once:
    that share says how many are signed in at the busiest moment, and people who come in shifts sign
    in all the same. Common practice, no source.
    """
    found = _rebuilds(template, list(groups))
    return None if found is None else float(found)


def sensible_lease(longest_minutes: float | None, shortest_minutes: float) -> int | None:
    """The longest lease that a person would set and that is not over ``longest_minutes``, in minutes.

    Whole days, else whole hours, else tens of minutes; None when that is under ``shortest_minutes``.
    """
    if longest_minutes is None:
        return None
    for step in STEPS:
        if longest_minutes >= step:
            found = int(longest_minutes // step) * step
            return found if found >= shortest_minutes else None
    return None


def exact(number: float | None) -> Fraction | None:
    """A number as it was typed, in decimal: 0.1 is a tenth. None for what counts nothing on earth."""
    if number is None or not 0 <= number <= ABSURD:  # what is no number (nan) compares as False
        return None
    return Fraction(number) if isinstance(number, int) else Fraction(repr(number))


def _rebuilds(template: Template, groups: list[SeatGroup]) -> Fraction | None:
    match template.reset_rule:
        case ResetRule.KEPT:
            return Fraction(0)
        case ResetRule.NIGHTLY:
            return exact(template.most)
        case ResetRule.WEEKLY:
            most = exact(template.most)
            return None if most is None else most / 7
        case ResetRule.SIGN_OUT:
            counts = [(exact(group.people), exact(group.sign_ins_a_day)) for group in groups]
            if not counts or any(people is None or each is None for people, each in counts):
                return None
            return sum((people * each for people, each in counts if people and each), Fraction(0))
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
    network: Network, templates: list[Template], groups: dict[Id | None, list[SeatGroup]]
) -> ScopeNeed:
    missing = list(_missing(network, templates, groups))
    most = [exact(template.most) for template in templates]
    rebuilds = [_rebuilds(template, groups.get(template.id, [])) for template in templates]
    lease, others = exact(network.lease_minutes), exact(network.other_dhcp_clients)
    dead = sum((one for one in rebuilds if one), Fraction(0)) * (lease or 0) / DAY
    living = sum((one for one in most if one), Fraction(0)) + (others or 0)
    size, ends = None, addressing.dhcp_ends(network)
    if network.dhcp == Dhcp.RANGE and ends and ends[0] <= ends[1]:
        read = ipv4.parse_prefix(network.cidr)
        size = addressing.dhcp_size(network, read[1] if read else None)
    all_rebuilds = None if None in rebuilds else sum((one for one in rebuilds if one), Fraction(0))
    longest, any_fits, known = (
        None,
        False,
        None not in most and others is not None and all_rebuilds is not None,
    )
    if known and all_rebuilds is not None and size is not None:
        longest, any_fits = _longest(size, living, all_rebuilds)
    return ScopeNeed(
        network_id=network.id,
        scope_size=size,
        needed=math.ceil(living + dead)
        if known and (lease is not None or not all_rebuilds)
        else None,
        at_least=math.ceil(living + dead),
        living=math.ceil(living),
        running=None if None in most else sum(template.most or 0 for template in templates),
        rebuilds_a_day=None if all_rebuilds is None else float(all_rebuilds),
        others=network.other_dhcp_clients if others is not None else None,
        lease_minutes=network.lease_minutes if lease is not None else None,
        longest_lease_minutes=longest,
        any_lease_fits=any_fits,
        t1_minutes=None if lease is None else float(lease * Fraction(RENEWAL)),
        t2_minutes=None if lease is None else float(lease * Fraction(REBINDING)),
        missing=tuple(words for words, _ in missing),
        missing_at=tuple(at for _, at in missing),
    )


def _longest(size: int, living: Fraction, rebuilds: Fraction) -> tuple[int | None, bool]:
    """The longest lease in whole minutes that fits, and whether every lease does."""
    if living > size:
        return 0, False
    if not rebuilds:
        return None, True
    return math.floor((size - living) / rebuilds * DAY), False
