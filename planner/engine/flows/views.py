"""The port sheet looked at from several sides: by pair of networks, by firewall, by machine, from the desktop."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from planner.engine.flows.ends import FIREWALL, HOST_FIREWALLS, NOT_KNOWN, End, Ends, Group
from planner.engine.flows.port_sheet import Direction, Flow, crosses
from planner.record.facts import Id, OwnFlow, Ref, SiteFacts

OUTSIDE = -1  # the place of whoever is on none of the site's networks; None is a place nobody knows
Place = Id | None
PAIRS_AT_ONCE = 1000  # pairs of networks of one flow beyond which nobody could read them
WHOLE = (
    "",
    "all",
    "any",
    "everything",
    "everybody",
    "desktops",
    "all desktops",
    "network",
    "the network",
)


@dataclass
class Side:
    """One machine, template or seat group: the flows it opens and those it must let in, ascending.

    ``groups`` are what it is called in them: directory servers, DNS servers.
    """

    ref: Ref
    groups: dict[Group, None] = field(default_factory=dict)
    sends: list[int] = field(default_factory=list)
    lets_in: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Inbound:
    """A flow that the desktops' own firewall must let in: ``templates`` are theirs, ``others`` the other end."""

    number: int
    flow: Flow
    others: End
    templates: tuple[str, ...]


class Views:
    """The views of one site's flows. Flows are named by their place in the sheet, counted from 0."""

    def __init__(self, facts: SiteFacts, flows: Sequence[Flow]):
        self.facts, self.flows, self.ends = facts, flows, Ends(facts)

    # -- by pair of networks ----------------------------------------------------------------------

    @functools.cached_property
    def pairs(self) -> dict[tuple[Place, Place], list[int]]:
        """Flows by the places of those who open them and of those who answer, in the sheet's order.

        A flow that both ends may open stands in both directions.
        """
        found: dict[tuple[Place, Place], list[int]] = {}
        for number, flow in enumerate(self.flows):
            ways = [(flow.source, flow.target), (flow.target, flow.source)][
                : 1 + (flow.direction == Direction.BOTH_WAYS)
            ]
            seen: dict[tuple[Place, Place], None] = {}
            for source, target in ways:
                here, there = places(source), places(target)
                if len(here) * len(there) <= PAIRS_AT_ONCE:
                    seen.update(dict.fromkeys((one, other) for one in here for other in there))
            for pair in seen:
                found.setdefault(pair, []).append(number)
        return found

    @functools.cached_property
    def places(self) -> list[Place]:
        """Every place that takes part, in the networks' order, the outside and what nobody knows last."""
        seen = {place for pair in self.pairs for place in pair}
        known: list[Place] = [network.id for network in self.facts.networks if network.id in seen]
        return [*known, *(place for place in (OUTSIDE, None) if place in seen)]

    def place_name(self, place: Place) -> str:
        if place is None:
            return NOT_KNOWN
        if place == OUTSIDE:
            return "outside"
        return self.facts.named("network", place)

    # -- by firewall ------------------------------------------------------------------------------

    @functools.cached_property
    def firewalls(self) -> dict[tuple[Place, Place], list[int]]:
        """Flows by the two places that a firewall stands between, whichever of them opens them."""
        order = {place: at for at, place in enumerate(self.places)}
        found: dict[tuple[Place, Place], dict[int, None]] = {}
        for pair, numbers in self.pairs.items():
            if None not in pair and self.between(*pair) == FIREWALL:
                first, last = sorted(pair, key=order.__getitem__)
                found.setdefault((first, last), {}).update(dict.fromkeys(numbers))
        return {
            pair: sorted(numbers)
            for pair, numbers in sorted(found.items(), key=lambda one: _at(one[0], order))
        }

    def between(self, source: Place, target: Place) -> str:
        """What stands between two places."""
        if source == OUTSIDE or target == OUTSIDE:
            if source != target:
                return FIREWALL
            return HOST_FIREWALLS
        return crosses(source, target, self.ends)

    def walls(self, flow: Flow) -> list[tuple[Place, Place]]:
        """The pairs of places of one flow that a firewall stands between."""
        here, there = places(flow.source), places(flow.target)
        if flow.crosses != FIREWALL or len(here) * len(there) > PAIRS_AT_ONCE:
            return []
        pairs = [
            (one, other) for one in here for other in there if one is not None and other is not None
        ]
        return [pair for pair in pairs if self.between(*pair) == FIREWALL]

    # -- by machine -------------------------------------------------------------------------------

    @functools.cached_property
    def sides(self) -> dict[Ref, Side]:
        """Everybody who takes part and stands in the plan, in the plan's order.

        A record is one side under whichever names it takes part. What reaches the entry reaches the appliances.
        """
        found: dict[Ref, Side] = {}
        appliances = [appliance.ref for appliance in self.facts.appliances]
        for number, flow in enumerate(self.flows):
            for end, opens in ((flow.source, True), (flow.target, False)):
                for holder in end.holders:
                    if holder.ref is not None:
                        refs = [holder.ref]
                    else:
                        refs = []
                    for ref in [*refs, *(appliances if holder.group == Group.ENTRY else [])]:
                        side = found.setdefault(ref, Side(ref))
                        if holder.ref == ref:
                            side.groups[holder.group] = None
                        if opens or flow.direction == Direction.BOTH_WAYS:
                            _put(side.sends, number)
                        if not opens or flow.direction == Direction.BOTH_WAYS:
                            _put(side.lets_in, number)
        return {
            record.ref: found[record.ref] for record in self.facts.records() if record.ref in found
        }

    # -- from the desktop -------------------------------------------------------------------------

    @functools.cached_property
    def inbound(self) -> list[Inbound]:
        """What the desktops' own firewall must let in, in the sheet's order."""
        found = []
        for number, flow in enumerate(self.flows):
            desktops = self._desktops_at(flow.target, flow)
            if desktops:
                found.append(Inbound(number, flow, flow.source, desktops))
            elif flow.direction == Direction.BOTH_WAYS:
                desktops = self._desktops_at(flow.source)
                if desktops:
                    found.append(Inbound(number, flow, flow.target, desktops))
        return found

    def _desktops_at(self, end: End, flow: Flow | None = None) -> tuple[str, ...]:
        """The names of the templates at an end."""
        names = dict.fromkeys(
            one.name for one in end.holders if one.ref is not None and one.ref.kind == "template"
        )
        if flow is not None and flow.record is not None:
            record = self.facts.find(flow.record)
        else:
            record = None
        if isinstance(record, OwnFlow) and end.ref is None and self._whole(record):
            on_it = (
                one.label for one in self.facts.templates if one.network_id == record.to_network_id
            )
            names.update(dict.fromkeys(on_it))
        return tuple(names)

    def _whole(self, flow: OwnFlow) -> bool:
        """Whether an own flow goes to everything on a network, and not to one machine there."""
        typed = flow.to_what.strip().casefold()
        return flow.to_network_id is not None and (
            typed in WHOLE or typed == self.facts.named("network", flow.to_network_id).casefold()
        )


def places(end: End) -> list[Place]:
    """Where an end is: networks, the outside, ``None`` for what nobody knows."""
    return list(dict.fromkeys(OUTSIDE if one.outside else one.network_id for one in end.holders))


def grouped(flows: Iterable[tuple[int, Flow]]) -> Iterator[list[tuple[int, Flow]]]:
    """Flows that differ in nothing but their port, together; numbers come along."""
    found: dict[tuple[object, ...], list[tuple[int, Flow]]] = {}
    for number, flow in flows:
        key = (
            flow.source,
            flow.target,
            flow.direction,
            flow.crosses,
            flow.why,
            flow.citation,
            flow.record,
        )
        found.setdefault(key, []).append((number, flow))
    yield from found.values()


def _put(numbers: list[int], number: int) -> None:
    if not numbers or numbers[-1] != number:
        numbers.append(number)


def _at(pair: tuple[Place, Place], order: dict[Place, int]) -> tuple[int, int]:
    return order[pair[0]], order[pair[1]]
