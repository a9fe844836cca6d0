"""Findings about facts that decide which ports must pass: the way in from outside, storage, the directory's TLS."""

from __future__ import annotations

from collections.abc import Iterator

from planner.engine.flows.ends import Ends
from planner.engine.flows.ports import of_protocol, typed
from planner.record.choices import OutsideAccess, Sharing
from planner.review.base import Hit, rule
from planner.stages.staged import Staged


def _from_outside(plan: Staged) -> bool:
    return plan.facts.service.outside_access in (OutsideAccess.VPN, OutsideAccess.GATEWAY)


@rule("outside-device-unknown")
def outside_device_unknown(plan: Staged) -> Iterator[Hit]:
    service = plan.facts.service
    if _from_outside(plan) and service.outside_device_id is None:
        yield Hit(service.ref.at("outside_device_id"))


@rule("outside-ports-unknown")
def outside_ports_unknown(plan: Staged) -> Iterator[Hit]:
    service = plan.facts.service
    if _from_outside(plan) and not any(text.strip() for text in service.outside_ports):
        yield Hit(service.ref.at("outside_ports"))


@rule("outside-opens-display")
def outside_opens_display(plan: Staged) -> Iterator[Hit]:
    """A port that answers to the world and is a display protocol's own."""
    service = plan.facts.service
    if not _from_outside(plan):
        return
    opened = {(one.transport, one.ports): None for one in map(typed, service.outside_ports)}
    for protocol in plan.facts.protocols:
        for one in of_protocol(protocol):
            if any(
                transport == one.transport and _holds(ports, one.ports)
                for transport, ports in opened
            ):
                at = service.ref.at("outside_ports")
                yield Hit(
                    at,
                    also=(protocol.ref,),
                    twin=f"{protocol.ref.anchor}-{one.transport}",
                    port=f"{one.ports}/{one.transport.upper()}",
                    protocol=protocol.label,
                )


def _holds(ports: str, port: str) -> bool:
    """Whether a port or a range as typed holds a port."""
    first, _, last = ports.partition("-")
    if not (first.isdecimal() and port.isdecimal()):
        return False
    return int(first) <= int(port) <= int(last if last.isdecimal() else first)


@rule("datastore-reach-unknown")
def datastore_reach_unknown(plan: Staged) -> Iterator[Hit]:
    for store in plan.facts.datastores:
        if store.sharing == Sharing.SHARED and not store.reached_by:
            yield Hit(store.ref.at("reached_by"), store=store.label)


@rule("directory-tls-unknown")
def directory_tls_unknown(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    if directory.ldaps is None and Ends(plan.facts).in_a_domain:
        yield Hit(directory.ref.at("ldaps"))
