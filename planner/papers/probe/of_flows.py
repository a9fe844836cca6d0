"""Tasks of flows: the lines of the port sheet that can be tried from their own network.

TCP is tried by opening a connection. UDP is tried where a harmless question has an answer: names and time. What
is left is said in words, so that nobody takes half a port sheet for a whole one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from planner.engine.flows.ends import End
from planner.engine.flows.port_sheet import UNKNOWN, Direction, Flow
from planner.engine.flows.ports import typed
from planner.papers.configs.checks import host_name, name_fault
from planner.papers.probe.tasks import Listing, Place, usable
from planner.record.choices import NetworkPurpose, Transport
from planner.record.facts import Id, Image, Protocol, Template

FLOWS_OPEN = "flows-open"
PORT = re.compile(r"[0-9]{1,5}")
NAMES_PORT, TIME_PORT = 53, 123
OUTSIDE = "from outside, to be tried from a line that is not the customer's"
NO_SOURCE = "from a network whose subnet the plan does not know"
NO_TARGET = "to somebody whose address the plan does not know"
CROWD = "to desktops or people, of whom no single address is known"
RANGE = "to a range of ports, on which nothing need listen now"
BY_UDP = "by UDP, where only somebody who speaks the protocol gets an answer"
NO_PORT = "whose port the plan does not know"


@dataclass
class Try:
    """One port of one machine, tried from one network, with the flows it stands for."""

    place: Place
    target: str
    transport: str
    port: int
    iana: str = ""
    everybody: bool = False
    names: dict[str, None] = field(default_factory=dict)
    proves: dict[str, None] = field(default_factory=lambda: {FLOWS_OPEN: None})


Tries = dict[tuple[Id, str, str, int], Try]  # by network, target, transport, port


def flow_tasks(listing: Listing) -> None:
    """Every line that can be tried, and what cannot."""
    tries: Tries = {}
    left: dict[str, dict[str, int]] = {}
    for flow in listing.plan.flows.flows:
        for why, shown in _of_flow(flow, listing, tries):
            reasons = left.setdefault(why, {})
            reasons[shown] = reasons.get(shown, 0) + 1
    _reachable_hosts(listing, tries)
    name = asked_name(listing)
    for one in tries.values():
        _add(listing, one, name)
    for why, lines in left.items():
        count = sum(lines.values())
        listing.leave(
            FLOWS_OPEN,
            f"{count} {'line' if count == 1 else 'lines'} {why}: {', '.join(list(lines)[:12])}",
        )
    _image_tasks(listing)


def _of_flow(flow: Flow, listing: Listing, tries: Tries) -> Iterator[tuple[str, str]]:
    """Adds what of a flow can be tried; gives why the rest cannot, and what it is called."""
    shown = f"{flow.transport.upper() or 'transport not known'} {flow.ports}".strip()
    if flow.source.outside:
        yield OUTSIDE, shown
        return
    if flow.direction == Direction.BOTH_WAYS and flow.transport == Transport.TCP:
        yield CROWD, f"{shown} back to {', '.join(flow.source.label.split('; '))[:60]}"
    if flow.transport == Transport.UDP and flow.ports not in (str(NAMES_PORT), str(TIME_PORT)):
        yield BY_UDP, shown
        return
    if flow.transport != Transport.ICMP and (
        not PORT.fullmatch(flow.ports) or not 0 < int(flow.ports) < 65536
    ):
        yield (RANGE if flow.ports[:1].isdigit() else NO_PORT), shown
        return
    port = int(flow.ports or 0)
    sources = [listing.places[id] for id in flow.source.network_ids if id in listing.places]
    if len(sources) < max(1, len(flow.source.network_ids)):
        yield NO_SOURCE, shown
    targets = [text for text in flow.target.addresses if usable(text) is not None]
    crowds = any("/" in text for text in flow.target.addresses)
    if crowds or len(targets) < max(1, len(flow.target.addresses)):
        yield (CROWD if crowds else NO_TARGET), f"{shown} to {flow.target.label[:60]}"
    for place in sources:
        for target in targets:
            key = (place.network.id, target, flow.transport, port)
            one = tries.setdefault(key, Try(place, target, flow.transport, port, flow.iana))
            one.everybody = one.everybody or _everybody(flow.source, place)
            one.names[flow.name] = None


def _everybody(source: End, place: Place) -> bool:
    """Whether the sheet lets the whole network through, not only single machines of it."""
    here = [holder.address for holder in source.holders if holder.network_id == place.network.id]
    return not all(here) or any("/" in address for address in here)


def _reachable_hosts(listing: Listing, tries: Tries) -> None:
    """That a host's management page is reached speaks for the check that it answers, too."""
    managing = [
        place
        for place in listing.places.values()
        if place.network.purpose == NetworkPurpose.MANAGEMENT
    ]
    for host in listing.facts.hosts:
        key = f"host-reachable@{host.ref.anchor}"
        if not listing.applies(key):
            continue
        listing.leave(key, "the release that runs there, read on its own page")
        for place in managing:
            one = tries.get((place.network.id, host.address, "tcp", 443))
            if one:
                one.proves[key] = None


def asked_name(listing: Listing) -> str:
    """A name that any DNS server of the site has something to say of."""
    suffixes = (network.domain_suffix for network in listing.facts.networks)
    for text in (listing.facts.directory.domain, *suffixes):
        name = host_name(text)
        if not name_fault(name):
            return name
    return "."


def _add(listing: Listing, one: Try, name: str) -> None:
    who, why = listing.called(one.target), ", ".join(one.names)
    if one.transport == Transport.ICMP:
        what = "ping"
    else:
        what = f"{one.transport.upper()} {one.port}"
    if one.iana:
        iana = f" {one.iana}"
    else:
        iana = ""
    told: dict[str, Any] = {
        "what": what,
        "whom": who,
        "target": one.target,
        "everybody": one.everybody,
    }
    words = f"{what}{iana} to {who}: {why}"
    if one.transport == Transport.ICMP:
        listing.add(one.place, "ping-flow", words, one.proves, **told)
    elif one.port == NAMES_PORT:
        listing.add(
            one.place, "names-flow", words, one.proves, transport=one.transport, name=name, **told
        )
    elif one.transport == Transport.UDP:
        listing.add(one.place, "time-flow", words, one.proves, **told)
    else:
        listing.add(one.place, "tcp", words, one.proves, port=one.port, **told)


# -- ports of the image, at a running copy that the technician names -------------------------------


def _image_tasks(listing: Listing) -> None:
    facts = listing.facts
    protocols = {one.id: one for one in facts.protocols}
    agent = [
        one
        for one in map(typed, facts.service.agent_ports)
        if one.transport == Transport.TCP and PORT.fullmatch(one.ports)
    ]
    appliances = _networks_of(listing, [one.network_id for one in listing.ends.appliances])
    for image in facts.images:
        templates = [one for one in facts.templates if one.image_id == image.id]
        key = f"agent-ports-open@{image.ref.anchor}"
        if not agent or not appliances:
            listing.leave(key, "the agent's ports, or the appliances' network, are not known")
        for place in appliances:
            for one in agent:
                _at_image(listing, place, image, int(one.ports), "agent", key)
        key = f"display-port-answers@{image.ref.anchor}"
        listing.leave(key, "that the sign-in picture is seen")
        wanted = {one.id for one in templates}
        people = [seats.network_id for seats in facts.seat_groups if seats.template_id in wanted]
        for place in _networks_of(listing, people):
            for port in _display_ports(templates, protocols):
                _at_image(listing, place, image, port, "display", key)


def _networks_of(listing: Listing, ids: list[Id | None]) -> list[Place]:
    return [
        listing.places[id] for id in dict.fromkeys(ids) if id is not None and id in listing.places
    ][:12]


def _display_ports(templates: list[Template], protocols: dict[Id, Protocol]) -> list[int]:
    ids = [one.protocol_id for one in templates]
    found = [None if id is None else protocols.get(id) for id in ids]
    if not any(found) and len(protocols) == 1:
        found = list(protocols.values())
    return list(
        dict.fromkeys(
            one.tcp_port for one in found if one and one.tcp_port and 0 < one.tcp_port < 65536
        )
    )


def _at_image(listing: Listing, place: Place, image: Image, port: int, why: str, key: str) -> None:
    words = f"TCP {port} to a running copy of {image.label}: {why}"
    listing.add(place, "tcp", words, [key], port=port, machine=image.ref.anchor)


__all__ = ["FLOWS_OPEN", "UNKNOWN", "flow_tasks"]
