"""5 Service."""

from planner.record import kinds, units
from planner.record.chapters.base import NOTE, Chapter, Field, Section
from planner.record.chapters.hosts import PROVISIONING

ORIGINS = {"fixed": "fixed", "reserved": "reserved at the DHCP server", "dynamic": "dynamic"}
CERTIFICATES = {"own": "its own (self-signed)", "issued": "issued by an authority"}
OUTSIDE = {"none": "none", "vpn": "through a VPN", "gateway": "through a gateway"}

SERVICE = Section(
    number="5.1",
    title="The desktop service",
    kind="service",
    single=True,
    slug="service",
    one="service",
    counts=(
        "name",
        "entry_name",
        "network_id",
        "address",
        "address_origin",
        "initial_secret_changed",
        "backup_place",
    ),
    fields=(
        Field(
            "name",
            "Name",
            hint="What your team calls this service.",
            example="Mill Street desktops",
        ),
        Field(
            "entry_name",
            "Entry name",
            hint="The name people type to get a desktop.",
            example="desk.larkfield.example",
        ),
        Field("network_id", "Network", kinds.RECORD, to="network"),
        Field("address", "Address", kinds.ADDRESS, example="10.44.1.30"),
        Field(
            "address_origin",
            "The address is",
            kinds.CHOICE,
            choices=ORIGINS,
            hint="A dynamic address that moves takes every desktop with it.",
        ),
        Field(
            "initial_secret_changed",
            "The supplier's initial password is changed",
            kinds.YES_NO,
            hint="Whether, never to what.",
        ),
        Field("disk_provisioning", "Appliance disks are made", kinds.CHOICE, choices=PROVISIONING),
        Field(
            "space_watcher",
            "Who watches the space",
            hint="Thin disks fill up silently: name who looks, and how often.",
        ),
        Field("outside_access", "Access from outside", kinds.CHOICE, choices=OUTSIDE),
        Field(
            "outside_device_id",
            "The way in from outside",
            kinds.RECORD,
            to="device",
            hint="The gateway or the VPN's end: one of the devices in 2.2.",
        ),
        Field(
            "outside_ports",
            "Ports it answers to from outside",
            kinds.PORTS,
            hint="From its supplier's papers. Never a display port.",
            example="443/tcp",
        ),
        Field(
            "agent_ports",
            "Ports of the desktop agent",
            kinds.PORTS,
            hint="Port and transport, separated by commas.",
            example="8443/tcp, 9000-9010/udp",
        ),
        Field(
            "backup_place",
            "Where its configuration is backed up",
            example="backup share, every night",
        ),
        NOTE,
    ),
)
CERTIFICATE = Section(
    number="5.2",
    title="Certificate",
    kind="service",
    single=True,
    slug="certificate",
    one="service",
    counts=("certificate", "certificate_names", "certificate_expires"),
    fields=(
        Field("certificate", "Certificate", kinds.CHOICE, choices=CERTIFICATES),
        Field(
            "certificate_names",
            "Names it covers",
            kinds.NAMES,
            hint="Separated by commas; it must cover the entry name.",
            example="desk.larkfield.example",
        ),
        Field("certificate_expires", "Expires", kinds.DATE, example="30 Nov 2027"),
    ),
)
APPLIANCES = Section(
    number="5.3",
    title="Appliances",
    kind="appliance",
    slug="appliances",
    one="appliance",
    counts=("name", "host_id", "network_id", "address", "memory_gib", "disk_gib"),
    what="The broker virtual machines that act as one service, each on a host.",
    why="They take memory and disk from the desktops, and each needs an address that nothing else claims.",
    who="The appliance supplier's sizing sheet.",
    fields=(
        Field("name", "Name", ledger=True, example="broker-1"),
        Field("host_id", "On host", kinds.RECORD, to="host", ledger=True),
        Field("network_id", "Network", kinds.RECORD, to="network", ledger=True),
        Field("address", "Address", kinds.ADDRESS, ledger=True, example="10.44.1.31"),
        Field("vcpu", "vCPU", kinds.WHOLE, low=0, high=1024, ledger=True, example="4"),
        Field(
            "memory_gib",
            "Memory",
            kinds.NUMBER,
            unit="GiB",
            units=units.MEMORY_GIB,
            low=0,
            high=65_536,
            ledger=True,
            example="8",
        ),
        Field(
            "disk_gib",
            "Disk",
            kinds.NUMBER,
            unit="GiB",
            units=units.MEMORY_GIB,
            low=0,
            high=1_048_576,
            ledger=True,
            example="60",
        ),
        Field("datastore_id", "Datastore", kinds.RECORD, to="datastore", group="More"),
        Field("mac", "MAC", kinds.MAC, group="More"),
        Field("ipv6_address", "IPv6 address", kinds.ADDRESS6, group="More"),
        NOTE,
    ),
)
PROTOCOLS = Section(
    number="5.4",
    title="Display protocols",
    kind="protocol",
    slug="protocols",
    one="display protocol",
    counts=("name", "tcp_port"),
    what="How a desktop's picture reaches the person: RDP, or another one with its ports.",
    why="Its ports must pass every firewall between people and desktops.",
    who="The service's supplier.",
    fields=(
        Field("name", "Name", ledger=True, example="RDP"),
        Field("tcp_port", "TCP port", kinds.WHOLE, low=1, high=65_535, ledger=True, example="3389"),
        Field("udp_port", "UDP port", kinds.WHOLE, low=1, high=65_535, ledger=True, example="3389"),
        NOTE,
    ),
)
CREDENTIALS = Section(
    number="5.5",
    title="Credentials",
    kind="credential",
    slug="credentials",
    one="credential",
    counts=("name", "account", "privilege", "where_kept", "who_can_fetch"),
    what="Whose account it is, what it may do, where its secret is kept and who can fetch it. Never the secret itself.",
    why="On the day somebody must be able to fetch every one of them, and afterwards each must have been changed.",
    who="The administrators of the hypervisor, the directory and the service.",
    fields=(
        Field("name", "For", ledger=True, example="hypervisor administrator"),
        Field(
            "account",
            "Account",
            ledger=True,
            hint="The account's name, never its password.",
            example="root",
        ),
        Field(
            "privilege",
            "May",
            ledger=True,
            hint="What the account is allowed to do.",
            example="everything on the hosts",
        ),
        Field(
            "where_kept", "Secret kept in", ledger=True, example="sealed envelope 3, office safe"
        ),
        Field("who_can_fetch", "Who can fetch it", ledger=True, example="A. Marsh"),
        Field("last_changed", "Last changed", kinds.DATE, group="Age"),
        Field("still_initial", "Still the supplier's initial secret", kinds.YES_NO, group="Age"),
        NOTE,
    ),
)
CHAPTER = Chapter(
    5,
    "service",
    "Service",
    "What people sign in to: its name, its address, the appliances behind it and who holds its keys.",
    (SERVICE, CERTIFICATE, APPLIANCES, PROTOCOLS, CREDENTIALS),
)
