"""2 Networks."""

from planner.record import units
from planner.record.chapters.base import NOTE, Chapter, Field, Section

PURPOSES = {
    "management": "management",
    "desktops": "desktops",
    "storage": "storage",
    "clients": "client LAN",
    "perimeter": "perimeter",
    "remote": "remote link",
}
DHCP = {"none": "no DHCP", "range": "a range"}
HOLDINGS = {"fixed": "fixed", "reserved": "reserved"}

NETWORKS = Section(
    number="2.1",
    title="Networks",
    kind="network",
    slug="networks",
    one="network",
    counts=("name", "purpose", "cidr", "gateway", "dhcp"),
    what="Every subnet the desktops, their hosts and the people's own devices use.",
    why="Addresses, DHCP leases and firewall rules all follow from these lines.",
    who="Whoever runs the switch and the firewall.",
    fields=(
        Field("name", "Name", ledger=True, example="desktops"),
        Field("purpose", "Purpose", "choice", choices=PURPOSES, ledger=True),
        Field(
            "vlan",
            "VLAN",
            "whole",
            low=0,
            high=4095,
            ledger=True,
            hint="IEEE 802.1Q, 1 to 4094.",
            example="40",
        ),
        Field(
            "cidr",
            "Subnet",
            "prefix",
            ledger=True,
            hint="In CIDR notation.",
            example="10.44.1.0/24",
        ),
        Field("gateway", "Gateway", "address", ledger=True, example="10.44.1.1"),
        Field("dhcp", "DHCP", "choice", choices=DHCP, ledger=True),
        Field(
            "dhcp_first",
            "First address of the range",
            "address",
            group="DHCP",
            example="10.44.1.100",
        ),
        Field(
            "dhcp_last", "Last address of the range", "address", group="DHCP", example="10.44.1.240"
        ),
        Field(
            "lease_minutes",
            "Lease time",
            "length",
            unit="",
            units=units.MINUTES,
            low=1,
            high=5_256_000,
            group="DHCP",
            hint="With its unit: 8 h, 1 day.",
            example="1 day",
        ),
        Field(
            "dhcp_server",
            "DHCP server",
            group="DHCP",
            hint="Which machine hands out the leases.",
            example="dc-1",
        ),
        Field(
            "other_dhcp_clients",
            "Other DHCP clients",
            "whole",
            low=0,
            high=16_777_216,
            group="DHCP",
            hint="Counted: telephones, printers, guests on the same range.",
        ),
        Field(
            "dns_servers",
            "DNS servers",
            "addresses",
            group="Names",
            hint="Addresses, separated by commas.",
            example="10.44.1.5, 10.44.1.6",
        ),
        Field("domain_suffix", "Domain suffix", group="Names", example="corp.larkfield.example"),
        Field(
            "link_mbit_s",
            "Link rate",
            "number",
            unit="Mbit/s",
            units=units.LINE_MBIT_S,
            low=0,
            high=10_000_000,
            group="Line",
            hint="Of the slowest link between this network and the hosts.",
            example="1 Gbit/s",
        ),
        Field(
            "mtu", "MTU", "whole", unit="bytes", low=68, high=65_535, group="Line", example="1500"
        ),
        Field(
            "reaches",
            "Reaches without a firewall",
            "records",
            to="network",
            group="Line",
            hint="Networks it can talk to with nothing in between.",
        ),
        Field("ipv6_prefix", "IPv6 prefix", "prefix6", group="Line", example="2001:db8:44:1::/64"),
        NOTE,
    ),
)
DEVICES = Section(
    number="2.2",
    title="Other devices with an address",
    kind="device",
    slug="devices",
    one="device",
    counts=("name", "network_id", "address"),
    what="Printers, switches, cameras, telephone systems: whatever else holds an address on these networks.",
    why="An address that nobody wrote down is the one you will hand out twice.",
    who="Whoever runs the network; the lease list of the DHCP server.",
    fields=(
        Field("name", "Name", ledger=True, example="printer-1"),
        Field("what", "What it is", ledger=True, example="printer, ground floor"),
        Field("network_id", "Network", "record", to="network", ledger=True),
        Field("address", "Address", "address", ledger=True, example="10.44.1.60"),
        Field("mac", "MAC", "mac", ledger=True, example="00:00:5e:00:53:3c"),
        Field(
            "holding",
            "Held",
            "choice",
            choices=HOLDINGS,
            ledger=True,
            hint="Set on the device, or reserved at the DHCP server.",
        ),
        Field("ipv6_address", "IPv6 address", "address6", group="More"),
        NOTE,
    ),
)
CHAPTER = Chapter(
    2,
    "networks",
    "Networks",
    "The subnets, what hands out their addresses, and who else lives on them.",
    (NETWORKS, DEVICES),
)
