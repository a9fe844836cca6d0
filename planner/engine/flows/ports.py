"""Ports: the catalogue's registered ones, and those people typed."""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass

from planner.catalogue import files as catalogue
from planner.engine.flows.ends import UNKNOWN
from planner.record.facts import Protocol

_PORTS = re.compile(
    r"^\s*([0-9]{1,5}(?:\s*[-–]\s*[0-9]{1,5})?)\s*(?:/\s*(tcp|udp))?\s*$", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Opening:
    """One transport and port that must be open."""

    transport: str
    ports: str
    iana: str


@functools.cache
def openings(key: str) -> tuple[Opening, ...]:
    """The transports and port of one entry of the catalogue's ports."""
    entry = catalogue.load("ports")["ports"][key]
    return tuple(
        Opening(transport, entry["port"], entry["iana"]) for transport in entry["transports"]
    )


@functools.cache
def registered() -> dict[tuple[str, str], str]:
    """Registered names by (port, transport), of the ports in the catalogue."""
    return {
        (opening.ports, opening.transport): opening.iana
        for key in catalogue.load("ports")["ports"]
        for opening in openings(key)
    }


def opening(transport: str, ports: str) -> Opening:
    """A typed port with its registered name, where the catalogue knows it."""
    return Opening(transport, ports, registered().get((ports, transport), ""))


def typed(text: str) -> Opening:
    """A port as typed for the agent: "8443/tcp", "9000-9010/udp"; TCP where no transport is named."""
    found = _PORTS.match(text)
    if not found:
        return Opening("", text.strip(), "")
    return opening((found[2] or "tcp").lower(), re.sub(r"\s*[-–]\s*", "-", found[1]))


NOT_RECORDED = (Opening("", UNKNOWN, ""),)


def of_protocol(protocol: Protocol | None) -> tuple[Opening, ...]:
    """A display protocol's ports: as recorded, else the registered ones of RDP and RFB."""
    if protocol is None:
        return NOT_RECORDED
    numbers = (("tcp", protocol.tcp_port), ("udp", protocol.udp_port))
    recorded = tuple(
        opening(transport, str(port)) for transport, port in numbers if port is not None
    )
    name = protocol.name.strip().casefold()
    return recorded or (openings(name) if name in ("rdp", "rfb") else NOT_RECORDED)
