"""Looking up: the claims that a typed name, address, subnet or MAC address means, and who is at one address."""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Callable
from dataclasses import dataclass

from planner.engine.addresses import ipv4
from planner.engine.addresses.addressing import Addressing, NetworkSpan
from planner.engine.addresses.claims import Claim
from planner.engine.addresses.roles import AddressState
from planner.record.facts import SiteFacts

LONGEST = 100  # letters of what is typed that count
_MAC_LIKE = re.compile(r"[0-9a-f]{2}([:. -]?[0-9a-f]{2}){2,5}", re.I)
_SIGNS = re.compile(r"[\s:.-]")


@dataclass(frozen=True, slots=True)
class Spot:
    """What is known of one address: ``span`` is the smallest network that holds it, None when no network does."""

    address: int
    kind: AddressState
    span: NetworkSpan | None

    @property
    def text(self) -> str:
        return ipv4.to_text(self.address)


def find(facts: SiteFacts, addressing: Addressing, text: str) -> list[Claim]:
    """The claims a text means, IPv4 first, by address; all of them for an empty text.

    A subnet (``10.44.1.0/28``, ``2001:db8::/64``) means what lies in it. Anything else means whatever has it
    in its name, in its network's name, in its address or, read as hexadecimal digits without their signs, in
    its MAC address. Capital and small letters are the same.
    """
    wanted = text.strip()[:LONGEST]
    every = [*addressing.claims, *addressing.ipv6]
    if not wanted:
        return every
    inside = _inside(wanted)
    if inside is not None:
        return [claim for claim in every if inside(claim)]
    words = wanted.casefold()
    networks = {network.id for network in facts.networks if words in network.label.casefold()}
    if _MAC_LIKE.fullmatch(wanted):
        digits = _SIGNS.sub("", words)
    else:
        digits = ""
    if digits:
        bearers = _bearers(facts, digits)
    else:
        bearers = set()
    return [
        claim
        for claim in every
        if words in claim.label.casefold()
        or words in claim.text
        or claim.network_id in networks
        or (claim.holder.kind, claim.holder.id) in bearers
    ]


def _inside(text: str) -> Callable[[Claim], bool] | None:
    """Whether a claim lies in a typed subnet; None when the text is no subnet."""
    if "/" not in text:
        return None
    try:
        prefix = ipaddress.ip_network(text, strict=False)
    except ValueError:
        return None
    low, high, six = int(prefix.network_address), int(prefix.broadcast_address), prefix.version == 6
    return lambda claim: (
        low <= claim.address <= high and (claim.holder.field == "ipv6_address") is six
    )


def _bearers(facts: SiteFacts, digits: str) -> set[tuple[str, int]]:
    """Kinds and ids of the records whose MAC address holds these digits."""
    machines = (*facts.hosts, *facts.servers, *facts.appliances, *facts.devices)
    return {
        (record.kind, record.id)
        for record in machines
        if digits in _SIGNS.sub("", getattr(record, "mac", "").casefold())
    }


def at(addressing: Addressing, text: str) -> Spot | None:
    """Who or what is at one typed IPv4 address; None when the text is no whole address."""
    address = ipv4.parse(text.strip())
    if address is None:
        return None
    holding = [
        span for span in addressing.spans if span.block is not None and address in span.block
    ]
    span = max(holding, key=lambda one: one.prefix or 0, default=None)
    if span is None or span.block is None:
        if _claimed(addressing, address):
            return Spot(address, AddressState.CLAIMED, None)
        return Spot(address, AddressState.NOWHERE, None)
    if address in span.taken:
        if _claimed(addressing, address):
            return Spot(address, AddressState.CLAIMED, span)
        return Spot(address, AddressState.REFERRED, span)
    if not span.block.first <= address <= span.block.last:
        return Spot(address, AddressState.UNUSABLE, span)
    leased = span.dhcp is not None and span.dhcp[0] <= address <= span.dhcp[1]
    return Spot(address, AddressState.LEASED if leased else AddressState.FREE, span)


def _claimed(addressing: Addressing, address: int) -> bool:
    return any(claim.address == address for claim in addressing.claims)
