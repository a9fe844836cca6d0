"""What stands where in the site drawing: lanes, what lives in them, and what each host has in them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from planner.plan import Plan
from planner.record import units
from planner.record.choices import Choice, Dhcp, NetworkPurpose, ServerRole, Sharing
from planner.record.facts import Device, Host, Id, Network, Record, Template

LANES, HOSTS = 30, 14  # drawn at most; the rest are counted in words
DEVICES = 6  # of a lane that are named; the rest are counted
NOWHERE = -1  # the lane of what is on no network yet


class Look(Choice):
    """What something is drawn as; the words are those of its sign in the legend."""

    HOST = "host", "a host's address"
    BOARD = "board", "out of band"
    APPLIANCE = "appliance", "an appliance"
    DESKTOPS = "desktops"
    PEOPLE = "people"
    ENTRY = "entry"
    SERVER = "server"
    DEVICE = "device"
    REST = "rest"  # a count of what is not shown
    PLAIN = ""  # words alone


@dataclass(frozen=True, slots=True)
class Chip:
    """Something that lives in a lane."""

    look: Look
    text: str


@dataclass(frozen=True, slots=True)
class Touch:
    """Where a host, or what runs on it, has an address in a lane."""

    mark: Look
    text: str


@dataclass
class Lane:
    """One network, or (``network`` is None) the place of what is on none."""

    network: Network | None
    chips: list[Chip] = field(default_factory=list)
    touches: dict[Id, list[Touch]] = field(default_factory=dict)  # by host

    @property
    def name(self) -> str:
        if self.network:
            return self.network.label
        return "not on a network yet"

    @property
    def lines(self) -> tuple[str, ...]:
        """What is said under the lane's name."""
        network = self.network
        if network is None:
            return ()
        if network.vlan is not None:
            vlan = f"VLAN {network.vlan}"
        else:
            vlan = ""
        purpose = NetworkPurpose.words_of(network.purpose)
        found = tuple(
            " · ".join(filter(None, words))
            for words in ((vlan, network.cidr), (purpose, dhcp_words(network)))
        )
        return tuple(filter(None, found)) or ("subnet not known yet",)


@dataclass
class Column:
    """One host with what runs on it."""

    host: Host
    lines: list[Chip] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Site:
    """Everything the drawing shows, and how much it does not."""

    lanes: tuple[Lane, ...]
    columns: tuple[Column, ...]
    more_lanes: int
    more_hosts: int


def dhcp_words(network: Network) -> str:
    """``DHCP .100–.240``; "no DHCP" where somebody said so; "" while nobody knows."""
    if network.dhcp == Dhcp.NONE:
        return "no DHCP"
    if not network.dhcp_first and not network.dhcp_last:
        if network.dhcp:
            return "DHCP"
        return ""
    return f"DHCP {short(network.dhcp_first, network)}–{short(network.dhcp_last, network)}"


def short(address: str, network: Network | None) -> str:
    """An address without the part its subnet already says: ``.11`` in a /24, ``.1.11`` in a /16."""
    if not address:
        return "?"
    octets = address.split(".")
    if network is None or len(octets) != 4:
        return address
    ours = network.cidr.split("/")[0].split(".")
    same = next((at for at in range(4) if octets[at : at + 1] != ours[at : at + 1]), 3)
    if same:
        return "." + ".".join(octets[min(same, 3) :])
    return address


def counted(number: int, word: str) -> str:
    return f"{units.show(number)} {word}{'' if number == 1 else 's'}"


class _Places:
    """Sorts what there is into lanes; records on no known network go to the last one."""

    def __init__(self, networks: Iterable[Network]):
        self.lanes = {network.id: Lane(network) for network in networks}
        self.nowhere = Lane(None)

    def of(self, network_id: Id | None) -> Lane:
        if network_id is not None:
            return self.lanes.get(network_id, self.nowhere)
        return self.nowhere

    def put(
        self,
        look: Look,
        record: Record,
        network_id: Id | None,
        *,
        after: str = "",
        before: str = "",
    ) -> None:
        lane = self.of(network_id)
        address = getattr(record, "address", "")
        if address:
            where = short(address, lane.network)
        else:
            where = ""
        self.of(network_id).chips.append(
            Chip(look, " ".join(filter(None, (before, record.label, where, after))))
        )


def gather(plan: Plan) -> Site:
    """Sorts the plan's facts into lanes and columns. The placement is used where there is one."""
    facts = plan.facts
    drawn = facts.hosts[:HOSTS]
    places = _Places(facts.networks)
    _people(plan, places)
    service = facts.service
    if service.entry_name or service.address:
        if service.address:
            where = short(service.address, places.of(service.network_id).network)
        else:
            where = ""
        places.of(service.network_id).chips.append(
            Chip(Look.ENTRY, " ".join(filter(None, (service.entry_name or service.label, where))))
        )
    for server in facts.servers:
        roles = ", ".join(ServerRole.words_of(role) for role in server.roles)
        places.put(Look.SERVER, server, server.network_id, after=f"· {roles}" if roles else "")
    on_drawn = {host.id for host in drawn}
    for appliance in facts.appliances:
        if appliance.host_id not in on_drawn:
            places.put(Look.APPLIANCE, appliance, appliance.network_id)
    for template in facts.templates:
        if template.most is not None:
            most = f"· {counted(template.most, 'desktop')}"
        else:
            most = "· desktops"
        places.put(Look.DESKTOPS, template, template.network_id, after=most)
    _shared(plan, places)
    _devices(plan, places)
    columns = tuple(_column(plan, host, places) for host in drawn)
    lanes = list(places.lanes.values())[:LANES]
    if places.nowhere.chips or places.nowhere.touches:
        lanes.append(places.nowhere)
    return Site(
        tuple(lanes), columns, max(len(facts.networks) - LANES, 0), max(len(facts.hosts) - HOSTS, 0)
    )


def _people(plan: Plan, places: _Places) -> None:
    for seats in plan.facts.seat_groups:
        if seats.people is not None:
            count = f"{units.show(seats.people)} people ·"
        else:
            count = "people ·"
        places.put(Look.PEOPLE, seats, seats.network_id, before=count)


def _shared(plan: Plan, places: _Places) -> None:
    """Shared datastores stand in the storage network, when there is one."""
    storage = next(
        (
            network.id
            for network in plan.facts.networks
            if network.purpose == NetworkPurpose.STORAGE
        ),
        None,
    )
    for store in plan.facts.datastores:
        if store.sharing == Sharing.SHARED:
            places.put(Look.DEVICE, store, storage, after="· shared datastore")


def _devices(plan: Plan, places: _Places) -> None:
    here: dict[Id | None, list[Device]] = {}
    for device in plan.facts.devices:
        here.setdefault(device.network_id, []).append(device)
    for network_id, devices in here.items():
        if len(devices) <= DEVICES + 1:
            shown = devices
        else:
            shown = devices[:DEVICES]
        for device in shown:
            places.put(Look.DEVICE, device, network_id)
        if len(devices) > len(shown):
            places.of(network_id).chips.append(
                Chip(Look.REST, f"+{len(devices) - len(shown)} more devices")
            )


def _column(plan: Plan, host: Host, places: _Places) -> Column:
    """One host's column, and its touches in the lanes."""
    facts, column = plan.facts, Column(host)
    _touch(places, host, host.network_id, Look.HOST, host.address)
    if host.out_of_band_address:
        network = next(
            (
                c.network_id
                for c in plan.addressing.claims
                if c.holder == host.ref.at("out_of_band_address")
            ),
            None,
        )
        _touch(places, host, network, Look.BOARD, host.out_of_band_address)
    if host.memory_gib is not None:
        memory = f"{units.show(host.memory_gib)} GiB"
    else:
        memory = "memory not known"
    column.lines.append(Chip(Look.PLAIN, memory))
    if host.cores is not None:
        column.lines.append(Chip(Look.PLAIN, f"{host.cores} cores"))
    stores = sum(store.host_id == host.id for store in facts.datastores)
    if stores:
        column.lines.append(Chip(Look.PLAIN, counted(stores, "datastore")))
    appliances = [one for one in facts.appliances if one.host_id == host.id]
    column.lines += _few([Chip(Look.APPLIANCE, one.label) for one in appliances], 2, "appliances")
    for appliance in appliances:
        lane = places.of(appliance.network_id).network
        if appliance.address:
            address = short(appliance.address, lane)
        else:
            address = ""
        _touch(
            places,
            host,
            appliance.network_id,
            Look.APPLIANCE,
            f"{appliance.label} {address}".strip(),
            named=True,
        )
    _desktops(plan, host, column, places)
    return column


def _desktops(plan: Plan, host: Host, column: Column, places: _Places) -> None:
    """Desktops the placement puts on a host, by template; nothing while there is no placement."""
    load = next((load for load in plan.placement.hosts if load.host_id == host.id), None)
    if load is None:
        return
    by_network: dict[Id | None, int] = {}
    lines = []
    for template_id, count in load.desktops.items():
        template = plan.facts.index.get(("template", template_id))
        if not isinstance(template, Template) or not count:
            continue
        lines.append(Chip(Look.DESKTOPS, f"{units.show(count)} {template.label}"))
        by_network[template.network_id] = by_network.get(template.network_id, 0) + count
    column.lines += _few(lines, 3, "templates")
    for network_id, count in by_network.items():
        _touch(places, host, network_id, Look.DESKTOPS, counted(count, "desktop"), named=True)


def _touch(
    places: _Places,
    host: Host,
    network_id: Id | None,
    mark: Look,
    text: str,
    *,
    named: bool = False,
) -> None:
    """Marks a lane; a host of which neither network nor address is known leaves no mark."""
    if network_id is None and not text:
        return
    lane = places.of(network_id)
    if named or not text:
        label = text
    else:
        label = short(text, lane.network)
    lane.touches.setdefault(host.id, []).append(Touch(mark, label))


def _few(lines: list[Chip], most: int, what: str) -> list[Chip]:
    """The first few, the rest counted."""
    if len(lines) <= most + 1:
        return lines
    return [*lines[:most], Chip(Look.PLAIN, f"+{len(lines) - most} more {what}")]
