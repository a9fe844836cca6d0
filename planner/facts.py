"""Facts: everything one site's plan says, as frozen dataclasses.

They are the one input of the engine, the review, the stages and the papers. They know no
database and no request. ``sites.reading.read_site`` makes them from rows; a revision keeps them
as JSON (:func:`to_json`, :func:`from_json`).

Conventions
- An unknown number, date or choice of yes or no is ``None``; an unknown text or choice is ``""``.
- A reference to another record is that record's ``id``, in a field that ends in ``_id``; it is
  ``None`` when unknown or when the record it named has been removed.
- Units stand in the field's name: ``_gib`` (2**30 bytes), ``_gb`` (10**9 bytes, raw drives as
  sold), ``_mbit_s`` (10**6 bits a second), ``_kbit_s``, ``_minutes``, ``_watts``, ``_kg``.
- Addresses and prefixes are texts that are known to parse; names are as typed.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
import hashlib
import json
import types
import typing
from dataclasses import dataclass, field

Id = int
Day = dt.date


@dataclass(frozen=True, slots=True)
class Ref:
    """Points at one record of a site, or at one field of it (``field`` is "" for the record)."""

    kind: str
    id: Id
    field: str = ""

    @property
    def anchor(self) -> str:
        """The record's name in a page: ``host-12``."""
        return f"{self.kind}-{self.id}"

    def at(self, field: str) -> Ref:
        return Ref(self.kind, self.id, field)


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What every record has. ``kind`` is the record's word in addresses, anchors and tables."""

    kind: typing.ClassVar[str] = ""
    id: Id = 0
    note: str = ""

    @property
    def ref(self) -> Ref:
        return Ref(self.kind, self.id)

    @property
    def label(self) -> str:
        """What people call this record."""
        return getattr(self, "name", "") or f"unnamed {KIND_WORDS.get(self.kind, self.kind)}"


# -- 1 Brief -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Site(Record):
    kind: typing.ClassVar[str] = "site"
    name: str = ""
    code: str = ""
    purpose: str = "trial"  # trial | live
    street_address: str = ""
    time_zone: str = ""
    paper: str = "A4"  # A4 | Letter
    on_site_date: Day | None = None
    go_live_date: Day | None = None
    work_starts: dt.time | None = None
    work_ends: dt.time | None = None
    work_days: tuple[str, ...] = ()  # "1" Monday … "7" Sunday, ISO 8601
    people_count: int | None = None
    scope: str = ""
    out_of_scope: str = ""
    way_in: str = ""
    joined: tuple[Id, ...] = ()  # other sites of the customer that a link joins to this one

    @property
    def live(self) -> bool:
        return self.purpose == "live"


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact(Record):
    kind: typing.ClassVar[str] = "contact"
    name: str = ""
    role: str = ""  # decision, keys, directory, network, supplier, pilot, technician
    phone: str = ""
    email: str = ""


# -- 2 Networks ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Network(Record):
    kind: typing.ClassVar[str] = "network"
    name: str = ""
    purpose: str = ""  # management, desktops, storage, clients, perimeter, remote
    vlan: int | None = None
    cidr: str = ""
    gateway: str = ""
    dhcp: str = ""  # none | range
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
    holding: str = ""  # fixed | reserved
    ipv6_address: str = ""


# -- 3 Hosts -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Host(Record):
    kind: typing.ClassVar[str] = "host"
    name: str = ""
    model: str = ""
    state: str = ""  # existing | to-buy | spare
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
    sharing: str = ""  # local | shared
    reached_by: str = ""  # how hosts reach a shared one: iscsi | nfs | direct
    host_id: Id | None = None  # whose disks these are, when local
    raid: str = ""  # 0, 1, 10, 5, 6
    disks: int | None = None
    disk_gb: float | None = None
    hot_spares: int | None = None
    disk_operations: float | None = None  # random operations a second a disk
    throughput_mb_s: float | None = None
    provisioning: str = ""  # thick | thin
    others_gib: float | None = None


# -- 4 Directory ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Directory(Record):
    kind: typing.ClassVar[str] = "directory"
    directory_kind: str = ""  # domain | own-accounts
    domain: str = ""
    netbios: str = ""
    desktop_ou: str = ""
    join_account: str = ""
    join_rights: str = ""  # join-only | more | full
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
    roles: tuple[str, ...] = ()  # directory, dns, dhcp, time, keys, files, print, logs, logs-tls


# -- 5 Service -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Service(Record):
    kind: typing.ClassVar[str] = "service"
    name: str = ""
    entry_name: str = ""
    network_id: Id | None = None
    address: str = ""
    address_origin: str = ""  # fixed | reserved | dynamic
    initial_secret_changed: bool | None = None
    disk_provisioning: str = ""  # thick | thin
    space_watcher: str = ""
    certificate: str = ""  # own | issued
    certificate_names: tuple[str, ...] = ()
    certificate_expires: Day | None = None
    agent_ports: tuple[str, ...] = ()  # "8443/tcp" …
    outside_access: str = ""  # none | vpn | gateway
    outside_device_id: Id | None = None  # the device that is the way in
    outside_ports: tuple[str, ...] = ()  # what it answers to from outside: "443/tcp" …
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
    bits: int | None = None  # 32 | 64
    support_ends: Day | None = None
    disk_gib: float | None = None
    used_gib: float | None = None
    activation: str = ""  # key-server, multiple-key, subscription, none
    remove_or_add: str = ""
    sealed_on: Day | None = None
    time_zone: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Application(Record):
    kind: typing.ClassVar[str] = "application"
    name: str = ""
    image_id: Id | None = None
    licensed_by: str = ""  # people, devices, at-once, hosts, free
    licences_held: int | None = None


# -- 7 Desktops and seating ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Template(Record):
    kind: typing.ClassVar[str] = "template"
    name: str = ""
    description: str = ""
    image_id: Id | None = None
    network_id: Id | None = None
    memory_gib: float | None = None
    vcpu: int | None = None
    most: int | None = None
    standby: int | None = None
    reset_rule: str = ""  # kept, sign-out, nightly, weekly
    name_prefix: str = ""
    name_digits: int | None = None
    growth_gib: float | None = None
    protocol_id: Id | None = None
    passes: tuple[str, ...] = ()  # clipboard, drives, printers, usb, sound
    profile_place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatGroup(Record):
    kind: typing.ClassVar[str] = "seatgroup"
    name: str = ""
    template_id: Id | None = None
    seat_kind: str = ""  # group, person, clients
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
    transport: str = ""  # tcp | udp | icmp
    ports: str = ""  # "443" or "5000-5010"


# -- 8, 10, 11: what people said about the plan --------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """An assumption's value here, when it is not the catalogue's."""

    key: str
    value: float
    origin: str = "house-rule"  # measured, supplier, house-rule, common-practice
    scope: str = "site"  # site | house
    note: str = ""
    set_on: Day | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The newest answer to one check. ``check`` is the check's full key (``key`` or ``key@anchor``)."""

    check: str
    state: str = "open"  # open, proven, trust, excused, failed
    by: str = ""
    at: dt.datetime | None = None
    proof: str = ""
    reopened: bool = False  # open again because the site turned live
    value: str | None = None  # what the plan's value was when it was given, "" for none; None: not kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """A gate that a lead signed; ``on_trust`` and ``excused`` are what the lead put the name to."""

    stage: int
    by: str
    at: dt.datetime
    on_trust: tuple[str, ...] = ()
    excused: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()
    fingerprint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptance:
    """A lead lives with a finding, for a reason and until a day. ``finding`` is the finding's token."""

    finding: str
    reason: str
    look_again: Day | None
    by: str
    at: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnCheck(Record):
    kind: typing.ClassVar[str] = "owncheck"
    name: str = ""  # what must be true
    stage: int = 1
    why: str = ""
    how: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Built(Record):
    """What was really built where it differs: ``target`` is an anchor, ``field`` its field."""

    kind: typing.ClassVar[str] = "built"
    target: str = ""
    field: str = ""
    value: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbour:
    """Another site of the same customer that a link joins to this one; of its networks only name, purpose and
    subnet are known here."""

    id: Id
    name: str = ""
    networks: tuple[Network, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SiteFacts:
    """Everything one site's plan says. ``today`` is the day the plan is looked at: no clock inside."""

    customer: str = ""
    customer_code: str = ""
    today: Day
    site: Site
    directory: Directory = field(default_factory=Directory)
    service: Service = field(default_factory=Service)
    contacts: tuple[Contact, ...] = ()
    networks: tuple[Network, ...] = ()
    devices: tuple[Device, ...] = ()
    hosts: tuple[Host, ...] = ()
    datastores: tuple[Datastore, ...] = ()
    servers: tuple[Server, ...] = ()
    appliances: tuple[Appliance, ...] = ()
    protocols: tuple[Protocol, ...] = ()
    credentials: tuple[Credential, ...] = ()
    images: tuple[Image, ...] = ()
    applications: tuple[Application, ...] = ()
    templates: tuple[Template, ...] = ()
    seat_groups: tuple[SeatGroup, ...] = ()
    flows: tuple[OwnFlow, ...] = ()
    own_checks: tuple[OwnCheck, ...] = ()
    built: tuple[Built, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    answers: tuple[Answer, ...] = ()
    signatures: tuple[Signature, ...] = ()
    acceptances: tuple[Acceptance, ...] = ()
    neighbours: tuple[Neighbour, ...] = ()

    def records(self) -> typing.Iterator[Record]:
        """Every record of the plan, chapter by chapter."""
        yield self.site
        for name in RECORD_FIELDS:
            value = getattr(self, name)
            if isinstance(value, tuple):
                yield from value
            else:
                yield value

    @functools.cached_property
    def index(self) -> dict[tuple[str, Id], Record]:
        """Every record by kind and id."""
        return {(record.kind, record.id): record for record in self.records()}

    def find(self, ref: Ref) -> Record | None:
        """The record a :class:`Ref` points at, or ``None``."""
        return self.index.get((ref.kind, ref.id))

    def named(self, kind: str, id: Id | None) -> str:
        """The label of a record, or "" when there is none."""
        found = self.index.get((kind, id)) if id is not None else None
        return found.label if found else ""


RECORD_FIELDS = (
    "contacts", "networks", "devices", "hosts", "datastores", "directory", "servers", "service",
    "appliances", "protocols", "credentials", "images", "applications", "templates", "seat_groups",
    "flows", "own_checks", "built",
)  # fmt: skip

RECORDS: dict[str, type[Record]] = {
    kind.kind: kind
    for kind in (
        Site, Contact, Network, Device, Host, Datastore, Directory, Server, Service, Appliance,
        Protocol, Credential, Image, Application, Template, SeatGroup, OwnFlow, OwnCheck, Built,
    )
}  # fmt: skip

KIND_WORDS = {
    "site": "site", "contact": "contact", "network": "network", "device": "device", "host": "host",
    "datastore": "datastore", "directory": "directory", "server": "server", "service": "service",
    "appliance": "appliance", "protocol": "display protocol", "credential": "credential",
    "image": "image", "application": "application", "template": "desktop template",
    "seatgroup": "seat group", "flow": "flow", "owncheck": "own check", "built": "built value",
}  # fmt: skip

# What people said about the plan is not the plan: it does not move the fingerprint.
# A neighbour is another site's plan.
NOT_PLANNED = ("today", "answers", "signatures", "acceptances", "built", "own_checks", "neighbours")


# -- Facts as JSON -------------------------------------------------------------------------------


@functools.cache
def _names(cls: typing.Hashable) -> tuple[str, ...]:
    """The names of a dataclass's fields; () of any other type."""
    return tuple(f.name for f in dataclasses.fields(typing.cast(type, cls))) if dataclasses.is_dataclass(cls) else ()


def _plain(value: typing.Any) -> typing.Any:
    if value is None or isinstance(value, str | int | float):
        return value
    names = _names(type(value))  # type: ignore[arg-type]  # a class is hashable
    if names:
        return {name: _plain(getattr(value, name)) for name in names}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return value


def to_json(facts: SiteFacts) -> dict:
    """Facts as plain JSON values; :func:`from_json` gives equal facts back."""
    return typing.cast(dict, _plain(facts))


def _typed(value: typing.Any, wanted: typing.Any) -> typing.Any:
    origin = typing.get_origin(wanted)
    if origin in (typing.Union, types.UnionType):
        if value is None:
            return None
        wanted = next(arg for arg in typing.get_args(wanted) if arg is not type(None))
        return _typed(value, wanted)
    if origin is tuple:
        return tuple(_typed(item, typing.get_args(wanted)[0]) for item in value)
    if dataclasses.is_dataclass(wanted):
        return _build(typing.cast(type, wanted), value)
    if wanted in (dt.date, dt.time, dt.datetime):
        return wanted.fromisoformat(value)
    return value


@functools.cache
def _hints(cls: type) -> dict[str, typing.Any]:
    hints = typing.get_type_hints(cls)
    return {f.name: hints[f.name] for f in dataclasses.fields(cls)}


def _build(cls: type, values: dict) -> typing.Any:
    hints = _hints(cls)
    return cls(**{name: _typed(values[name], hints[name]) for name in hints if name in values})


def from_json(values: dict) -> SiteFacts:
    """Facts from what :func:`to_json` gave; fields that are not known any more are passed over."""
    return _build(SiteFacts, values)


_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # no I, L, O, U: they are misread on paper


def _filled(value: typing.Any) -> typing.Any:
    """JSON values without the keys that hold nothing."""
    if isinstance(value, dict):
        return {key: _filled(inner) for key, inner in value.items() if inner is not None and inner not in ("", [])}
    return [_filled(inner) for inner in value] if isinstance(value, list) else value


def fingerprint(facts: SiteFacts) -> str:
    """The plan's short code, as ``7KQ2-M9XD``: it changes when any planned value changes.

    Forty bits of the SHA-256 of the plan's canonical JSON. Answers, signatures, acceptances and
    the day it is looked at are not part of it; a record's database id is, so that two records
    with equal values are told apart. What nobody has filled in is left out, so that a field that a
    later release adds moves no code before somebody fills it in.
    """
    plan = {key: value for key, value in to_json(facts).items() if key not in NOT_PLANNED}
    text = json.dumps(_filled(plan), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    content = text.encode("utf-8", "surrogatepass")  # a lone surrogate is no reason to be without a code
    number = int.from_bytes(hashlib.sha256(content).digest()[:5], "big")
    code = "".join(_LETTERS[(number >> shift) & 31] for shift in range(35, -1, -5))
    return f"{code[:4]}-{code[4:]}"
