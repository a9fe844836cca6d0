"""Findings about facts that decide which ports must pass: the way in from outside, storage, the directory's TLS."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterator

from planner.engine.flows.ends import Ends
from planner.engine.flows.ports import of_protocol, typed
from planner.record.choices import OutsideAccess, Sharing
from planner.review.base import Hit, rule
from planner.stages.staged import Staged

# Source: RFC 5737
DOCUMENTATION = tuple(
    ipaddress.ip_network(one) for one in ("192.0.2.0/24", "198.51.100.0/24", "203.0.113.0/24")
)


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


@rule("directory-plain")
def directory_plain(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    if directory.ldaps is False and Ends(plan.facts).in_a_domain:
        yield Hit(directory.ref.at("ldaps"))


@rule("second-factor-missing")
def second_factor_missing(plan: Staged) -> Iterator[Hit]:
    service = plan.facts.service
    if _from_outside(plan) and not service.second_factor.strip():
        yield Hit(service.ref.at("second_factor"))


@rule("public-address-missing")
def public_address_missing(plan: Staged) -> Iterator[Hit]:
    service = plan.facts.service
    if _from_outside(plan) and not service.public_address:
        yield Hit(service.ref.at("public_address"))


@rule("public-address-private")
def public_address_private(plan: Staged) -> Iterator[Hit]:
    """Addresses for documentation stand for public ones in examples."""
    service = plan.facts.service
    if not _from_outside(plan) or not service.public_address:
        return
    try:
        address = ipaddress.ip_address(service.public_address)
    except ValueError:
        return
    example = any(address in block for block in DOCUMENTATION)
    if not address.is_global and not example:
        yield Hit(service.ref.at("public_address"), address=service.public_address)


@rule("directory-tls-unknown")
def directory_tls_unknown(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    if directory.ldaps is None and Ends(plan.facts).in_a_domain:
        yield Hit(directory.ref.at("ldaps"))
