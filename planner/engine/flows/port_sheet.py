"""Flows: the port sheet that follows from the plan.

Ports, directions, reasons and sources stand in ``fixtures/catalogue/ports.toml``. Here, one small
function a rule says which ends it joins. Where the facts do not say who answers, the end says "not
known yet"; nothing is made up.
"""

from __future__ import annotations

import dataclasses
import functools
import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Annotated, Any

from planner.catalogue import files as catalogue
from planner.engine.flows.ends import (
    FIREWALL,
    HOST_FIREWALLS,
    NOT_KNOWN,
    UNKNOWN,
    End,
    Ends,
    Group,
    Holder,
    end,
)
from planner.engine.flows.ports import openings, registered
from planner.engine.flows.rules import RULES, Way
from planner.record.choices import Choice, Transport
from planner.record.facts import Id, Ref, SiteFacts

__all__ = ["FIREWALL", "HOST_FIREWALLS", "NOT_KNOWN", "UNKNOWN", "End", "Flow", "Flows", "work_out"]

TOGETHER = 40  # target networks of one rule up to which each has its own line
OWN_SOURCE = "own flow, recorded in 9.3"
LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # as in the plan's fingerprint: nothing that is misread on paper


class Direction(Choice):
    ONE_WAY = "one way"  # the source opens it, answers come back
    BOTH_WAYS = "both ways"


@dataclass(frozen=True, slots=True)
class Flow:
    """Traffic that must pass.

    ``transport`` is tcp, udp or icmp, or "" while nobody knows; ``ports`` is "443", "49152-65535" or
    "not known yet", and "" for icmp. ``iana`` is the registered name, or "". ``crosses`` is "firewall", "host firewalls
    only" (one network, or networks joined without a firewall) or "not known". ``name`` is the rule's
    short word; ``record`` is an own flow's record.
    """

    source: End
    target: End
    transport: Annotated[str, Transport]
    ports: str
    iana: str
    direction: Direction
    crosses: str
    why: str
    citation: str
    own: bool = False
    rule: str = ""
    name: str = ""
    record: Ref | None = None


@dataclass(frozen=True)
class Flows:
    """Every flow of a site, rule by rule, the own ones last."""

    flows: tuple[Flow, ...] = field(default=())

    @functools.cached_property
    def through_firewalls(self) -> tuple[Flow, ...]:
        return tuple(flow for flow in self.flows if flow.crosses == FIREWALL)

    @functools.cached_property
    def code(self) -> str:
        """Four letters or digits that change when a line of the port sheet does: who, to whom, which port, through
        what. Names, reasons and the order of the lines do not count; twenty bits of a SHA-256.
        """
        lines = sorted(
            [
                _who(flow.source),
                _who(flow.target),
                flow.transport,
                flow.ports,
                flow.direction,
                flow.crosses,
            ]
            for flow in self.flows
        )
        number = int.from_bytes(hashlib.sha256(json.dumps(lines).encode()).digest()[:3], "big")
        return "".join(LETTERS[(number >> shift) & 31] for shift in (19, 14, 9, 4))

    @property
    def in_short(self) -> str:
        """``131 lines, code 7KQ2``: names the state of the port sheet; "" for one without a line."""
        count = len(self.flows)
        if count:
            return f"{count:,} line{'s' if count != 1 else ''}, code {self.code}"
        return ""

    @functools.cached_property
    def between(self) -> dict[tuple[Id, Id], tuple[Flow, ...]]:
        """Flows by pair of networks (from, to), for the site drawing; flows within one network are left out."""
        pairs: dict[tuple[Id, Id], list[Flow]] = {}
        for flow in self.flows:
            if len(flow.source.network_ids) * len(flow.target.network_ids) > 1000:
                continue  # lines of a sheet that no drawing could show
            for source in flow.source.network_ids:
                for target in flow.target.network_ids:
                    if source != target:
                        pairs.setdefault((source, target), []).append(flow)
        return {pair: tuple(found) for pair, found in pairs.items()}


def _who(one: End) -> list[str]:
    """Everybody at an end, by address; by name where nobody knows the address."""
    return sorted({holder.address or f"{holder.group}: {holder.name}" for holder in one.holders})


def work_out(facts: SiteFacts) -> Flows:
    """The flows of a site: each rule of the catalogue in its order, then the site's own."""
    ends = Ends(facts)
    found: list[Flow] = []
    for key, entry in catalogue.load("ports")["rules"].items():
        for way in RULES[key](ends):
            if way.sources and way.targets:
                found += _flows(key, entry, way, ends)
    return Flows(tuple(found) + tuple(_own(ends)))


# -- lines ---------------------------------------------------------------------------------------


def _flows(key: str, entry: dict[str, Any], way: Way, ends: Ends) -> Iterator[Flow]:
    """One flow for each port, target network and way of crossing."""
    ports = way.openings or tuple(one for name in entry["ports"] for one in openings(name))
    why = entry["why"].replace("{protocol}", way.words.get("protocol", ""))
    joined = [
        (end(sources), end(targets), crosses) for sources, targets, crosses in _joined(way, ends)
    ]
    for one in ports:
        for source, target, crosses in joined:
            yield Flow(
                source=source,
                target=target,
                transport=one.transport,
                ports=one.ports,
                iana=one.iana,
                direction=Direction(entry["direction"]),
                crosses=crosses,
                why=why,
                citation=entry["source"],
                rule=key,
                name=entry["name"],
            )


def _joined(way: Way, ends: Ends) -> Iterator[tuple[list[Holder], list[Holder], str]]:
    """Sources and targets in groups that cross alike: one group a target network, while these are few."""
    by_target = _by_network(way.targets)
    by_source = _by_network(way.sources)
    if len(by_target) > TOGETHER:
        yield (
            list(way.sources),
            list(way.targets),
            way.crosses or _crosses_together({*by_source, *by_target}),
        )
        return
    for network, targets in by_target.items():
        groups: dict[str, list[Holder]] = {}
        answering = {target.ref for target in targets if target.ref is not None}
        for own, sources in by_source.items():
            asking = [
                source for source in sources if way.among or source.ref not in answering
            ]  # nobody asks itself
            groups.setdefault(way.crosses or crosses(own, network, ends), []).extend(asking)
        for how in (FIREWALL, HOST_FIREWALLS, NOT_KNOWN):
            if groups.get(how):
                yield groups[how], targets, how


def _by_network(holders: Sequence[Holder]) -> dict[Id | None, list[Holder]]:
    found: dict[Id | None, list[Holder]] = {}
    for holder in holders:
        found.setdefault(holder.network_id, []).append(holder)
    return found


def crosses(source: Id | None, target: Id | None, ends: Ends) -> str:
    """What stands between two networks."""
    if source is None or target is None:
        return NOT_KNOWN
    if source == target or target in ends.neighbours.get(source, ()):
        return HOST_FIREWALLS
    return FIREWALL


def _crosses_together(networks: set[Id | None]) -> str:
    if len(networks - {None}) > 1:
        return FIREWALL
    return NOT_KNOWN


def _own(ends: Ends) -> Iterator[Flow]:
    """The flows people recorded themselves."""
    for flow in ends.facts.flows:
        source = _own_end(flow.from_what, flow.from_network_id, ends)
        target = _own_end(flow.to_what, flow.to_network_id, ends)
        here, there = (one.network_ids[0] if one.network_ids else None for one in (source, target))
        transport = flow.transport.lower()
        if transport == Transport.ICMP:
            ports = ""
        else:
            ports = flow.ports.strip() or UNKNOWN
        yield Flow(
            source=source,
            target=target,
            transport=transport,
            ports=ports,
            iana=registered().get((ports, transport), ""),
            direction=Direction.ONE_WAY,
            crosses=crosses(here, there, ends),
            why=flow.name,
            citation=OWN_SOURCE,
            own=True,
            rule="own",
            name="own flow",
            record=flow.ref,
        )


def _own_end(what: str, network_id: Id | None, ends: Ends) -> End:
    if network_id is not None:
        network = ends.facts.index.get(("network", network_id))
    else:
        network = None
    if what.strip():
        holder = ends.called(Group.NONE, what)
    else:
        holder = Holder(Group.NONE, network.label if network else UNKNOWN)
    if network is None:
        return end([holder])
    subnet = ends.subnets.get(network.id, "")
    return end(
        [dataclasses.replace(holder, network_id=network.id, address=holder.address or subnet)]
    )
