"""Layout: a free address, by the house's band plan, for every record that has none.

Everything is proposed in one pass, so that no two proposals clash. An address that is proposed lies in the
record's network and is usable there; nobody claims it and nothing refers to it; no other network of the site
that lies inside this one holds it; and it is in no DHCP range, but for a holder with a reservation where
nothing else is left. It lies in its role's band as long as that band has a free address.
"""

from __future__ import annotations

import functools
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

from planner.engine.addresses import bands, claims, ipv4
from planner.engine.addresses.addressing import Addressing, NetworkSpan, wants_gateway
from planner.engine.addresses.bands import Run
from planner.engine.addresses.claims import Claim, Clash
from planner.engine.addresses.roles import ClaimRole
from planner.record.choices import AddressOrigin
from planner.record.facts import Id, Network, Record, Ref, Service, SiteFacts

ORDER = (
    ClaimRole.GATEWAY,
    ClaimRole.SERVER,
    ClaimRole.HOST,
    ClaimRole.OUT_OF_BAND,
    ClaimRole.SERVICE,
    ClaimRole.APPLIANCE,
    ClaimRole.DEVICE,
)


@dataclass(frozen=True, slots=True)
class Wanting:
    """A field that should hold an address and holds none."""

    holder: Ref
    label: str
    role: ClaimRole
    network_id: Id | None
    reserved: bool = False


@dataclass(frozen=True, slots=True)
class Proposal:
    """What one record would get. Without an address, ``why`` says why there is none.

    ``in_band`` says whether the address lies in its role's band of the house's plan, ``leased`` whether it
    is taken out of the DHCP range (for a reservation only).
    """

    wanting: Wanting
    network: str
    address: int | None = None
    in_band: bool = False
    leased: bool = False
    why: str = ""

    @property
    def band(self) -> str:
        """What the house's plan calls the holder's band: ``hosts``."""
        return bands.listed()[self.wanting.role].name

    @property
    def text(self) -> str:
        if self.address is None:
            return ""
        return ipv4.to_text(self.address)


@dataclass(frozen=True)
class Layout:
    """Every record that has no address, with one: network by network, within each by band.

    ``left`` are those that cannot be given one yet.
    """

    proposals: tuple[Proposal, ...] = ()
    left: tuple[Proposal, ...] = ()

    @functools.cached_property
    def _by_holder(self) -> dict[Ref, Proposal]:
        return {one.wanting.holder: one for one in (*self.proposals, *self.left)}

    def of(self, holder: Ref) -> Proposal | None:
        """What a field would get; None for one that wants nothing."""
        return self._by_holder.get(holder)


def work_out(facts: SiteFacts, addressing: Addressing) -> Layout:
    """An address for every record of a site that has none. Never raises."""
    order: dict[Id | None, int] = {network.id: at for at, network in enumerate(facts.networks)}
    last = len(order)

    def place(one: Wanting) -> tuple[int, int]:
        if one.role == ClaimRole.SERVICE and len(facts.appliances) == 1:
            return last + 1, 0  # after its appliance, wherever that is
        return order.get(one.network_id, last), ORDER.index(one.role)

    rooms = {span.network_id: _Room(span, addressing.spans) for span in addressing.spans}
    given: dict[Ref, int] = {}
    used: set[int] = set()
    found = [
        _propose(one, facts, rooms, given, used)
        for one in sorted(wanting(facts, addressing), key=place)
    ]
    return Layout(
        tuple(one for one in found if one.address is not None),
        tuple(one for one in found if one.address is None),
    )


def wanting(facts: SiteFacts, addressing: Addressing) -> Iterator[Wanting]:
    """The fields that should hold an address and hold none.

    Hosts, servers, appliances and devices; the gateway of a network whose subnet is known, but of a storage
    network; a host's console where another host of the site has one; the service, once something is known of
    it and its address is not a dynamic one.
    """
    consoles = any(not _blank(host.out_of_band_address) for host in facts.hosts)
    for record, field, role, held in claims.fields(facts):
        if not _blank(getattr(record, field)) or not _expected(
            record, role, facts, addressing, consoles
        ):
            continue
        network_id = record.id if role == ClaimRole.GATEWAY else getattr(record, "network_id", None)
        yield Wanting(
            record.ref.at(field), record.label, role, network_id, held == AddressOrigin.RESERVED
        )


def _expected(
    record: Record, role: str, facts: SiteFacts, addressing: Addressing, consoles: bool
) -> bool:
    """Whether a field without an address should hold one; ``consoles`` says that a host of the site has one."""
    if isinstance(record, Network):
        span = addressing.span(record.id)
        return span is not None and span.block is not None and wants_gateway(record, span.block)
    if isinstance(record, Service):
        known = record.name or record.entry_name or record.network_id or facts.appliances
        return bool(known) and record.address_origin != AddressOrigin.DYNAMIC
    return consoles or role != ClaimRole.OUT_OF_BAND


def _blank(text: str) -> bool:
    return not text.strip()


def _propose(
    one: Wanting, facts: SiteFacts, rooms: dict[Id, _Room], given: dict[Ref, int], used: set[int]
) -> Proposal:
    if one.network_id is not None:
        room = rooms.get(one.network_id)
    else:
        room = None
    if one.role == ClaimRole.SERVICE and len(facts.appliances) == 1:
        return _as_the_appliance(one, facts, room, given)
    if room is None:
        return Proposal(one, "", why="its network is not known")
    if room.span.block is None:
        return Proposal(one, room.span.name, why=f"the subnet of {room.span.name} is not known")
    found = room.beside_its_host(one, facts, given, used) or room.next(one, used)
    if found is None:
        return Proposal(one, room.span.name, why=f"nothing is free in {room.span.name}")
    address, leased = found
    used.add(address)
    given[one.holder] = address
    return Proposal(one, room.span.name, address, room.in_band(one.role, address), leased)


def _as_the_appliance(
    one: Wanting, facts: SiteFacts, room: _Room | None, given: dict[Ref, int]
) -> Proposal:
    """The service of one appliance answers at that appliance's address."""
    [appliance] = facts.appliances
    if room:
        name = room.span.name
    else:
        name = ""
    address = ipv4.parse(appliance.address) or given.get(appliance.ref.at("address"))
    if address is None:
        return Proposal(
            one,
            name,
            why=f"it is the address of its one appliance, {appliance.label}: give it that one",
        )
    if room:
        block = room.span.block
    else:
        block = None
    if block is not None and address not in block:
        return Proposal(one, name, why=f"its one appliance, {appliance.label}, is not in {name}")
    return Proposal(one, name, address, in_band=bool(room and room.in_band("appliance", address)))


class _Room:
    """What is free in one network while addresses are given out.

    Each search goes upwards and never back: what was passed over was taken, and nothing is given back.
    """

    def __init__(self, span: NetworkSpan, spans: tuple[NetworkSpan, ...]):
        self.span, self._spans = span, spans
        self._searches: dict[tuple[str, bool], Iterator[int]] = {}

    @functools.cached_property
    def runs(self) -> list[Run]:
        """Free addresses outside every DHCP range and every network that lies inside this one."""
        return self._without_others(list(self.span.free_runs))

    @functools.cached_property
    def leased(self) -> list[Run]:
        """Addresses of the network's own DHCP range that nobody claims."""
        block, ends = self.span.block, self.span.dhcp
        if block is None or ends is None:
            return []
        low, high = max(ends[0], block.first), min(ends[1], block.last)
        if low <= high:
            return self._without_others(bands.free_runs(low, high, self.span.taken))
        return []

    def _without_others(self, runs: list[Run]) -> list[Run]:
        block = self.span.block
        for other in self._spans:
            if other is self.span or block is None:
                continue
            if other.dhcp and other.dhcp[0] <= block.end and other.dhcp[1] >= block.network:
                runs = bands.without(runs, other.dhcp)
            if other.block is not None and other.block != block and block.holds(other.block):
                runs = bands.without(runs, (other.block.network, other.block.end))
        return runs

    def in_band(self, role: str, address: int) -> bool:
        if self.span.block:
            part = bands.part(role, self.span.block)
        else:
            part = None
        return part is not None and part[0] <= address <= part[1]

    def next(self, one: Wanting, used: set[int]) -> tuple[int, bool] | None:
        """The next free address for a role, and whether it is out of the DHCP range."""
        for leased in (False, True) if one.reserved else (False,):
            key = (one.role, leased)
            if key not in self._searches:
                self._searches[key] = self._search(one.role, leased)
            for address in self._searches[key]:
                if address not in used:
                    return address, leased
        return None

    def _search(self, role: str, leased: bool) -> Iterator[int]:
        if self.span.block is None:
            return
        if leased:
            runs = self.leased
        else:
            runs = self.runs
        if role != ClaimRole.GATEWAY:
            runs = bands.without_address(runs, self.span.gateway_to_come)
        for low, high in bands.search_order(role, self.span.block):
            for first, last in runs:
                yield from range(max(first, low), min(last, high) + 1)

    def beside_its_host(
        self, one: Wanting, facts: SiteFacts, given: dict[Ref, int], used: set[int]
    ) -> tuple[int, bool] | None:
        """For a console: as far above its host's address as the consoles' band is above the hosts'."""
        if one.role == ClaimRole.OUT_OF_BAND:
            host = facts.find(one.holder)
        else:
            host = None
        hosts, consoles = bands.listed().get("host"), bands.listed().get("out-of-band")
        if host is None or hosts is None or consoles is None or self.span.block is None:
            return None
        own = ipv4.parse(getattr(host, "address", "")) or given.get(one.holder.at("address"))
        if own is None or own not in self.span.block or not self.in_band("host", own):
            return None
        size = self.span.block.size
        address = own + size * consoles.low // 256 - size * hosts.low // 256
        fits = (
            self.in_band("out-of-band", address) and self._is_free(address) and address not in used
        )
        if fits:
            return (address, False)
        return None

    def _is_free(self, address: int) -> bool:
        at = bisect_right(self.runs, (address, 1 << 32)) - 1
        return at >= 0 and self.runs[at][0] <= address <= self.runs[at][1]


def may_move(claim: Claim, clash: Clash) -> bool:
    """Whether one of a clash's claims could take another address.

    Who has the best right to the address (the first of the clash) keeps it, and a gateway is never asked to
    move.
    """
    return claim is not clash.claims[0] and claim.role != ClaimRole.GATEWAY


def movable(addressing: Addressing) -> dict[Ref, Claim]:
    """Every claim of a site that could move, by its field."""
    return {
        claim.holder: claim
        for clash in addressing.clashes
        for claim in clash.claims
        if may_move(claim, clash)
    }
