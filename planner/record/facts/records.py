"""The records of the plan, chapter by chapter."""

from __future__ import annotations

import datetime as dt
import typing
from dataclasses import dataclass
from typing import Annotated

from planner.record.choices import (
    Activation,
    AddressOrigin,
    Authority,
    Bits,
    Certificate,
    ContactRole,
    Dhcp,
    DirectoryKind,
    Holding,
    HostState,
    JoinRights,
    Licensing,
    NetworkPurpose,
    OutsideAccess,
    PaperSize,
    Passage,
    Provisioning,
    Raid,
    ReachedBy,
    Renewal,
    ResetRule,
    SeatKind,
    ServerRole,
    Sharing,
    SitePurpose,
    Standing,
    Transport,
    Weekday,
)
from planner.record.facts.base import Day, Id, Record

# -- 1 Brief -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Site(Record):
    kind: typing.ClassVar[str] = "site"
    name: str = ""
    code: str = ""
    purpose: Annotated[str, SitePurpose] = SitePurpose.TRIAL
    street_address: str = ""
    time_zone: str = ""
    paper: Annotated[str, PaperSize] = PaperSize.A4
    on_site_date: Day | None = None
    go_live_date: Day | None = None
    work_starts: dt.time | None = None
    work_ends: dt.time | None = None
    work_days: tuple[Annotated[str, Weekday], ...] = ()
    people_count: int | None = None
    scope: str = ""
    out_of_scope: str = ""
    way_in: str = ""
    joined: tuple[Id, ...] = ()  # other sites of the customer that a link joins to this one

    @property
    def live(self) -> bool:
        return self.purpose == SitePurpose.LIVE


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact(Record):
    kind: typing.ClassVar[str] = "contact"
    name: str = ""
    role: Annotated[str, ContactRole] = ""
    phone: str = ""
    email: str = ""


# -- 2 Networks ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Network(Record):
    kind: typing.ClassVar[str] = "network"
    name: str = ""
    purpose: Annotated[str, NetworkPurpose] = ""
    vlan: int | None = None
    cidr: str = ""
    gateway: str = ""
    dhcp: Annotated[str, Dhcp] = ""
    dhcp_first: str = ""
    dhcp_last: str = ""
    lease_minutes: int | None = None
    dhcp_server: str = ""
    other_dhcp_clients: int | None = None
    dns_servers: tuple[str, ...] = ()
    domain_suffix: str = ""
    link_mbit_s: float | None = None
    mtu: int | None = None
    reaches: tuple[Id, ...] = ()  # networks it reaches without a firewall between
    ipv6_prefix: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Device(Record):
    kind: typing.ClassVar[str] = "device"
    name: str = ""
    what: str = ""
    network_id: Id | None = None
    address: str = ""
    mac: str = ""
    holding: Annotated[str, Holding] = ""
    ipv6_address: str = ""


# -- 3 Hosts -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Host(Record):
    kind: typing.ClassVar[str] = "host"
    name: str = ""
    model: str = ""
    state: Annotated[str, HostState] = ""
    sockets: int | None = None
    cores_per_socket: int | None = None
    clock_ghz: float | None = None
    memory_gib: float | None = None
    hypervisor: str = ""
    management_name: str = ""
    network_id: Id | None = None
    address: str = ""
    out_of_band_address: str = ""
    ipv6_address: str = ""
    mac: str = ""
    network_label: str = ""
    time_source: str = ""
    weight_kg: float | None = None
    rack_units: int | None = None
    rated_watts: float | None = None

    @property
    def cores(self) -> int | None:
        if self.sockets is None or self.cores_per_socket is None:
            return None
        return self.sockets * self.cores_per_socket


@dataclass(frozen=True, slots=True, kw_only=True)
class Datastore(Record):
    kind: typing.ClassVar[str] = "datastore"
    name: str = ""
    sharing: Annotated[str, Sharing] = ""
    reached_by: Annotated[str, ReachedBy] = ""  # how hosts reach a shared one
    host_id: Id | None = None  # whose disks these are, when local
    raid: Annotated[str, Raid] = ""
    disks: int | None = None
    disk_gb: float | None = None
    hot_spares: int | None = None
    disk_operations: float | None = None  # random operations a second a disk
    throughput_mb_s: float | None = None
    provisioning: Annotated[str, Provisioning] = ""
    others_gib: float | None = None


# -- 4 Directory ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Directory(Record):
    kind: typing.ClassVar[str] = "directory"
    directory_kind: Annotated[str, DirectoryKind] = ""
    domain: str = ""
    netbios: str = ""
    desktop_ou: str = ""
    join_account: str = ""
    join_rights: Annotated[str, JoinRights] = ""
    time_source: str = ""
    time_zone: str = ""
    ldaps: bool | None = None  # whether it is asked over TLS as well
    sign_in_policy: str = ""

    @property
    def label(self) -> str:
        return self.domain or "the directory"


@dataclass(frozen=True, slots=True, kw_only=True)
class Server(Record):
    kind: typing.ClassVar[str] = "server"
    name: str = ""
    network_id: Id | None = None
    address: str = ""
    ipv6_address: str = ""
    mac: str = ""
    roles: tuple[Annotated[str, ServerRole], ...] = ()
    stands: Annotated[str, Standing] = ""


# -- 5 Service -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Service(Record):
    kind: typing.ClassVar[str] = "service"
    name: str = ""
    entry_name: str = ""
    network_id: Id | None = None
    address: str = ""
    address_origin: Annotated[str, AddressOrigin] = ""
    initial_secret_changed: bool | None = None
    disk_provisioning: Annotated[str, Provisioning] = ""
    space_watcher: str = ""
    certificate: Annotated[str, Certificate] = ""
    certificate_names: tuple[str, ...] = ()
    certificate_authority: Annotated[str, Authority] = ""
    certificate_issued: Day | None = None
    certificate_expires: Day | None = None
    certificate_renewal: Annotated[str, Renewal] = ""
    agent_ports: tuple[str, ...] = ()  # "8443/tcp" …
    outside_access: Annotated[str, OutsideAccess] = ""
    outside_device_id: Id | None = None  # the device that is the way in
    outside_ports: tuple[str, ...] = ()  # what it answers to from outside: "443/tcp" …
    public_address: str = ""  # what the entry name leads to from outside
    second_factor: str = ""  # what is asked beside the password from outside
    hypervisor_ports: tuple[str, ...] = ()  # what the hosts answer to the appliances
    appliance_ports: tuple[str, ...] = ()  # what appliances say to each other
    copy_ports: tuple[str, ...] = ()  # by which hosts give each other images
    backup_place: str = ""

    @property
    def label(self) -> str:
        return self.name or "the service"


@dataclass(frozen=True, slots=True, kw_only=True)
class Appliance(Record):
    kind: typing.ClassVar[str] = "appliance"
    name: str = ""
    host_id: Id | None = None
    datastore_id: Id | None = None
    network_id: Id | None = None
    address: str = ""
    ipv6_address: str = ""
    mac: str = ""
    vcpu: int | None = None
    memory_gib: float | None = None
    disk_gib: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Protocol(Record):
    kind: typing.ClassVar[str] = "protocol"
    called: typing.ClassVar[str] = "display protocol"
    name: str = ""
    tcp_port: int | None = None
    udp_port: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Credential(Record):
    kind: typing.ClassVar[str] = "credential"
    name: str = ""
    account: str = ""
    privilege: str = ""
    where_kept: str = ""
    who_can_fetch: str = ""
    last_changed: Day | None = None
    still_initial: bool | None = None


# -- 6 Images ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Image(Record):
    kind: typing.ClassVar[str] = "image"
    name: str = ""
    generation: int | None = None
    source_machine: str = ""
    operating_system: str = ""
    bits: Annotated[int, Bits] | None = None
    support_ends: Day | None = None
    disk_gib: float | None = None
    used_gib: float | None = None
    activation: Annotated[str, Activation] = ""
    remove_or_add: str = ""
    sealed_on: Day | None = None
    time_zone: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Application(Record):
    kind: typing.ClassVar[str] = "application"
    name: str = ""
    image_id: Id | None = None
    licensed_by: Annotated[str, Licensing] = ""
    licences_held: int | None = None


# -- 7 Desktops and seating ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Template(Record):
    kind: typing.ClassVar[str] = "template"
    called: typing.ClassVar[str] = "desktop template"
    name: str = ""
    description: str = ""
    image_id: Id | None = None
    network_id: Id | None = None
    memory_gib: float | None = None
    vcpu: int | None = None
    most: int | None = None
    standby: int | None = None
    reset_rule: Annotated[str, ResetRule] = ""
    name_prefix: str = ""
    name_digits: int | None = None
    growth_gib: float | None = None
    protocol_id: Id | None = None
    passes: tuple[Annotated[str, Passage], ...] = ()
    profile_place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatGroup(Record):
    kind: typing.ClassVar[str] = "seatgroup"
    called: typing.ClassVar[str] = "seat group"
    name: str = ""
    template_id: Id | None = None
    seat_kind: Annotated[str, SeatKind] = ""
    people: int | None = None
    share_at_once: float | None = None  # 0 … 1
    arrive_around: dt.time | None = None
    arrive_spread_minutes: float | None = None  # standard deviation
    sign_ins_a_day: float | None = None
    network_id: Id | None = None  # the network they come from
    kbit_s: float | None = None


# -- 9 Addresses and ports -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnFlow(Record):
    kind: typing.ClassVar[str] = "flow"
    name: str = ""  # why it must pass
    from_network_id: Id | None = None
    from_what: str = ""
    to_network_id: Id | None = None
    to_what: str = ""
    transport: Annotated[str, Transport] = ""
    ports: str = ""  # "443" or "5000-5010"
