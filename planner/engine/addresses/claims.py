"""Claims: which record says it holds which address. An address told about a machine is a claim of it;
an address that only points at another machine (a DNS server, a time source) is a reference."""

from __future__ import annotations

import ipaddress
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Annotated

from planner.engine.addresses import ipv4
from planner.engine.addresses.roles import ClaimRole
from planner.record.choices import AddressOrigin
from planner.record.facts import Id, Record, Ref, SiteFacts

# Of two who claim one address, the one that comes later here is asked to move: everybody else is told
# the gateway's and the servers' addresses by number, the appliances are the newcomers.
MOVES_LAST = tuple(ClaimRole)
ROUTER_WORDS = ("router", "firewall", "gateway", "switch", "modem")


@dataclass(frozen=True, slots=True)
class Claim:
    """One address and who says it is theirs.

    ``address`` is its number and ``text`` its usual form; ``holder`` points at the very field,
    ``label`` is the holder's name. ``network_id`` is the network the record says, else the smallest
    network that holds the address, else None. ``held`` is "" where nobody said.
    """

    address: int
    text: str
    holder: Ref
    label: str
    role: ClaimRole
    network_id: Id | None
    held: Annotated[str, AddressOrigin] = ""


@dataclass(frozen=True, slots=True)
class Clash:
    """One address that several claim, those who can move most easily last."""

    address: int
    text: str
    claims: tuple[Claim, ...]

    @property
    def mover(self) -> Claim:
        """Who should take another address: the appliance rather than the host."""
        return self.claims[-1]


def of_version_4(facts: SiteFacts, network_of: Callable[[int], Id | None]) -> list[Claim]:
    """Every claim to an IPv4 address, by address; ``network_of`` finds the network that holds one."""
    claims = []
    for record, field, role, held in fields(facts):
        text = getattr(record, field)
        if text:
            address = ipv4.parse(text)
        else:
            address = None
        if address is None:
            continue
        network_id: Id | None
        if role == ClaimRole.GATEWAY:
            network_id = record.id
        elif role == ClaimRole.OUT_OF_BAND:
            # the host's network is that of its own address, not of its console's
            network_id = network_of(address)
        else:
            stated = getattr(record, "network_id", None)
            if stated is None:
                network_id = network_of(address)
            else:
                network_id = stated
        claims.append(
            Claim(
                address,
                text,
                Ref(record.kind, record.id, field),
                record.label,
                role,
                network_id,
                held,
            )
        )
    claims.sort(key=lambda claim: claim.address)
    return claims


def of_version_6(facts: SiteFacts) -> list[Claim]:
    """Every claim to an IPv6 address, by address. ``text`` is its short form (RFC 5952)."""
    claims = []
    for role, records in _holders(facts):
        for record in records:
            text = getattr(record, "ipv6_address", "")
            try:
                if text:
                    address = ipaddress.IPv6Address(text)
                else:
                    address = None
            except ValueError:
                continue
            if address is not None:
                holder, held = record.ref.at("ipv6_address"), getattr(record, "holding", "")
                network_id = getattr(record, "network_id", None)
                claims.append(
                    Claim(int(address), str(address), holder, record.label, role, network_id, held)
                )
    claims.sort(key=lambda claim: claim.address)
    return claims


def _holders(facts: SiteFacts) -> tuple[tuple[ClaimRole, tuple[Record, ...]], ...]:
    return (
        (ClaimRole.HOST, facts.hosts),
        (ClaimRole.SERVER, facts.servers),
        (ClaimRole.APPLIANCE, facts.appliances),
        (ClaimRole.DEVICE, facts.devices),
    )


def fields(facts: SiteFacts) -> Iterator[tuple[Record, str, ClaimRole, str]]:
    """Every field that may claim an address, whether it holds one or not: record, field, role, how it is held."""
    for network in facts.networks:
        yield network, "gateway", ClaimRole.GATEWAY, AddressOrigin.FIXED
    for host in facts.hosts:
        yield host, "out_of_band_address", ClaimRole.OUT_OF_BAND, ""
    yield facts.service, "address", ClaimRole.SERVICE, facts.service.address_origin
    for role, records in _holders(facts):
        for record in records:
            yield record, "address", role, getattr(record, "holding", "")


def clashes(claims: list[Claim], facts: SiteFacts) -> tuple[Clash, ...]:
    """Addresses that more than one claims; ``claims`` in ascending order of their addresses.

    Not a clash, because both speak of the same machine:

    - the service's address is its one appliance's (with several appliances it must be its own);
    - the gateway's address is a device's that by its name or its description is a router, a firewall,
      a gateway, a switch or a modem, and stands in that network. A server is still a clash.
    """
    found, index = [], 0
    while index < len(claims):
        start, address = index, claims[index].address
        while index < len(claims) and claims[index].address == address:
            index += 1
        if index - start > 1:
            rivals = _rivals(claims[start:index], facts)
            if len(rivals) > 1:
                found.append(Clash(address, rivals[0].text, rivals))
    return tuple(found)


def clashes_of_version_6(claims: list[Claim], facts: SiteFacts) -> tuple[Clash, ...]:
    """As :func:`clashes`. A link-local address names a machine on its own link only (RFC 4291 §2.5.6), so two
    of them clash in one network and not in two, nor where the network is not known."""
    links: dict[tuple[object, ...], list[Claim]] = {}
    for claim in claims:
        link: tuple[object, ...] = ()
        if ipaddress.IPv6Address(claim.address).is_link_local:
            if claim.network_id is not None:
                link = ("in", claim.network_id)
            else:
                link = ("of", claim.holder)
        links.setdefault(link, []).append(claim)
    found = [clash for same_link in links.values() for clash in clashes(same_link, facts)]
    return tuple(sorted(found, key=lambda clash: clash.address))


def _rivals(same: list[Claim], facts: SiteFacts) -> tuple[Claim, ...]:
    """Claims to one address, less those that speak of a machine already among them."""
    roles = {claim.role for claim in same}
    if ClaimRole.APPLIANCE in roles and len(facts.appliances) == 1:
        same = [claim for claim in same if claim.role != ClaimRole.SERVICE]
    gateways = {claim.network_id for claim in same if claim.role == ClaimRole.GATEWAY}
    if gateways and ClaimRole.DEVICE in roles:
        same = [
            c
            for c in same
            if not (
                c.role == ClaimRole.DEVICE and c.network_id in gateways and _is_router(c, facts)
            )
        ]
    return tuple(sorted(same, key=lambda claim: MOVES_LAST.index(claim.role)))


def _is_router(claim: Claim, facts: SiteFacts) -> bool:
    record = facts.find(claim.holder)
    words = " ".join(getattr(record, field, "") for field in ("name", "what")).lower()
    return any(word in words for word in ROUTER_WORDS)
