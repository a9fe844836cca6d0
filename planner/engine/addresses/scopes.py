"""Scopes: the DHCP range and the lease that a desktop network would be given.

A range that stands and lasts is kept. Else the longest free run of the band plan's part for DHCP is taken;
where that does not last, the longest free run of the whole subnet. The lease is the longest one a person
would set that still fits the range at its busiest moment (:mod:`planner.engine.addresses.leases`), and not over
the longest that is proposed at all. Where no lease fits the range that stands, the range grows before the
lease gets shorter than anybody would set.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers
from planner.engine.addresses import bands, ipv4, leases
from planner.engine.addresses.addressing import Addressing, NetworkSpan, dhcp_ends
from planner.engine.addresses.bands import Run
from planner.engine.addresses.leases import ScopeNeed
from planner.engine.recovery.building import Building
from planner.record import units
from planner.record.choices import Dhcp, NetworkPurpose
from planner.record.facts import Id, Network, SiteFacts


@dataclass(frozen=True, slots=True)
class Scope:
    """What one network would be given. ``first`` to ``last`` is the range ("" when there is none to propose).

    ``needed`` is how many leases there are at the busiest moment with the lease proposed, None while that is not
    known. ``lease_minutes`` is the lease proposed, None where none can be. ``why`` says what stands in the
    way, ``missing`` which facts the lease waits for. ``values`` are the fields it would set, as typed: none
    when everything stands already or something stands in the way.
    """

    network_id: Id
    name: str
    cidr: str
    first: str = ""
    last: str = ""
    size: int | None = None
    needed: int | None = None
    lease_minutes: int | None = None
    why: str = ""
    missing: tuple[str, ...] = ()
    values: tuple[tuple[str, str], ...] = ()

    @property
    def changes(self) -> str:
        """What it would set, in words: ``the range, the lease``."""
        words = {"dhcp_first": "the range", "dhcp_last": "the range", "lease_minutes": "the lease"}
        return ", ".join(
            dict.fromkeys(words.get(name, "that it has DHCP") for name, _ in self.values)
        )


def propose(
    facts: SiteFacts, addressing: Addressing, numbers: Numbers, building: Building | None = None
) -> tuple[Scope, ...]:
    """A range and a lease for every network that desktops stand on: by its purpose, or because a template
    names it. ``building`` says how fast they are rebuilt. Never raises."""
    shortest, longest = numbers["lease.shortest-minutes"], numbers["lease.longest-minutes"]
    used = {template.network_id for template in facts.templates}
    networks = [
        network
        for network in facts.networks
        if network.purpose == NetworkPurpose.DESKTOPS or network.id in used
    ]
    choices = {network.id: _ranges(network, addressing.span(network.id)) for network in networks}
    needs = []
    for at in range(3):
        texts = {id: _texts(runs[at]) for id, runs in choices.items() if at < len(runs)}
        needs.append(leases.work_out(_changed(facts, texts, {}), numbers, building))
    found = []
    for network in networks:
        runs = choices[network.id]
        tries = [
            _scope(network, run, needs[at].of(network.id), shortest, longest)
            for at, run in enumerate(runs)
        ]
        lasting = next((one for one in tries if not one.why), None)
        found.append(
            lasting or max(tries, key=lambda one: one.size or 0, default=_none(network, addressing))
        )
    return tuple(_with_needed(found, facts, numbers, building))


def _with_needed(
    scopes: list[Scope], facts: SiteFacts, numbers: Numbers, building: Building | None
) -> Iterator[Scope]:
    """The scopes with what they would hold at the busiest moment."""
    leased = {one.network_id: one.lease_minutes for one in scopes if one.lease_minutes is not None}
    ranges = {one.network_id: (one.first, one.last) for one in scopes if one.first}
    needs = leases.work_out(_changed(facts, ranges, leased), numbers, building)
    for one in scopes:
        need = needs.of(one.network_id)
        yield dataclasses.replace(one, needed=need.needed if need and one.first else None)


def _none(network: Network, addressing: Addressing) -> Scope:
    span = addressing.span(network.id)
    known = span is not None and span.block is not None
    if known:
        why = "nothing is free in it"
    else:
        why = "its subnet is not known"
    return Scope(network.id, network.label, span.cidr if span else "", why=why)


def _ranges(network: Network, span: NetworkSpan | None) -> list[Run]:
    """The ranges to try, in this order: the one that stands, that of the band plan, the longest of all."""
    if span is None or span.block is None:
        return []
    block, found = span.block, []
    ends = dhcp_ends(network)
    if ends and block.first <= ends[0] <= ends[1] <= block.last:
        found.append(ends)
    gateways = bands.part("gateway", block)
    above = (gateways[1] + 1 if gateways else block.first, block.last)
    for part in (bands.part("dhcp", block), above):
        if part and part[0] <= part[1]:
            run = _longest(bands.free_runs(*part, span.taken))
        else:
            run = None
        if run and run not in found:
            found.append(run)
    return found


def _longest(runs: Sequence[Run]) -> Run | None:
    return max(runs, key=lambda run: run[1] - run[0], default=None)


def _texts(run: Run) -> tuple[str, str]:
    return ipv4.to_text(run[0]), ipv4.to_text(run[1])


def _changed(
    facts: SiteFacts, ranges: dict[Id, tuple[str, str]], leased: dict[Id, int]
) -> SiteFacts:
    """The facts with these ranges and leases."""

    def changed(network: Network) -> Network:
        if network.id not in ranges:
            return network
        first, last = ranges[network.id]
        lease = leased.get(network.id, network.lease_minutes)
        return dataclasses.replace(
            network, dhcp=Dhcp.RANGE.value, dhcp_first=first, dhcp_last=last, lease_minutes=lease
        )

    return dataclasses.replace(
        facts, networks=tuple(changed(network) for network in facts.networks)
    )


def _scope(
    network: Network, run: Run, need: ScopeNeed | None, shortest: float, longest: float
) -> Scope:
    first, last = _texts(run)
    size = run[1] - run[0] + 1
    lease, why = _lease(need, shortest, longest)
    read = ipv4.parse_prefix(network.cidr)
    wanted = {"dhcp": Dhcp.RANGE.value, "dhcp_first": first, "dhcp_last": last}
    values = [(field, text) for field, text in wanted.items() if getattr(network, field) != text]
    if lease is not None and lease != network.lease_minutes:
        values.append(("lease_minutes", units.show_minutes(lease).replace(",", "")))
    return Scope(
        network.id,
        network.label,
        str(read[1]) if read else "",
        first,
        last,
        size,
        None,
        lease,
        why,
        need.missing if need else (),
        () if why else tuple(values),
    )


def _lease(need: ScopeNeed | None, shortest: float, longest: float) -> tuple[int | None, str]:
    """The lease for a range, or why there is none; neither while it is not known."""
    if need is None or need.scope_size is None:
        return None, ""
    if need.living > need.scope_size:
        return (
            None,
            f"{units.show(need.living)} leases at once do not fit {units.show(need.scope_size)} addresses",
        )
    if need.lease_minutes is not None and not need.short and not _unknown(need):
        return need.lease_minutes, ""  # what stands lasts
    if need.any_lease_fits:
        return leases.sensible_lease(longest, shortest), ""
    if need.longest_lease_minutes is None:
        return None, ""
    found = leases.sensible_lease(min(need.longest_lease_minutes, longest), shortest)
    if found is not None:
        return (found, "")
    return (None, _too_small(need, shortest))


def _too_small(need: ScopeNeed, shortest: float) -> str:
    """Why no lease mends it: what the shortest that is proposed would still need."""
    needed, size = units.show(need.at_shortest), units.show(need.scope_size)
    return (
        f"even with a lease of {units.show_minutes(shortest)} there are {needed} at the busiest moment, "
        f"for {size} addresses: the desktops need a larger subnet"
    )


def _unknown(need: ScopeNeed) -> bool:
    return need.running is None or need.others is None or need.rebuilds_a_day is None
