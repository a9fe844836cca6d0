"""DHCP configurations: what stands in them, what is left out, and that both servers accept them."""

from __future__ import annotations

import dataclasses
import json
import re

import netaddr
import pytest

from planner.plan import Plan
from planner.record import facts as f
from tests.factories import site_facts
from tests.papers.config_checkers import accepted, config, reasons
from tests.papers.demo_facts import SITES, demo

MAC = "00:00:5e:00:53:3c"
DESKS = f.Network(
    id=2,
    name="desks",
    cidr="10.44.40.0/24",
    gateway="10.44.40.1",
    dhcp="range",
    dhcp_first="10.44.40.50",
    dhcp_last="10.44.40.250",
    lease_minutes=1440,
    dhcp_server="dc-1",
    dns_servers=("10.44.1.5", "10.44.1.6"),
    domain_suffix="corp.larkfield.example",
)
PRINTER = f.Device(
    id=1,
    name="printer-1",
    what="printer",
    network_id=2,
    address="10.44.40.60",
    mac=MAC,
    holding="reserved",
)


def kea(*records: f.Record) -> dict:
    return json.loads(config("dhcp-kea", site_facts(*records)).text)["Dhcp4"]


def told(*records: f.Record) -> str:
    """The problems of a configuration, the same of both servers."""
    facts = site_facts(*records)
    both = [reasons(config(slug, facts)) for slug in ("dhcp-kea", "dhcp-dnsmasq")]
    assert both[0] == both[1]
    return both[0]


def obeyed(text: str) -> list[str]:
    """The lines that a program acts on."""
    return [line for line in text.splitlines() if line and not line.startswith("#")]


@pytest.mark.parametrize("name", SITES)
@pytest.mark.parametrize("slug", ["dhcp-kea", "dhcp-dnsmasq"])
def test_the_servers_accept_the_demo_sites(slug, name, tmp_path):
    accepted(slug, config(slug, demo(name)), tmp_path)


def test_a_subnet_says_what_the_network_says(tmp_path):
    made = config("dhcp-kea", site_facts(DESKS, PRINTER))
    accepted("dhcp-kea", made, tmp_path)
    [subnet] = json.loads(made.text)["Dhcp4"]["subnet4"]
    assert made.problems == ()
    assert subnet["id"] == 2
    assert subnet["subnet"] == "10.44.40.0/24"
    assert subnet["pools"] == [{"pool": "10.44.40.50 - 10.44.40.250"}]
    options = {one["name"]: one["data"] for one in subnet["option-data"]}
    assert options == {
        "routers": "10.44.40.1",
        "domain-name-servers": "10.44.1.5, 10.44.1.6",
        "domain-name": "corp.larkfield.example",
    }
    # Source: RFC 2131 section 4.4.5: T1 defaults to half of the lease, T2 to 0.875 of it; a day has 86,400 s
    assert (subnet["valid-lifetime"], subnet["renew-timer"], subnet["rebind-timer"]) == (
        86_400,
        43_200,
        75_600,
    )
    assert subnet["reservations"] == [
        {"hw-address": MAC, "ip-address": "10.44.40.60", "hostname": "printer-1"}
    ]


def test_the_other_server_is_told_the_same(tmp_path):
    made = config("dhcp-dnsmasq", site_facts(DESKS, PRINTER))
    accepted("dhcp-dnsmasq", made, tmp_path)
    assert obeyed(made.text) == [
        "dhcp-range=set:net2,10.44.40.50,10.44.40.250,255.255.255.0,86400",
        "dhcp-option=tag:net2,option:router,10.44.40.1",
        "dhcp-option=tag:net2,option:dns-server,10.44.1.5,10.44.1.6",
        "dhcp-option=tag:net2,option:domain-name,corp.larkfield.example",
        "dhcp-option=tag:net2,option:T1,43200",
        "dhcp-option=tag:net2,option:T2,75600",
        f"dhcp-host={MAC},10.44.40.60,printer-1",
    ]


def test_renewal_times_are_the_plans_own():
    plan = Plan(site_facts(DESKS))
    need = plan.leases.of(2)
    [subnet] = kea(DESKS)["subnet4"]
    assert (need.t1_minutes * 60, need.t2_minutes * 60) == (
        subnet["renew-timer"],
        subnet["rebind-timer"],
    )


@pytest.mark.parametrize(
    "cidr", ["10.44.40.0/22", "10.44.40.0/25", "192.168.0.0/16", "10.0.0.0/8", "10.44.40.48/28"]
)
def test_masks_are_those_of_the_prefix(cidr):
    block = netaddr.IPNetwork(cidr)  # Source: the netaddr library
    network = dataclasses.replace(
        DESKS, cidr=cidr, gateway="", dhcp_first=str(block[5]), dhcp_last=str(block[9])
    )
    [line] = [
        line for line in obeyed(config("dhcp-dnsmasq", site_facts(network)).text) if "range" in line
    ]
    assert line == f"dhcp-range=set:net2,{block[5]},{block[9]},{block.netmask},86400"
    assert kea(network)["subnet4"][0]["subnet"] == str(block.cidr)


# -- what cannot be said ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"dhcp_first": "10.44.40.250", "dhcp_last": "10.44.40.50"}, "its DHCP range is reversed"),
        ({"dhcp_last": "10.44.41.7"}, "is not within 10.44.40.0/24"),
        ({"dhcp_last": "10.44.40.255"}, "is not within 10.44.40.0/24"),  # the broadcast address
        ({"dhcp_last": ""}, "its DHCP range lacks an end"),
        ({"cidr": ""}, "its subnet is not known"),
        ({"cidr": "224.0.0.0/8"}, "no ordinary network"),  # Source: RFC 5771: multicast
        ({"cidr": "0.0.0.0/0"}, "larger than any network"),
        ({"dhcp": ""}, "nobody has said whether it has a DHCP range"),
    ],
)
def test_a_network_that_cannot_be_served_is_left_out(changes, why):
    network = dataclasses.replace(DESKS, **changes)
    assert kea(network)["subnet4"] == []
    assert obeyed(config("dhcp-dnsmasq", site_facts(network)).text) == []
    assert why in told(network)


def test_a_network_without_dhcp_is_no_problem():
    assert told(dataclasses.replace(DESKS, dhcp="none")) == ""


def test_networks_that_overlap_are_both_left_out():
    other = dataclasses.replace(
        DESKS, id=3, name="half", cidr="10.44.40.0/25", dhcp_last="10.44.40.99"
    )
    assert kea(DESKS, other)["subnet4"] == []
    assert "network desks: its subnet overlaps that of half" in told(DESKS, other)
    assert "network half: its subnet overlaps that of desks" in told(DESKS, other)


@pytest.mark.parametrize(
    ("changes", "option", "why"),
    [
        ({"gateway": ""}, "routers", "the router of desks: no gateway is recorded"),
        ({"gateway": "10.44.41.1"}, "routers", "does not lie in 10.44.40.0/24"),
        ({"gateway": "10.44.40.0"}, "routers", "does not lie in 10.44.40.0/24"),
        ({"dns_servers": ()}, "domain-name-servers", "no DNS server is recorded"),
        (
            {"dns_servers": ("2001:db8::53",)},
            "domain-name-servers",
            "DHCP for IPv4 carries IPv4 addresses",
        ),
        ({"dns_servers": ("0.0.0.0",)}, "domain-name-servers", "DNS server 0.0.0.0"),
        ({"domain_suffix": ""}, "domain-name", "no domain suffix is recorded"),
        ({"domain_suffix": "corp_larkfield.example"}, "domain-name", "is no domain"),
    ],
)
def test_an_option_that_cannot_be_said_is_left_out(changes, option, why, tmp_path):
    network = dataclasses.replace(DESKS, **changes)
    [subnet] = kea(network)["subnet4"]
    assert option not in {one["name"] for one in subnet["option-data"]}
    assert why in told(network)
    # Without the empty option this program would name itself as router and name server.
    # Source: dnsmasq(8), --dhcp-option
    made = config("dhcp-dnsmasq", site_facts(network))
    accepted("dhcp-dnsmasq", made, tmp_path)
    empty = {"routers": "option:router", "domain-name-servers": "option:dns-server"}.get(option)
    assert empty is None or f"dhcp-option=tag:net2,{empty}" in obeyed(made.text)


@pytest.mark.parametrize("minutes", [None, 0, -5, 10**9])
def test_a_lease_that_is_none_is_left_to_the_program(minutes):
    network = dataclasses.replace(DESKS, lease_minutes=minutes)
    [subnet] = kea(network)["subnet4"]
    assert not {"valid-lifetime", "renew-timer", "rebind-timer"} & set(subnet)
    assert "the lease time of desks" in told(network)


def test_a_lease_under_two_minutes_is_told():  # Source: dnsmasq(8), --dhcp-range: the minimum is two minutes
    network = dataclasses.replace(DESKS, lease_minutes=1)
    made = config("dhcp-dnsmasq", site_facts(network))
    assert "the program grants none under two minutes" in reasons(made)
    assert not re.search("T1|,60", "\n".join(obeyed(made.text)))
    assert kea(network)["subnet4"][0]["valid-lifetime"] == 60


def test_addresses_held_for_good_are_kept_out_of_the_range():
    camera = f.Device(id=7, name="camera", network_id=2, address="10.44.40.60", holding="fixed")
    [subnet] = kea(DESKS, camera)["subnet4"]
    assert [one["pool"] for one in subnet["pools"]] == [
        "10.44.40.50 - 10.44.40.59",
        "10.44.40.61 - 10.44.40.250",
    ]
    assert "10.44.40.60 of the range of desks: in use for good" in told(DESKS, camera)


def test_the_gateway_is_never_leased():
    network = dataclasses.replace(DESKS, gateway="10.44.40.50")
    assert kea(network)["subnet4"][0]["pools"] == [{"pool": "10.44.40.51 - 10.44.40.250"}]


def test_a_range_that_is_cut_to_pieces_is_left_out():
    fixed = [
        f.Device(id=n, name=f"d{n}", network_id=2, address=f"10.44.40.{n}")
        for n in range(50, 251, 2)
    ]
    assert kea(DESKS, *fixed)["subnet4"] == []
    assert "fixed addresses fill its DHCP range" in told(DESKS, *fixed)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"mac": ""}, "reservation for printer-1: it has no MAC"),
        (
            {"mac": "01:00:5e:00:00:01"},
            "is not the MAC of one machine",
        ),  # Source: IEEE 802: a group address
        ({"mac": "00:00:00:00:00:00"}, "is not the MAC of one machine"),
        ({"mac": "00:00:5e:00:53"}, "is not the MAC of one machine"),
        ({"address": ""}, "it has no address"),
        ({"address": "10.44.41.9"}, "does not lie in 10.44.40.0/24"),
        ({"address": "10.44.40.255"}, "does not lie in 10.44.40.0/24"),
        ({"address": "10.44.40.1"}, "claimed more than once, by desks and printer-1"),
        ({"network_id": None}, "its network, not recorded, has no DHCP range here"),
    ],
)
def test_a_reservation_that_cannot_be_said_is_left_out(changes, why):
    printer = dataclasses.replace(PRINTER, **changes)
    [subnet] = kea(DESKS, printer)["subnet4"]
    assert subnet["reservations"] == []
    assert why in told(DESKS, printer)


def test_a_refused_reservation_is_not_leased_to_somebody_else():
    [subnet] = kea(DESKS, dataclasses.replace(PRINTER, mac=""))["subnet4"]
    assert [one["pool"] for one in subnet["pools"]] == [
        "10.44.40.50 - 10.44.40.59",
        "10.44.40.61 - 10.44.40.250",
    ]


def test_a_mac_that_stands_twice_reserves_nothing():
    host = f.Host(id=3, name="mill-h1", mac=MAC.upper())
    assert kea(DESKS, PRINTER, host)["subnet4"][0]["reservations"] == []
    assert f"its MAC {MAC} stands in another record too" in told(DESKS, PRINTER, host)


def test_an_address_or_a_name_reserved_twice():
    same = dataclasses.replace(PRINTER, id=2, mac="00:00:5e:00:53:3d")
    assert (
        kea(DESKS, PRINTER, same)["subnet4"][0]["reservations"] == []
    )  # claimed twice: nobody can tell whose it is
    named = dataclasses.replace(same, address="10.44.40.61")
    found = kea(DESKS, PRINTER, named)["subnet4"][0]["reservations"]
    assert [one["ip-address"] for one in found] == ["10.44.40.60", "10.44.40.61"]
    assert not any("hostname" in one for one in found)
    assert "its name is reserved twice" in told(DESKS, PRINTER, named)


def test_a_name_that_dns_refuses_leaves_the_reservation_without_one():
    found = kea(DESKS, dataclasses.replace(PRINTER, name="printer, ground floor"))["subnet4"][0][
        "reservations"
    ]
    assert found == [{"hw-address": MAC, "ip-address": "10.44.40.60"}]
    assert "letters or signs" in told(
        DESKS, dataclasses.replace(PRINTER, name="printer, ground floor")
    )


def test_the_services_reserved_address_goes_to_its_appliance():
    service = f.Service(id=1, network_id=2, address="10.44.40.30", address_origin="reserved")
    broker = f.Appliance(id=4, name="broker-1", network_id=2, address="10.44.40.30", mac=MAC)
    found = kea(DESKS, service, broker)["subnet4"][0]["reservations"]
    assert found == [{"hw-address": MAC, "ip-address": "10.44.40.30", "hostname": "broker-1"}]
    several = [dataclasses.replace(broker, id=n, address=f"10.44.40.3{n}", mac="") for n in (5, 6)]
    assert "no single appliance holds it" in told(DESKS, service, *several)


def test_scopes_of_several_servers_are_told():
    other = dataclasses.replace(
        DESKS,
        id=3,
        name="rooms",
        cidr="10.44.41.0/24",
        gateway="10.44.41.1",
        dhcp_first="10.44.41.50",
        dhcp_last="10.44.41.99",
        dhcp_server="dc-2",
    )
    text = config("dhcp-kea", site_facts(DESKS, other)).text
    assert "the scopes of several servers" in text
    assert "dc-1 for desks; dc-2 for rooms" in text
    assert "the scopes of several servers" not in config("dhcp-kea", site_facts(DESKS)).text


def test_more_than_a_thousand_leases_are_allowed():  # Source: dnsmasq(8), --dhcp-lease-max: the default is 1000
    big = dataclasses.replace(DESKS, cidr="10.44.40.0/21", dhcp_last="10.44.47.250")
    assert "dhcp-lease-max=1993" in obeyed(config("dhcp-dnsmasq", site_facts(big)).text)
    assert not any(
        "lease-max" in line for line in obeyed(config("dhcp-dnsmasq", site_facts(DESKS)).text)
    )


def test_a_scope_keeps_its_number_when_others_come_and_go():
    first = dataclasses.replace(DESKS, id=1, name="rooms", cidr="10.44.41.0/24", dhcp="none")
    assert kea(first, DESKS)["subnet4"][0]["id"] == kea(DESKS)["subnet4"][0]["id"] == 2
