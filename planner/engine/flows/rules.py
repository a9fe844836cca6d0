"""Which ends each rule of ``fixtures/catalogue/ports.toml`` joins: one small function a rule."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from planner.engine.flows.ends import FIREWALL, UNKNOWN, Ends, Group, Holder
from planner.engine.flows.ports import NOT_RECORDED, Opening, of_protocol, openings, typed
from planner.record.choices import (
    Activation,
    AddressOrigin,
    Dhcp,
    NetworkPurpose,
    OutsideAccess,
    ReachedBy,
    ServerRole,
    Sharing,
)
from planner.record.facts import Device, Id, Network, Protocol, SeatGroup, Server, Template

NETWORKS_TOGETHER = 40  # storage networks up to which each gets its own line


@dataclass(frozen=True, slots=True)
class Way:
    """What a rule gives: who sends, who answers, and the ports where the rule's own do not say."""

    sources: Sequence[Holder]
    targets: Sequence[Holder]
    openings: tuple[Opening, ...] = ()
    words: dict[str, str] = field(default_factory=dict)
    crosses: str = ""  # what stands between, where the networks do not tell
    among: bool = False  # everybody to everybody else: the same stand at both ends


Rule = Callable[[Ends], Iterator[Way]]
RULES: dict[str, Rule] = {}


def rule(key: str) -> Callable[[Rule], Rule]:
    """Registers the function that finds the ends of a rule in the catalogue."""

    def register(function: Rule) -> Rule:
        RULES[key] = function
        return function

    return register


def _served(ends: Ends) -> bool:
    """Whether there is anything to plan a service's flows for."""
    service = ends.facts.service
    return bool(ends.facts.seat_groups or ends.appliances or service.entry_name or service.address)


@rule("entry")
def entry(ends: Ends) -> Iterator[Way]:
    service = ends.facts.service
    if not _served(ends):
        return
    people = [ends.crowd(Group.PEOPLE, seats, seats.network_id) for seats in ends.facts.seat_groups]
    name = service.entry_name or UNKNOWN
    place = ends.machine(Group.ENTRY, service)
    target = Holder(Group.ENTRY, name, place.network_id, service.ref, service.address)
    yield Way(people or ends.unknown(Group.PEOPLE), [target])


# Ports, networks of the people, network of the desktops.
Ground = tuple[tuple[Opening, ...], frozenset[Id | None], Id | None]


@rule("display")
def display(ends: Ends) -> Iterator[Way]:
    """People reach the desktops of their own template only, by its protocol."""
    seats_of: dict[Id | None, list[SeatGroup]] = {}
    for seats in ends.facts.seat_groups:
        seats_of.setdefault(seats.template_id, []).append(seats)
    ways: dict[Ground, tuple[dict[Holder, None], list[Holder], str]] = {}
    for template, desktops in zip(ends.facts.templates, ends.desktops, strict=True):
        protocol = _protocol(template, ends)
        groups = seats_of.get(template.id, [])
        people = [
            ends.crowd(Group.PEOPLE, seats, seats.network_id) for seats in groups
        ] or ends.unknown(Group.PEOPLE)
        networks = frozenset(holder.network_id for holder in people)
        if protocol:
            name = protocol.label
        else:
            name = f"protocol {UNKNOWN}"
        way = ways.setdefault(
            (of_protocol(protocol), networks, desktops.network_id), ({}, [], name)
        )
        way[0].update(dict.fromkeys(people))
        way[1].append(desktops)
    for (ports, _, _), (sources, targets, name) in ways.items():
        yield Way(tuple(sources), targets, ports, {"protocol": name})


def _protocol(template: Template, ends: Ends) -> Protocol | None:
    """A template's protocol; when it names none and the site has a single one, that one."""
    if template.protocol_id is None and len(ends.facts.protocols) == 1:
        return ends.facts.protocols[0]
    return next((one for one in ends.facts.protocols if one.id == template.protocol_id), None)


@rule("agent")
def agent(ends: Ends) -> Iterator[Way]:
    if ends.desktops and _served(ends):
        ports = tuple(
            dict.fromkeys(typed(text) for text in ends.facts.service.agent_ports if text.strip())
        )
        yield Way(
            ends.desktops, ends.appliances or ends.unknown(Group.APPLIANCES), ports or NOT_RECORDED
        )


def _typed(texts: Sequence[str]) -> tuple[Opening, ...]:
    return tuple(dict.fromkeys(typed(text) for text in texts if text.strip()))


@rule("hypervisor")
def hypervisor(ends: Ends) -> Iterator[Way]:
    if ends.appliances:
        ports = _typed(ends.facts.service.hypervisor_ports)
        yield Way(ends.appliances, ends.hosts or ends.unknown(Group.HOSTS), ports)


@rule("appliances")
def appliances(ends: Ends) -> Iterator[Way]:
    """What appliances of one service say to each other stands in their supplier's papers alone."""
    if len(ends.appliances) > 1:
        ports = _typed(ends.facts.service.appliance_ports) or NOT_RECORDED
        yield Way(ends.appliances, ends.appliances, ports, among=True)


@rule("host-copies")
def host_copies(ends: Ends) -> Iterator[Way]:
    """Images go from host to host where there are images and more than one host."""
    if len(ends.hosts) > 1 and ends.facts.images:
        ports = _typed(ends.facts.service.copy_ports) or NOT_RECORDED
        yield Way(ends.hosts, ends.hosts, ports, among=True)


@rule("dns")
def dns(ends: Ends) -> Iterator[Way]:
    """Desktops and appliances ask the DNS servers of their network, else the site's."""
    lists: dict[Id | None, tuple[str, ...]] = {
        network.id: network.dns_servers for network in ends.facts.networks
    }
    asking: dict[tuple[str, ...], list[Holder]] = {}
    for holder in (*ends.desktops, *ends.appliances):
        asking.setdefault(tuple(lists.get(holder.network_id, ())), []).append(holder)
    for addresses, sources in asking.items():
        if addresses:
            yield Way(sources, [ends.called(Group.DNS_SERVERS, address) for address in addresses])
        else:
            yield Way(sources, ends.servers_or_unknown(ServerRole.DNS, Group.DNS_SERVERS))


@rule("directory")
def directory(ends: Ends) -> Iterator[Way]:
    if ends.in_a_domain:
        sources = [*ends.desktops, *ends.appliances]
        yield Way(sources, ends.servers_or_unknown(ServerRole.DIRECTORY, Group.DIRECTORY_SERVERS))


@rule("directory-tls")
def directory_tls(ends: Ends) -> Iterator[Way]:
    if ends.facts.directory.ldaps:
        yield from directory(ends)


@rule("clock")
def clock(ends: Ends) -> Iterator[Way]:
    """Hosts ask their own time source; in a domain its servers ask the directory's, and all others ask them.

    What desktops and appliances ask of the directory stands in its own rule.
    """
    own: dict[str, list[Holder]] = {}
    for host, holder in zip(ends.facts.hosts, ends.hosts, strict=True):
        own.setdefault(host.time_source.strip(), []).append(holder)
    if ends.in_a_domain:
        keeping = ServerRole.DIRECTORY
    else:
        keeping = ServerRole.TIME
    others = [
        ends.machine(Group.SERVERS, server)
        for server in ends.facts.servers
        if keeping not in server.roles
    ]
    if ends.in_a_domain:
        answering = ends.servers(ServerRole.DIRECTORY, Group.DIRECTORY_SERVERS)
        own.setdefault(ends.facts.directory.time_source.strip(), []).extend(answering)
        yield Way(others, answering)
    else:
        own.setdefault("", []).extend([*ends.desktops, *ends.appliances, *others])
    for text, sources in own.items():
        if text:
            yield Way(sources, [ends.called(Group.TIME_SOURCE, text)])
        else:
            yield Way(sources, ends.servers_or_unknown(ServerRole.TIME, Group.TIME_SERVERS))


def _leasing(ends: Ends) -> Iterator[tuple[list[Holder], Sequence[Holder]]]:
    """Who has an address by DHCP, and the server that hands it out on their network."""
    ranges = [network for network in ends.facts.networks if network.dhcp == Dhcp.RANGE]
    ranged: dict[Id | None, str] = {network.id: network.dhcp_server.strip() for network in ranges}
    none = {network.id for network in ends.facts.networks if network.dhcp == Dhcp.NONE}
    asking: dict[str, list[Holder]] = {}
    for holder in ends.desktops:
        if holder.network_id not in none:
            asking.setdefault(ranged.get(holder.network_id, ""), []).append(holder)
    if ends.facts.service.address_origin in (AddressOrigin.RESERVED, AddressOrigin.DYNAMIC):
        for holder in ends.appliances:
            asking.setdefault(ranged.get(holder.network_id, ""), []).append(holder)
    for text, clients in asking.items():
        if text:
            yield clients, [ends.called(Group.DHCP_SERVER, text)]
        else:
            yield clients, ends.servers_or_unknown(ServerRole.DHCP, Group.DHCP_SERVERS)


@rule("lease")
def lease(ends: Ends) -> Iterator[Way]:
    for clients, servers in _leasing(ends):
        yield Way(clients, servers)


@rule("lease-answer")
def lease_answer(ends: Ends) -> Iterator[Way]:
    for clients, servers in _leasing(ends):
        yield Way(servers, clients)


def _relayed(ends: Ends) -> Iterator[tuple[list[Holder], list[Holder]]]:
    """The relays and the server of clients on another network than it: a broadcast passes no gateway by itself."""
    networks = {network.id: network for network in ends.facts.networks}
    for clients, servers in _leasing(ends):
        for server in servers:
            apart = {one.network_id: None for one in clients if one.network_id != server.network_id}
            known = [networks[network] for network in apart if network in networks]
            if server.network_id is not None and known:
                yield [_relay(network) for network in known], [server]


def _relay(network: Network) -> Holder:
    """The gateway of a network passes its broadcasts on, by the address it has there (RFC 2131, giaddr)."""
    name = f"gateway of {network.label}"
    return Holder(Group.RELAY, name, network.id, None, network.gateway)


@rule("lease-relayed")
def lease_relayed(ends: Ends) -> Iterator[Way]:
    for relays, servers in _relayed(ends):
        yield Way(relays, servers)


@rule("lease-relayed-answer")
def lease_relayed_answer(ends: Ends) -> Iterator[Way]:
    for relays, servers in _relayed(ends):
        yield Way(servers, relays)


@rule("activation")
def activation(ends: Ends) -> Iterator[Way]:
    by_server = {
        image.id for image in ends.facts.images if image.activation == Activation.KEY_SERVER
    }
    templates = zip(ends.facts.templates, ends.desktops, strict=True)
    desktops = [holder for template, holder in templates if template.image_id in by_server]
    yield Way(desktops, ends.servers_or_unknown(ServerRole.KEYS, Group.KEY_SERVERS))


@rule("profile")
def profile(ends: Ends) -> Iterator[Way]:
    """Desktops reach the share their template names, else every file server."""
    file_servers = ends.servers(ServerRole.FILES, Group.FILE_SERVERS)
    asking: dict[str, list[Holder]] = {}
    for template, holder in zip(ends.facts.templates, ends.desktops, strict=True):
        asking.setdefault(template.profile_place.strip(), []).append(holder)
    for place, desktops in asking.items():
        named = [
            ends.machine(Group.FILE_SERVERS, server) for server in ends.servers_named_in(place)
        ]
        targets = named or file_servers
        if not targets and place:
            targets = [Holder(Group.PROFILES, place)]
        yield Way(desktops, targets)


@rule("print-server")
def print_server(ends: Ends) -> Iterator[Way]:
    yield Way(ends.desktops, ends.servers(ServerRole.PRINT, Group.PRINT_SERVERS))


@rule("printer")
def printer(ends: Ends) -> Iterator[Way]:
    """Print servers, or the desktops where there are none, reach the devices that are called printers."""
    devices = ends.facts.devices
    printers = [
        ends.machine(Group.PRINTERS, one)
        for one in devices
        if "print" in f"{one.what} {one.name}".casefold()
    ]
    yield Way(ends.servers(ServerRole.PRINT, Group.PRINT_SERVERS) or ends.desktops, printers)


@rule("administer-hosts")
def administer_hosts(ends: Ends) -> Iterator[Way]:
    if ends.hosts:
        yield Way(ends.administrators, ends.hosts)


@rule("administer-boards")
def administer_boards(ends: Ends) -> Iterator[Way]:
    """Out-of-band addresses: their network is the one the address is in, not the host's."""
    boards = [
        Holder(
            Group.OUT_OF_BAND,
            host.label,
            ends.network_of(host.out_of_band_address),
            host.ref,
            host.out_of_band_address,
        )
        for host in ends.facts.hosts
        if host.out_of_band_address
    ]
    yield Way(ends.administrators, boards)


@rule("administer-appliances")
def administer_appliances(ends: Ends) -> Iterator[Way]:
    if ends.appliances:
        yield Way(ends.administrators, ends.appliances)


@rule("power")
def power(ends: Ends) -> Iterator[Way]:
    """Hosts ask the devices that are called a supply without interruption how long it lasts."""
    supplies = [
        ends.machine(Group.SUPPLIES, one)
        for one in ends.facts.devices
        if _is_supply(f"{one.what} {one.name}")
    ]
    yield Way(ends.hosts, supplies)


def _is_supply(text: str) -> bool:
    words = text.casefold().replace("-", " ").replace(",", " ").split()
    return "ups" in words or "uninterruptible" in words


@rule("watching")
def watching(ends: Ends) -> Iterator[Way]:
    yield Way(ends.servers(ServerRole.WATCHING, Group.WATCHING), [*ends.hosts, *ends.appliances])


@rule("alarm-mail")
def alarm_mail(ends: Ends) -> Iterator[Way]:
    yield Way([*ends.hosts, *ends.appliances], ends.servers(ServerRole.MAIL, Group.MAIL_SERVERS))


@rule("service-backup")
def service_backup(ends: Ends) -> Iterator[Way]:
    """The appliances' backup goes to the server that its place names; by what port its supplier says."""
    places = ends.servers_named_in(ends.facts.service.backup_place)
    targets = [ends.machine(Group.BACKUP, server) for server in places]
    yield Way(ends.appliances, targets, NOT_RECORDED)


@rule("updates")
def updates(ends: Ends) -> Iterator[Way]:
    """Systems are mended, and subscriptions asked for, out in the world: a firewall always stands between."""
    if ends.facts.images:
        world = Holder(Group.PUBLISHERS, "their servers in the world", outside=True)
        yield Way([*ends.desktops, *ends.appliances], [world], crosses=FIREWALL)


@rule("storage")
def storage(ends: Ends) -> Iterator[Way]:
    """Hosts reach shared datastores over the storage networks; their addresses there are not recorded."""
    for by in (ReachedBy.ISCSI, ReachedBy.NFS):
        for way in _to_stores(ends, by):
            yield Way(way.sources, way.targets, openings(by))


@rule("storage-undecided")
def storage_undecided(ends: Ends) -> Iterator[Way]:
    yield from _to_stores(ends, "")


def _to_stores(ends: Ends, by: str) -> Iterator[Way]:
    """Hosts to the shared datastores that are reached in one way, a line a storage network."""
    shared = [
        store
        for store in ends.facts.datastores
        if store.sharing == Sharing.SHARED and store.reached_by == by
    ]
    networks = [
        network.id for network in ends.facts.networks if network.purpose == NetworkPurpose.STORAGE
    ]
    for network in networks if 0 < len(networks) <= NETWORKS_TOGETHER else [None]:
        hosts = [ends.crowd(Group.HOSTS, host, network) for host in ends.facts.hosts]
        stores = [ends.crowd(Group.DATASTORES, store, network) for store in shared]
        yield Way(hosts or ends.unknown(Group.HOSTS), stores)


@rule("log")
def log(ends: Ends) -> Iterator[Way]:
    """Only where a server or a device is recorded as one that keeps logs.

    A server's roles say whether over TLS. Of one that only a name tells of, nobody knows.
    """
    sources = [*ends.hosts, *ends.appliances]
    for role, key in ((ServerRole.LOGS, "log"), (ServerRole.LOGS_TLS, "log-tls")):
        yield Way(sources, ends.servers(role, Group.LOG_SERVERS), openings(key))
    keepers: list[Device | Server] = [
        one for one in ends.facts.devices if _keeps_logs(f"{one.what} {one.name}")
    ]
    keepers += [
        one
        for one in ends.facts.servers
        if _keeps_logs(one.name) and not {ServerRole.LOGS, ServerRole.LOGS_TLS} & {*one.roles}
    ]
    yield Way(sources, [ends.machine(Group.LOG_SERVERS, one) for one in keepers])


def _keeps_logs(text: str) -> bool:
    words = text.casefold().replace("-", " ").split()
    return any(word in ("log", "logs", "syslog") for word in words)


# -- from outside --------------------------------------------------------------------------------


def _way_in(ends: Ends) -> list[Holder]:
    """The gateway or the VPN's end; empty when nobody comes from outside."""
    service = ends.facts.service
    if service.outside_access not in (OutsideAccess.VPN, OutsideAccess.GATEWAY):
        return []
    if service.outside_access == OutsideAccess.GATEWAY:
        group = Group.GATEWAY
    else:
        group = Group.VPN
    device = next((one for one in ends.facts.devices if one.id == service.outside_device_id), None)
    if device:
        return [ends.machine(group, device)]
    return ends.unknown(group)


@rule("outside")
def outside(ends: Ends) -> Iterator[Way]:
    """What the world outside may open. It is on no network of the site, so a firewall always stands between."""
    ports = tuple(
        dict.fromkeys(typed(text) for text in ends.facts.service.outside_ports if text.strip())
    )
    people = [Holder(Group.PEOPLE, "from outside", outside=True)]
    yield Way(people, _way_in(ends), ports or NOT_RECORDED, crosses=FIREWALL)


@rule("outside-entry")
def outside_entry(ends: Ends) -> Iterator[Way]:
    """A gateway speaks to the service and to the desktops itself; behind a VPN people are on a network of the site."""
    if ends.facts.service.outside_access == OutsideAccess.GATEWAY:
        for way in entry(ends):
            yield Way(_way_in(ends), way.targets)


@rule("outside-display")
def outside_display(ends: Ends) -> Iterator[Way]:
    if ends.facts.service.outside_access == OutsideAccess.GATEWAY:
        desktops: dict[tuple[Opening, ...], tuple[dict[Holder, None], dict[str, str]]] = {}
        for way in display(ends):
            desktops.setdefault(way.openings, ({}, way.words))[0].update(dict.fromkeys(way.targets))
        for ports, (targets, words) in desktops.items():
            yield Way(_way_in(ends), tuple(targets), ports, words)
