"""Facts with anything in the fields that addressing, leases and naming read: what people type, and nonsense."""

from __future__ import annotations

from hypothesis import strategies as st

from planner.record import facts as f
from tests.factories import TODAY

IDS = st.integers(1, 4)
MAYBE_ID = st.none() | IDS | st.just(99)
WHOLE = st.none() | st.integers(-5, 300) | st.sampled_from([0, 1, 4095, 100_000, 10**9, 10**18])
NUMBER = st.none() | st.floats() | st.sampled_from([0.0, 0.1, 2.0, 1e300])
ODD = st.sampled_from(
    [
        "",
        " ",
        ".",
        "-",
        "1.2.3",
        "1.2.3.4.5",
        "256.0.0.1",
        "01.2.3.4",
        "١.2.3.4",
        "::1",
        "{x}",
        "\0",
        "%s",
    ]
)
ADDRESS = (
    ODD
    | st.builds("10.44.{}.{}".format, st.integers(0, 3), st.integers(0, 255))
    | st.text(max_size=8)
)
ADDRESS |= st.sampled_from(["0.0.0.0", "255.255.255.255", "169.254.1.1", "224.0.0.1", "172.32.0.1"])
PREFIX = ODD | st.builds(
    "10.44.{}.{}/{}".format, st.integers(0, 3), st.integers(0, 255), st.integers(20, 33)
)
PREFIX |= st.sampled_from(
    ["0.0.0.0/0", "10.0.0.0/8", "192.168.1.0/32", "169.254.0.0/16", "10.0.0.0/-1", "10.0.0.0/08"]
)
ADDRESS6 = st.sampled_from(
    ["", "2001:db8::1", "2001:DB8:0::1", "fe80::1%eth0", "::", "2001:db8::/64", "x"]
)
PREFIX6 = st.sampled_from(["", "2001:db8::/64", "2001:db8::1/64", "::/0", "x/y"])
MAC = st.sampled_from(["", "00:00:5e:00:53:01", "00-00-5E-00-53-01", "0000.5e00.5301", "zz"])
NAME = st.sampled_from(
    [
        "",
        "a",
        "fd-",
        "FD-",
        "fd-0",
        "fd-01",
        "fd-001",
        "-",
        "1",
        "01",
        "fd-1.corp.example",
        "İ",
        "{0}",
    ]
)
NAME |= st.text(max_size=12)
DN = st.sampled_from(
    ["OU=a,DC=b", "OU=a+CN=b", "OU=", "=", "OU=\\", "OU=\\C4", "OU=#0", "OU=a,", ",", "OU=a, DC=b"]
)
DN |= st.text(alphabet='OUDC=,+\\ #"aé0', max_size=14)
RULES = st.sampled_from(["", "kept", "sign-out", "nightly", "weekly", "other"])


def many(builder, size: int = 4):
    return st.lists(builder, max_size=size).map(tuple)


NETWORK = st.builds(
    f.Network,
    id=IDS,
    name=NAME,
    purpose=st.sampled_from(["", "desktops", "storage", "perimeter"]),
    vlan=WHOLE,
    cidr=PREFIX,
    gateway=ADDRESS,
    dhcp=st.sampled_from(["", "none", "range", "x"]),
    dhcp_first=ADDRESS,
    dhcp_last=ADDRESS,
    lease_minutes=WHOLE,
    dhcp_server=ADDRESS,
    other_dhcp_clients=WHOLE,
    dns_servers=many(ADDRESS, 2),
    domain_suffix=NAME,
    link_mbit_s=NUMBER,
    mtu=WHOLE,
    reaches=many(IDS, 2),
    ipv6_prefix=PREFIX6,
)
HOST = st.builds(
    f.Host,
    id=IDS,
    name=NAME,
    network_id=MAYBE_ID,
    address=ADDRESS,
    out_of_band_address=ADDRESS,
    mac=MAC,
    ipv6_address=ADDRESS6,
    management_name=NAME,
    time_source=ADDRESS,
)
SERVER = st.builds(
    f.Server,
    id=IDS,
    name=NAME,
    network_id=MAYBE_ID,
    address=ADDRESS,
    mac=MAC,
    ipv6_address=ADDRESS6,
    roles=many(st.sampled_from(["directory", "dns", "x"]), 2),
)
APPLIANCE = st.builds(
    f.Appliance,
    id=IDS,
    name=NAME,
    network_id=MAYBE_ID,
    address=ADDRESS,
    mac=MAC,
    ipv6_address=ADDRESS6,
)
DEVICE = st.builds(
    f.Device,
    id=IDS,
    name=NAME,
    what=NAME,
    network_id=MAYBE_ID,
    address=ADDRESS,
    mac=MAC,
    ipv6_address=ADDRESS6,
    holding=st.sampled_from(["", "fixed", "reserved"]),
)
SERVICE = st.builds(
    f.Service,
    id=IDS,
    network_id=MAYBE_ID,
    address=ADDRESS,
    entry_name=NAME,
    address_origin=st.sampled_from(["", "fixed", "reserved", "dynamic"]),
)
DIRECTORY = st.builds(
    f.Directory,
    id=IDS,
    directory_kind=st.sampled_from(["", "domain", "own-accounts"]),
    domain=NAME,
    netbios=NAME,
    desktop_ou=DN,
    time_source=ADDRESS,
)
TEMPLATE = st.builds(
    f.Template,
    id=IDS,
    name=NAME,
    network_id=MAYBE_ID,
    most=WHOLE,
    reset_rule=RULES,
    name_prefix=NAME,
    name_digits=WHOLE,
)
GROUP = st.builds(
    f.SeatGroup, id=IDS, name=NAME, template_id=MAYBE_ID, people=WHOLE, sign_ins_a_day=NUMBER
)


def by_id(records) -> tuple:
    """A record's id is its own: two of a kind never share one."""
    return tuple({record.id: record for record in records}.values())


FACTS = st.builds(
    f.SiteFacts,
    today=st.just(TODAY),
    site=st.builds(f.Site, purpose=st.sampled_from(["trial", "live"])),
    directory=DIRECTORY,
    service=SERVICE,
    networks=many(NETWORK).map(by_id),
    devices=many(DEVICE).map(by_id),
    hosts=many(HOST, 3).map(by_id),
    servers=many(SERVER, 3).map(by_id),
    appliances=many(APPLIANCE, 3).map(by_id),
    templates=many(TEMPLATE).map(by_id),
    seat_groups=many(GROUP).map(by_id),
)
