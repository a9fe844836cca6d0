"""Tasks of the ground: subnets, leases, free addresses, names, clocks, certificates."""

from __future__ import annotations

import re
from typing import Any

from planner.engine.flows.ends import Group
from planner.papers.configs.checks import host_name, name_fault
from planner.papers.probe.tasks import NETWORKS_ASKED, Listing, Place, known_mac, usable
from planner.record.choices import (
    Activation,
    AnswerState,
    Dhcp,
    HostState,
    NetworkPurpose,
    OutsideAccess,
    ServerRole,
)
from planner.record.facts import Appliance, Host, Id, Network, Server, Service, Template

SETTLED = (AnswerState.PROVEN, AnswerState.EXCUSED)
CLOCKS_ASKED = 40
HTTPS = 443

AND = re.compile(r"\s*[,;/]\s*|\s+and\s+")


def ground_tasks(listing: Listing) -> None:
    """Every task that is not a flow, check by check."""
    for place in listing.places.values():
        _subnet(listing, place)
        _lease(listing, place)
        _desktop_names(listing, place)
        _key_server(listing, place)
    for network in listing.facts.networks:
        if network.id not in listing.places:
            for key in ("subnet-exists", "dhcp-answers", "desktop-dns"):
                listing.leave(f"{key}@{network.ref.anchor}", "the network's subnet is not known")
    _free_addresses(listing)
    _entry_name(listing)
    _host_names(listing)
    _clocks(listing)
    _certificates(listing)
    listing.leave(
        "outside-closed",
        "the address seen from outside is not in the plan; try it from a line that is not the customer's",
    )
    for store in listing.facts.datastores:
        listing.leave(
            f"shared-store-seen@{store.ref.anchor}",
            "files are written and read by the hosts themselves",
        )


# -- subnets and leases ----------------------------------------------------------------------------


def _subnet(listing: Listing, place: Place) -> None:
    key = f"subnet-exists@{place.network.ref.anchor}"
    words = f"this machine's own address and mask on {place.network.label} are of {place.block}"
    listing.add(place, "own-line", words, [key], subnet=str(place.block))
    if place.gateway:
        listing.add(
            place,
            "answers",
            f"the gateway {place.gateway} of {place.network.label} answers",
            [key],
            target=place.gateway,
        )
    else:
        listing.leave(key, "its gateway is not known, or lies outside it")


def _lease(listing: Listing, place: Place) -> None:
    network = place.network
    key = f"dhcp-answers@{network.ref.anchor}"
    if not listing.applies(key):
        return
    first, last = network.dhcp_first.strip(), network.dhcp_last.strip()
    lowest, highest = usable(first), usable(last)
    if (
        lowest is None
        or highest is None
        or lowest > highest
        or not (place.holds(lowest) and place.holds(highest))
    ):
        listing.leave(key, "its range is not known, or is none of this network")
        return
    ask: dict[str, Any] = {"first": first, "last": last, "servers": _dhcp_servers(listing, network)}
    words = f"this machine's own lease on {network.label} is out of {first} to {last}"
    listing.add(place, "lease", words, [key], **ask)
    words = (
        f"the planned servers alone offer addresses on {network.label}, out of {first} to {last}"
    )
    listing.add(place, "offer", words, [key], enough=True, **ask)


def _dhcp_servers(listing: Listing, network: Network) -> list[str]:
    """The addresses of the servers that the plan says hand out addresses here, empty when it does not say.

    Two that share a range are typed with a comma or an “and” between them.
    """
    typed = [one for one in AND.split(network.dhcp_server.strip()) if one.strip()]
    if typed:
        holders = [listing.ends.called(Group.DHCP_SERVER, one) for one in typed]
    else:
        holders = listing.ends.servers(ServerRole.DHCP, Group.DHCP_SERVER)
        if len(holders) != 1:
            return []
    known = [one.address for one in holders if usable(one.address) is not None]
    if len(known) != len(holders):
        return []
    return sorted(known)


# -- free addresses --------------------------------------------------------------------------------


def _free_addresses(listing: Listing) -> None:
    for host in listing.facts.hosts:
        _free(
            listing, host, f"host-address-free@{host.ref.anchor}", host.state == HostState.EXISTING
        )
    for one in listing.facts.appliances:
        placed = listing.checks.get(f"appliance-placed@{one.ref.anchor}")
        stands = placed is not None and placed.state in SETTLED
        _free(listing, one, f"appliance-address-free@{one.ref.anchor}", stands)
    made = listing.checks.get("service-answers")
    _free(
        listing,
        listing.facts.service,
        "service-address-free",
        made is not None and made.state in SETTLED,
    )


def _free(listing: Listing, record: Host | Appliance | Service, key: str, there: bool) -> None:
    if not listing.applies(key):
        return
    address = record.address.strip()
    place = listing.place_of(usable(address))
    if listing.checks[key].state in SETTLED:
        listing.leave(key, "it is answered already, and from then on its holder answers there")
    elif place is None:
        listing.leave(key, "its address is not known, or lies in no network of the plan")
    else:
        listing.add(
            place,
            "free",
            f"nobody but {record.label} answers at {address}",
            [key],
            target=address,
            holder=record.label,
            mac=known_mac(getattr(record, "mac", "")),
            there=there,
        )


# -- names -----------------------------------------------------------------------------------------


def people_places(listing: Listing) -> list[Place]:
    """The networks that people come from."""
    ids = dict.fromkeys(seats.network_id for seats in listing.facts.seat_groups)
    found = [listing.places[id] for id in ids if id is not None and id in listing.places]
    return (
        found
        or [one for one in listing.places.values() if one.network.purpose == NetworkPurpose.CLIENTS]
    )[:NETWORKS_ASKED]


def _entry_name(listing: Listing) -> None:
    key, service = "entry-name-resolves", listing.facts.service
    name, places = host_name(service.entry_name), people_places(listing)
    if name_fault(name) or usable(service.address) is None:
        listing.leave(key, "the entry name, or its address, is not known")
        return
    if not places:
        listing.leave(key, "the networks people come from are not known")
    if service.outside_access not in ("", OutsideAccess.NONE):
        listing.leave(key, "what the name gives outside, for people at home")
    expect = [service.address.strip()]
    for place in places:
        here = place.network.label
        listing.add(
            place,
            "name",
            f"{name} by this machine's own look-up on {here}",
            [key],
            target="",
            name=name,
            expect=expect,
        )
        for server in place.dns_servers:
            words = f"{name} at the DNS server {server} of {here}"
            listing.add(place, "name", words, [key], target=server, name=name, expect=expect)


def _host_names(listing: Listing) -> None:
    """Hosts are looked up where the appliances look them up."""
    places = _appliance_places(listing)
    for host in listing.facts.hosts:
        key = f"host-name-resolves@{host.ref.anchor}"
        name, address = listing.whole_names.get(host.ref, ""), host.address.strip()
        if not name or usable(address) is None:
            listing.leave(
                key, "its name, or its address, is not known or stands for another machine too"
            )
            continue
        if not any(place.dns_servers for place in places):
            listing.leave(key, "the DNS servers that the appliances ask are not known")
        for place in places:
            for server in place.dns_servers:
                where = f"at the DNS server {server} of {place.network.label}"
                listing.add(
                    place,
                    "name",
                    f"{name} {where}",
                    [key],
                    target=server,
                    name=name,
                    expect=[address],
                )
                listing.add(
                    place,
                    "back",
                    f"the name of {address} {where}",
                    [key],
                    target=server,
                    address=address,
                    expect=[name],
                )


def _appliance_places(listing: Listing) -> list[Place]:
    ids = dict.fromkeys(one.network_id for one in listing.ends.appliances)
    found = [listing.places[id] for id in ids if id is not None and id in listing.places]
    managing = [
        one for one in listing.places.values() if one.network.purpose == NetworkPurpose.MANAGEMENT
    ]
    return (found or managing or list(listing.places.values()))[:NETWORKS_ASKED]


def _desktop_names(listing: Listing, place: Place) -> None:
    network = place.network
    key, domain = f"desktop-dns@{network.ref.anchor}", host_name(listing.facts.directory.domain)
    if not listing.applies(key):
        return
    if not place.dns_servers:
        listing.leave(key, "its DNS servers are not known")
        return
    words = f"the DNS servers this machine uses on {network.label} are the planned ones"
    listing.add(
        place,
        "own-names",
        words,
        [key],
        expect=list(place.dns_servers),
        leased=network.dhcp != Dhcp.NONE,
    )
    if name_fault(domain):
        listing.leave(key, "the directory's domain is not known")
        return
    servers = [one for one in listing.facts.servers if ServerRole.DIRECTORY in one.roles]
    expect = sorted(filter(None, (listing.whole_names.get(one.ref, "") for one in servers)))
    for server in (
        place.dns_servers
    ):  # Source: RFC 2782; that a directory has this record: common practice, no source
        words = f"the directory's service record _ldap._tcp.{domain} at the DNS server {server}"
        listing.add(
            place,
            "service-record",
            words,
            [key],
            target=server,
            name=f"_ldap._tcp.{domain}",
            expect=expect,
            connect=False,
        )


def _key_server(listing: Listing, place: Place) -> None:
    key, facts = "key-server-found", listing.facts
    images = {one.id for one in facts.images if one.activation == Activation.KEY_SERVER}
    if not listing.applies(key) or not _runs(facts.templates, images, place.network.id):
        return
    suffix = host_name(place.network.domain_suffix or facts.directory.domain)
    if name_fault(suffix) or not place.dns_servers:
        listing.leave(
            key, f"the DNS suffix, or the DNS servers, of {place.network.label} are not known"
        )
        return
    keepers = [one for one in facts.servers if ServerRole.KEYS in one.roles]
    expect = sorted(filter(None, (listing.whole_names.get(one.ref, "") for one in keepers)))
    for server in place.dns_servers:
        words = (
            f"the key server's record _vlmcs._tcp.{suffix} at the DNS server {server}, and its port"
        )
        listing.add(
            place,
            "service-record",
            words,
            [key],
            target=server,
            name=f"_vlmcs._tcp.{suffix}",
            expect=expect,
            connect=True,
        )


def _runs(templates: tuple[Template, ...], images: set[Id], network_id: Id) -> bool:
    return any(one.network_id == network_id and one.image_id in images for one in templates)


# -- clocks and certificates -------------------------------------------------------------------------


def _clocks(listing: Listing) -> None:
    key, facts = "clocks-agree", listing.facts
    servers = [
        one for one in facts.servers if {ServerRole.DIRECTORY, ServerRole.TIME} & set(one.roles)
    ]
    working = [one for one in facts.hosts if one.state != HostState.SPARE]
    known: list[Server | Host] = [*servers, *working]
    machines = [
        [one.label, one.address.strip()] for one in known if usable(one.address) is not None
    ]
    listing.leave(
        key, "the firewall's clock, and every machine that tells nobody the time: read them there"
    )
    if len(machines) < 2:
        listing.leave(key, "the addresses of two machines at least")
        return
    managing = [
        one for one in listing.places.values() if one.network.purpose == NetworkPurpose.MANAGEMENT
    ]
    place = managing[0] if managing else listing.place_of(usable(machines[0][1]))
    if place is None:
        listing.leave(key, "a network to ask from")
        return
    allowed = listing.plan.numbers.read_by("probe")["clock.tolerance-minutes"] * 60
    machines = machines[:CLOCKS_ASKED]
    names = ", ".join(label for label, _ in machines)
    listing.add(
        place,
        "clocks",
        f"the clocks of {names} agree to {allowed:g} s",
        [key],
        machines=machines,
        allowed=allowed,
    )


def _certificates(listing: Listing) -> None:
    service = listing.facts.service
    issued, own = "certificate-installed", "own-certificate-known"
    if listing.applies(issued):
        key = issued
    else:
        key = own
    if not listing.applies(key):
        return
    name = host_name(service.entry_name)
    if key == own:
        listing.leave(
            key,
            "that the SHA-256 is the one on the appliance's own console, and that people know the warning",
        )
    if name_fault(name):
        listing.leave(key, "the entry name is not known")
        return
    if service.certificate_expires:
        expires = service.certificate_expires.isoformat()
    else:
        expires = ""
    ask: dict[str, Any] = {"port": HTTPS, "name": name, "expires": expires, "own": key == own}
    managing = _appliance_places(listing)[:1]
    wanted = [
        (service.address, (people_places(listing) or managing)[:1])
    ]  # people reach the entry alone
    wanted += [(one.address, managing) for one in listing.facts.appliances]
    asked = False
    for address, places in wanted:
        for place in places if usable(address) is not None else ():
            target, asked = address.strip(), True
            words = f"the certificate for {name} at {listing.called(target)}"
            listing.add(place, "certificate", words, [key], target=target, **ask)
    if not asked:
        listing.leave(key, "the appliances' addresses, or a network to ask from, are not known")
