"""The ends of flows: who sends and who answers, and on which network, as far as the facts say."""

from __future__ import annotations

import functools
import ipaddress
from collections.abc import Iterable
from dataclasses import dataclass

from planner.record.choices import Choice, DirectoryKind, NetworkPurpose, ServerRole
from planner.record.facts import Device, Host, Id, Record, Ref, Server, SiteFacts

UNKNOWN = "not known yet"
FIREWALL, HOST_FIREWALLS, NOT_KNOWN = (
    "firewall",
    "host firewalls only",
    "not known",
)  # what a flow crosses
NAMES_SHOWN = 6


@dataclass(frozen=True, slots=True)
class End:
    """One end of a flow. ``network_ids`` is empty while nobody knows the network.

    ``ref`` points at the record when the end is a single one, ``holders`` are all of them. ``addresses``
    are what a firewall rule needs, however many: the addresses of machines, the subnets of people and
    desktops.
    """

    label: str
    network_ids: tuple[Id, ...] = ()
    ref: Ref | None = None
    addresses: tuple[str, ...] = ()
    holders: tuple[Holder, ...] = ()

    @property
    def outside(self) -> bool:
        """Whether it is out in the world, on none of the site's networks."""
        return any(holder.outside for holder in self.holders)


class Group(Choice):
    """What holders at an end are called together."""

    PEOPLE = "people"
    DESKTOPS = "desktops"
    APPLIANCES = "appliances"
    HOSTS = "hosts"
    ADMINISTRATORS = "administrators"
    DNS_SERVERS = "DNS servers"
    DIRECTORY_SERVERS = "directory servers"
    TIME_SERVERS = "time servers"
    TIME_SOURCE = "time source"
    DHCP_SERVERS = "DHCP servers"
    DHCP_SERVER = "DHCP server"
    RELAY = "DHCP relay"
    KEY_SERVERS = "key servers"
    FILE_SERVERS = "file servers"
    PROFILES = "profiles"
    PRINT_SERVERS = "print servers"
    PRINTERS = "printers"
    LOG_SERVERS = "log servers"
    WATCHING = "watching"
    MAIL_SERVERS = "mail servers"
    BACKUP = "backup"
    SUPPLIES = "UPS"
    PUBLISHERS = "publishers"
    OUT_OF_BAND = "out-of-band"
    DATASTORES = "datastores"
    SERVERS = "servers"
    ENTRY = "entry"
    GATEWAY = "gateway"
    VPN = "VPN"
    NONE = ""  # an own flow says who


@dataclass(frozen=True, slots=True)
class Holder:
    """One machine, template or seat group at an end.

    ``outside`` is somebody on none of the site's networks, by intention and not for want of knowing.
    """

    group: Group
    name: str
    network_id: Id | None = None
    ref: Ref | None = None
    address: str = ""
    outside: bool = False


def end(holders: Iterable[Holder]) -> End:
    """Holders as one end: ``desktops: front desk, workshop; appliances: broker-1``."""
    holders = tuple(holders)
    groups: dict[Group, dict[str, None]] = {}
    for holder in holders:
        groups.setdefault(holder.group, {})[holder.name] = None
    networks = dict.fromkeys(
        holder.network_id for holder in holders if holder.network_id is not None
    )
    refs = {holder.ref for holder in holders}
    addresses = dict.fromkeys(holder.address for holder in holders if holder.address)
    return End(
        label="; ".join(_group_label(group, list(names)) for group, names in groups.items())
        or UNKNOWN,
        network_ids=tuple(networks),
        ref=refs.pop() if len(refs) == 1 else None,
        addresses=tuple(addresses),
        holders=holders,
    )


def _group_label(group: Group, names: list[str]) -> str:
    shown = ", ".join(names[:NAMES_SHOWN])
    if len(names) > NAMES_SHOWN:
        shown += f" and {len(names) - NAMES_SHOWN} more"
    if group:
        return f"{group}: {shown}"
    return shown


class Ends:
    """Finds holders in the facts of one site. Where nothing is known it gives a holder that says so."""

    def __init__(self, facts: SiteFacts):
        self.facts = facts

    # -- networks --------------------------------------------------------------------------------

    @functools.cached_property
    def subnets(self) -> dict[Id, str]:
        return {network.id: network.cidr for network in self.facts.networks}

    @functools.cached_property
    def _by_prefix(self) -> dict[int, dict[int, Id]]:
        found: dict[int, dict[int, Id]] = {}
        for network in self.facts.networks:
            try:
                subnet = ipaddress.IPv4Network(network.cidr, strict=False)
            except ValueError:
                continue
            found.setdefault(subnet.prefixlen, {}).setdefault(
                int(subnet.network_address), network.id
            )
        return dict(sorted(found.items(), reverse=True))

    def network_of(self, address: str) -> Id | None:
        """The smallest recorded IPv4 subnet that holds an address."""
        try:
            number = int(ipaddress.IPv4Address(address))
        except ValueError:
            return None
        for length, subnets in self._by_prefix.items():
            found = subnets.get(number >> (32 - length) << (32 - length))
            if found is not None:
                return found
        return None

    @functools.cached_property
    def neighbours(self) -> dict[Id, set[Id]]:
        """Networks joined without a firewall. One record saying so is enough: a firewall stands between both ways."""
        found: dict[Id, set[Id]] = {}
        for network in self.facts.networks:
            for other in network.reaches:
                found.setdefault(network.id, set()).add(other)
                found.setdefault(other, set()).add(network.id)
        return found

    # -- holders ---------------------------------------------------------------------------------

    def machine(self, group: Group, record: Record, address: str | None = None) -> Holder:
        """A record with an address of its own; its network is the one recorded, else the one its address is in."""
        if address is None:
            address = getattr(record, "address", "")
        else:
            address = address
        network = self._known(getattr(record, "network_id", None))
        if network is None and address:
            network = self.network_of(address)
        return Holder(group, record.label, network, record.ref, address)

    def crowd(self, group: Group, record: Record, network_id: Id | None) -> Holder:
        """A template's desktops or a seat group's people: known by their network, not by single addresses."""
        network = self._known(network_id)
        return Holder(
            group,
            record.label,
            network,
            record.ref,
            self.subnets.get(network, "") if network is not None else "",
        )

    def unknown(self, group: Group) -> list[Holder]:
        return [Holder(group, UNKNOWN)]

    def _known(self, network_id: Id | None) -> Id | None:
        if network_id in self.subnets:
            return network_id
        return None

    @functools.cached_property
    def desktops(self) -> list[Holder]:
        return [
            self.crowd(Group.DESKTOPS, template, template.network_id)
            for template in self.facts.templates
        ]

    @functools.cached_property
    def appliances(self) -> list[Holder]:
        return [self.machine(Group.APPLIANCES, appliance) for appliance in self.facts.appliances]

    @functools.cached_property
    def hosts(self) -> list[Holder]:
        return [self.machine(Group.HOSTS, host) for host in self.facts.hosts]

    @functools.cached_property
    def administrators(self) -> list[Holder]:
        managing = [
            network
            for network in self.facts.networks
            if network.purpose == NetworkPurpose.MANAGEMENT
        ]
        found = [self.crowd(Group.ADMINISTRATORS, network, network.id) for network in managing]
        return found or self.unknown(Group.ADMINISTRATORS)

    def servers(self, role: ServerRole, group: Group) -> list[Holder]:
        """The servers that answer for a role; empty when no record says so."""
        return [
            self.machine(group, server) for server in self.facts.servers if role in server.roles
        ]

    def servers_or_unknown(self, role: ServerRole, group: Group) -> list[Holder]:
        return self.servers(role, group) or self.unknown(group)

    @property
    def in_a_domain(self) -> bool:
        directory = self.facts.directory
        if directory.directory_kind:
            return directory.directory_kind == DirectoryKind.DOMAIN
        return bool(directory.domain) or any(
            ServerRole.DIRECTORY in server.roles for server in self.facts.servers
        )

    def called(self, group: Group, text: str) -> Holder:
        """What a typed text means: the machine of that name or address, otherwise the text itself."""
        text = text.strip()
        if _is_address(text):
            address = text
        else:
            address = ""
        short = text if address else text.split(".")[0]  # "dc-1" for "dc-1.corp.example"
        record = self._by_name.get(text.casefold()) or self._by_name.get(short.casefold())
        if record is not None:
            return self.machine(group, record)
        return Holder(group, text, self.network_of(text), None, address)

    @functools.cached_property
    def _by_name(self) -> dict[str, Record]:
        found: dict[str, Record] = {}
        machines: list[Server | Host | Device] = [
            *self.facts.servers,
            *self.facts.hosts,
            *self.facts.devices,
        ]
        for record in machines:
            for text in (record.name, record.address):
                if text.strip():
                    found.setdefault(text.strip().casefold(), record)
        return found

    def servers_named_in(self, text: str) -> list[Server]:
        """Servers whose name stands in a sentence ("profile share on files-1")."""
        words = text.casefold()
        return [
            server
            for server in self.facts.servers
            if server.name and server.name.casefold() in words
        ]


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True
