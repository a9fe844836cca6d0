"""Zone files and the hosts file: read back by other programs, and what is left out."""

from __future__ import annotations

import dataclasses
import datetime as dt
import getpass
import io
import ipaddress
import re
import socket
import subprocess
import time
import zipfile

import dns.message
import dns.query
import dns.reversename
import dns.zone
import pytest

from planner.papers.configs import CONFIGS, Edition
from planner.papers.configs.zone_text import serial
from planner.plan import Plan
from planner.record import facts as f
from tests.factories import site_facts
from tests.papers.config_checkers import (
    EDITION,
    accepted,
    config,
    reasons,
    zone_files,
    zone_records,
)
from tests.papers.demo_facts import PLANNED, SITES, demo
from tests.programs import program, run

DOMAIN = "corp.larkfield.example"
CORE = f.Network(id=1, name="core", cidr="10.44.1.0/24", domain_suffix=DOMAIN, gateway="10.44.1.1")
DC = f.Server(id=1, name="dc-1", network_id=1, address="10.44.1.5", roles=("dns", "directory"))
DIRECTORY = f.Directory(id=1, domain=DOMAIN)
SERVICE = f.Service(
    id=1, name="desks", entry_name="desk.larkfield.example", network_id=1, address="10.44.1.30"
)


def zones(*records: f.Record):
    return config("zones", site_facts(DC, DIRECTORY, *records))


@pytest.mark.parametrize("name", SITES)
def test_the_checker_accepts_the_demo_sites(name, tmp_path):
    made = config("zones", demo(name))
    assert len(zone_files(made)) > 3 or name not in PLANNED
    accepted("zones", made, tmp_path)


@pytest.mark.parametrize("name", ["mill", "large"])
def test_every_machine_is_found_by_name_and_by_address(name):
    facts = demo(name)
    found = zone_records(config("zones", facts))
    whole = set().union(*found.values())
    machines = (*facts.hosts, *facts.servers, *facts.appliances, *facts.devices)
    assert len(machines) > 7
    for machine in machines:
        fqdn = f"{machine.name}.{facts.directory.domain}"
        assert (fqdn, "A", machine.address) in whole
        # Source: the dnspython library
        reverse = str(dns.reversename.from_address(machine.address)).rstrip(".")
        assert [record for record in whole if record[0] == reverse] == [(reverse, "PTR", fqdn)]
    assert len(whole) == 2 * len(machines) + 2  # and the entry, both ways


def test_the_entry_name_has_a_zone_of_its_own():
    """So that it shadows no other name of a domain that somebody else answers for."""
    found = zone_records(zones(CORE, SERVICE))
    assert found["desk.larkfield.example"] == {("desk.larkfield.example", "A", "10.44.1.30")}
    assert "larkfield.example" not in found


def test_an_entry_name_within_the_plans_domain_stands_there():
    inside = dataclasses.replace(SERVICE, entry_name=f"desk.{DOMAIN}")
    found = zone_records(zones(CORE, inside))
    assert (f"desk.{DOMAIN}", "A", "10.44.1.30") in found[DOMAIN]
    assert set(found) == {DOMAIN, "1.44.10.in-addr.arpa"}


def test_the_appliances_own_name_is_the_addresss_name():
    broker = f.Appliance(id=2, name="broker-1", network_id=1, address="10.44.1.30")
    found = zone_records(zones(CORE, SERVICE, broker))
    pointers = {record for record in found["1.44.10.in-addr.arpa"] if record[0].startswith("30.")}
    assert pointers == {("30.1.44.10.in-addr.arpa", "PTR", f"broker-1.{DOMAIN}")}
    assert found["desk.larkfield.example"] == {("desk.larkfield.example", "A", "10.44.1.30")}


def test_a_host_is_known_by_its_management_name():
    host = f.Host(
        id=3, name="mill-h1", management_name=f"hv-1.{DOMAIN}", network_id=1, address="10.44.1.11"
    )
    found = zone_records(zones(CORE, host))[DOMAIN]
    assert (f"hv-1.{DOMAIN}", "A", "10.44.1.11") in found
    assert not any("mill-h1" in record[0] for record in found)


# -- reverse zones ---------------------------------------------------------------------------------


def test_the_worked_example_of_the_standard(tmp_path):
    """Source: RFC 2317 section 3: 192.0.2.0/25, 192.0.2.128/26 and 192.0.2.192/26, with hosts 1, 129 and 193."""
    parts = {"192.0.2.0/25": 1, "192.0.2.128/26": 129, "192.0.2.192/26": 193}
    records: list[f.Record] = []
    for number, (cidr, host) in enumerate(parts.items(), 5):
        records.append(f.Network(id=number, name=f"part-{number}", cidr=cidr))
        records.append(
            f.Device(id=number, name=f"host-{host}", network_id=number, address=f"192.0.2.{host}")
        )
    made = zones(CORE, *records)
    accepted("zones", made, tmp_path)
    found = zone_records(made)
    # Section 4 names these 0/25, 128/26 and 192/26 and advises a hyphen where a slash does harm.
    for label, host in (("0-25", 1), ("128-26", 129), ("192-26", 193)):
        name = f"{label}.2.0.192.in-addr.arpa"
        assert found[name] == {(f"{host}.{name}", "PTR", f"host-{host}.{DOMAIN}")}
    parent = parent_of(made, "2.0.192.in-addr.arpa", tmp_path)
    for host, label in (
        (1, "0-25"),
        (126, "0-25"),
        (129, "128-26"),
        (190, "128-26"),
        (193, "192-26"),
        (254, "192-26"),
    ):
        [alias] = parent.find_rdataset(f"{host}.2.0.192.in-addr.arpa.", "CNAME")
        assert str(alias) == f"{host}.{label}.2.0.192.in-addr.arpa."
    for host in (0, 127, 128, 191, 192, 255):  # networks' own and broadcast addresses
        assert parent.get_node(f"{host}.2.0.192.in-addr.arpa.") is None
    assert {
        str(server) for server in parent.find_rdataset("128-26.2.0.192.in-addr.arpa.", "NS")
    } == {f"dc-1.{DOMAIN}."}


def parent_of(made, name: str, folder) -> dns.zone.Zone:
    """The zone above, made of the records that our files' comments ask for, as the checker reads it."""
    asked = [
        line[1:].strip()
        for text in zone_files(made).values()
        for line in text.splitlines()
        if is_asked(line)
    ]
    path = folder / "parent"
    head = [
        f"$ORIGIN {name}.",
        "$TTL 60",
        "@ IN SOA ns.example. x.example. 1 60 60 600 60",
        "@ IN NS ns.example.",
    ]
    path.write_text("\n".join([*head, *asked]) + "\n")
    answer = run("named-checkzone", "-i", "local", "-k", "fail", "-D", "-o", "-", name, path)
    assert answer.returncode == 0, answer.stdout + answer.stderr
    zone = "\n".join(
        line for line in answer.stdout.splitlines() if re.match(r"\S+\s+\d+\s+IN\s", line)
    )
    return dns.zone.from_text(zone, origin=name, relativize=False)


def is_asked(line: str) -> bool:
    """Whether a comment of a zone asks for a record in the zone above."""
    return bool(re.match(r";   (\$GENERATE \S+ |\S+ +IN NS )", line))


@pytest.mark.parametrize(
    ("cidr", "expected"),
    [
        ("10.44.2.0/24", ["2.44.10.in-addr.arpa"]),
        ("10.45.0.0/16", ["45.10.in-addr.arpa"]),
        ("11.0.0.0/8", ["11.in-addr.arpa"]),
        ("10.44.4.0/22", [f"{n}.44.10.in-addr.arpa" for n in range(4, 8)]),
        ("172.16.0.0/14", [f"{n}.172.in-addr.arpa" for n in range(16, 20)]),
        ("10.44.2.4/30", ["4-30.2.44.10.in-addr.arpa"]),
        ("10.44.2.4/31", ["4-31.2.44.10.in-addr.arpa"]),
        ("10.44.2.9/32", ["9-32.2.44.10.in-addr.arpa"]),
        ("10.44.2.77/26", ["64-26.2.44.10.in-addr.arpa"]),  # host bits are cleared
    ],
)
def test_zones_of_a_subnet(cidr, expected, tmp_path):
    made = zones(CORE, f.Network(id=2, name="other", cidr=cidr))
    accepted("zones", made, tmp_path)
    assert [
        name for name in zone_files(made) if name not in (DOMAIN, "1.44.10.in-addr.arpa")
    ] == expected


def test_of_many_zones_only_those_with_a_name_are_written(tmp_path):
    network = f.Network(id=2, name="wide", cidr="10.64.0.0/12")
    device = f.Device(id=2, name="far", network_id=2, address="10.70.3.4")
    made = zones(CORE, network, device)
    accepted("zones", made, tmp_path)
    found = zone_records(made)
    assert found["70.10.in-addr.arpa"] == {("4.3.70.10.in-addr.arpa", "PTR", f"far.{DOMAIN}")}
    assert not {"64.10.in-addr.arpa", "71.10.in-addr.arpa"} & set(found)
    assert "16 zones hold it" in zone_files(made)["70.10.in-addr.arpa"]


@pytest.mark.parametrize(
    ("prefix", "address", "zone"),
    [
        # Source: RFC 3596 section 2.5: nibbles reversed under ip6.arpa
        ("2001:db8:44:1::/64", "2001:db8:44:1::5", "1.0.0.0.4.4.0.0.8.b.d.0.1.0.0.2.ip6.arpa"),
        ("2001:db8:44::/48", "2001:db8:44:1::5", "4.4.0.0.8.b.d.0.1.0.0.2.ip6.arpa"),
        ("2001:db8:44:0::/62", "2001:db8:44:3::5", "3.0.0.0.4.4.0.0.8.b.d.0.1.0.0.2.ip6.arpa"),
        (
            "2001:db8::5/128",
            "2001:db8::5",
            str(dns.reversename.from_address("2001:db8::5")).rstrip("."),
        ),
    ],
)
def test_ipv6_names_both_ways(prefix, address, zone, tmp_path):
    network = dataclasses.replace(CORE, ipv6_prefix=prefix)
    server = dataclasses.replace(DC, ipv6_address=address)
    made = config("zones", site_facts(network, server, DIRECTORY))
    accepted("zones", made, tmp_path)
    found = zone_records(made)
    assert (f"dc-1.{DOMAIN}", "AAAA", address) in found[DOMAIN]
    reverse = str(dns.reversename.from_address(address)).rstrip(
        "."
    )  # Source: the dnspython library
    assert found[zone] == {(reverse, "PTR", f"dc-1.{DOMAIN}")}


def test_a_zone_below_another_is_handed_over(tmp_path):
    above = dataclasses.replace(CORE, domain_suffix="larkfield.example")
    records = (
        above,
        f.Network(id=2, name="desks", cidr="10.44.2.0/24", domain_suffix=DOMAIN),
        f.Server(id=2, name="dc-2", network_id=2, address="10.44.2.5", roles=("dns",)),
    )
    made = zones(*records)
    accepted("zones", made, tmp_path)
    zone = dns.zone.from_text(
        zone_files(made)["larkfield.example"], "larkfield.example", relativize=False
    )
    handed = {str(server) for server in zone.find_rdataset(f"{DOMAIN}.", "NS")}
    assert handed == {"dc-1.larkfield.example.", f"dc-2.{DOMAIN}."}
    assert [str(one) for one in zone.find_rdataset(f"dc-2.{DOMAIN}.", "A")] == ["10.44.2.5"]  # glue


def test_serials_rise_with_the_revision_and_fit():
    # Source: RFC 1912 section 2.2: YYYYMMDDnn; RFC 1035 section 3.3.13: 32 bits
    day = dt.date(2027, 1, 14)
    found = [serial(day, letters) for letters in ("", "A", "B", "Z", "AA", "ZZZZ")]
    assert found == [2027011400, 2027011401, 2027011402, 2027011426, 2027011427, 2027011499]
    assert serial(dt.date.max, "") == 2**32 - 1
    assert serial(day + dt.timedelta(1), "") > found[-1]


# -- what cannot be said ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("record", "why"),
    [
        (f.Host(id=2, name="bench_host", network_id=1, address="10.44.1.9"), "letters or signs"),
        (
            f.Device(id=2, name="printer, hall", network_id=1, address="10.44.1.9"),
            "letters or signs",
        ),
        (f.Device(id=2, name="gerät", network_id=1, address="10.44.1.9"), "letters or signs"),
        (
            f.Device(id=2, name="-a", network_id=1, address="10.44.1.9"),
            "starts or ends with a hyphen",
        ),
        (f.Device(id=2, name="x" * 64, network_id=1, address="10.44.1.9"), "too long"),
        (
            f.Device(id=2, name="10.44.1.9", network_id=1, address="10.44.1.9"),
            "its name is an address",
        ),
        (
            f.Device(id=2, name="9.1.44.10.in-addr.arpa", network_id=1, address="10.44.1.9"),
            "names of addresses",
        ),
        (f.Device(id=2, network_id=1, address="10.44.1.9"), "it has no name"),
        (f.Device(id=2, name="later", network_id=1), "it has no address"),
        (
            f.Device(id=2, name="astray", network_id=1, address="10.44.2.9"),
            "it lies outside its own network",
        ),
        (f.Device(id=2, name="odd", network_id=1, address="10.44.1.255"), "broadcast address"),
        (f.Device(id=2, name="odd", network_id=1, address="169.254.1.2"), "link-local"),
        (f.Device(id=2, name="odd", address="127.0.0.1"), "no ordinary network"),
        (
            f.Device(id=2, name="twin", network_id=1, address="10.44.1.5"),
            "claimed more than once, by dc-1 and twin",
        ),
        (
            f.Device(id=2, name="six", network_id=1, ipv6_address="fe80::1"),
            "none that other networks can reach",
        ),
        (f.Device(id=2, name="alone", address="172.20.0.1"), "lies in no subnet of the plan"),
        (
            f.Device(id=2, name="a.elsewhere.example", network_id=1, address="10.44.1.9"),
            "none of the plan's domains",
        ),
        (dataclasses.replace(SERVICE, address=""), "the service's address is not recorded"),
        (dataclasses.replace(SERVICE, address_origin="dynamic"), "would go astray"),
        (dataclasses.replace(SERVICE, entry_name="desk bench"), "letters or signs"),
    ],
)
def test_what_is_left_out_is_told(record, why, tmp_path):
    made = zones(CORE, record)
    accepted("zones", made, tmp_path)
    assert why in reasons(made)
    assert not any(problem.at is None for problem in made.problems)
    name = getattr(record, "entry_name", "") or record.name or "10.44.1.9"
    if why not in ("lies in no subnet of the plan", "claimed more than once, by dc-1 and twin"):
        assert not any(
            name in str(records)
            for zone, records in zone_records(made).items()
            if "arpa" not in zone
        )


def test_a_name_of_two_machines_is_left_out_twice():
    twins = [f.Device(id=n, name="printer", network_id=1, address=f"10.44.1.{n}") for n in (60, 61)]
    made = zones(CORE, *twins)
    assert reasons(made).count("several machines have that name") == 2
    assert "printer" not in str(zone_records(made)[DOMAIN])


def test_an_ipv6_address_outside_its_prefix_is_left_out():
    network = dataclasses.replace(CORE, ipv6_prefix="2001:db8:44:1::/64")
    server = dataclasses.replace(DC, ipv6_address="2001:db8:44:2::5")
    made = config("zones", site_facts(network, server, DIRECTORY))
    assert "outside its network's prefix 2001:db8:44:1::/64" in reasons(made)
    assert "AAAA" not in str(zone_records(made))


def test_without_a_name_server_no_zone_can_be_written():
    made = config(
        "zones", site_facts(CORE, DIRECTORY, dataclasses.replace(DC, roles=("directory",)))
    )
    assert list(made.files) == ["read-first.txt"]
    assert "no server that answers for DNS" in reasons(made)


def test_the_directorys_own_zone_is_never_to_be_replaced():
    texts = zone_files(zones(CORE, SERVICE))
    assert "never load this file there" in texts[DOMAIN].replace("\n; ", " ")
    assert "never load this file there" not in texts["desk.larkfield.example"].replace("\n; ", " ")


def test_the_archive_holds_every_zone_and_is_the_same_each_time():
    plan, kind = Plan(demo("mill")), CONFIGS["zones"]
    made = kind.make(plan, EDITION)
    packed = kind.packed(made, EDITION)
    assert packed == kind.packed(kind.make(Plan(demo("mill")), EDITION), EDITION)
    assert len(packed) < sum(map(len, made.files.values()))
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        assert {info.external_attr >> 16 for info in archive.infolist()} == {0o644}
        assert {name: archive.read(name).decode() for name in archive.namelist()} == made.files
        assert "forward/corp.larkfield.example.zone" in made.files
    assert kind.packed(made, Edition(dt.date.min)) and kind.packed(made, Edition(dt.date.max))


# -- the hosts file --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SITES)
def test_every_line_of_a_hosts_file_is_one(name, tmp_path):
    accepted("hosts", config("hosts", demo(name)), tmp_path)


def test_a_name_server_answers_from_the_hosts_file(tmp_path):
    """dnsmasq reads the file as every machine does, and answers for it."""
    network = dataclasses.replace(CORE, ipv6_prefix="2001:db8:44:1::/64")
    server = dataclasses.replace(DC, ipv6_address="2001:db8:44:1::5")
    made = config("hosts", site_facts(network, server, DIRECTORY, SERVICE))
    path = tmp_path / "hosts"
    path.write_text(made.text)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [
        program("dnsmasq"),
        "--keep-in-foreground",
        "--conf-file=/dev/null",
        "--no-resolv",
        "--no-hosts",
        "--pid-file=",
        f"--addn-hosts={path}",
        f"--port={port}",
        "--listen-address=127.0.0.1",
        "--bind-interfaces",
        f"--user={getpass.getuser()}",
    ]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as running:
        try:
            assert answers(f"dc-1.{DOMAIN}", "A", port) == {"10.44.1.5"}
            assert answers("dc-1", "A", port) == {"10.44.1.5"}
            assert answers(f"dc-1.{DOMAIN}", "AAAA", port) == {"2001:db8:44:1::5"}
            assert answers("desk.larkfield.example", "A", port) == {"10.44.1.30"}
            assert answers("5.1.44.10.in-addr.arpa", "PTR", port) == {f"dc-1.{DOMAIN}."}
            assert answers("nobody.example", "A", port) == set()
        finally:
            running.terminate()


def answers(name: str, kind: str, port: int) -> set[str]:
    for attempt in range(40):
        try:
            found = dns.query.udp(
                dns.message.make_query(name, kind), "127.0.0.1", timeout=0.25, port=port
            )
            return {str(value) for records in found.answer for value in records}
        except (OSError, dns.exception.Timeout):
            time.sleep(0.05 * (attempt < 39))
    raise AssertionError("no answer")


def test_addresses_of_the_hosts_file_are_the_plans():
    text = config("hosts", demo("mill")).text
    lines = [line.split() for line in text.splitlines() if line and not line.startswith("#")]
    assert [str(ipaddress.ip_address(line[0])) for line in lines] == [line[0] for line in lines]
    assert {(line[0], line[1]) for line in lines} >= {
        ("10.44.1.5", "dc-1.corp.larkfield.example"),
        ("10.44.1.30", "desk.larkfield.example"),
    }
    assert len({line[0] for line in lines}) == len(lines) == 9
