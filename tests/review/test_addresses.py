"""Findings about addresses, networks and DHCP: each rule raised once and once not."""

from __future__ import annotations

import dataclasses

import pytest

from planner.record import facts as f
from planner.review import base
from tests.factories import make, raised

MODULES = ("addresses", "networks", "dhcp")


def network(**values) -> f.Network:
    base_values = {
        "id": 1,
        "name": "desktops",
        "purpose": "desktops",
        "vlan": 40,
        "cidr": "10.44.1.0/24",
        "gateway": "10.44.1.1",
        "dhcp": "range",
        "dhcp_first": "10.44.1.100",
        "dhcp_last": "10.44.1.240",
        "dhcp_server": "dc-1",
        "dns_servers": ("10.44.1.5",),
        "domain_suffix": "corp.larkfield.example",
        "link_mbit_s": 1000,
        "mtu": 1500,
    }
    return f.Network(**{**base_values, **values})


def second(**values) -> f.Network:
    base_values = {
        "id": 2,
        "name": "clients",
        "purpose": "clients",
        "vlan": 41,
        "cidr": "10.44.2.0/24",
        "gateway": "10.44.2.1",
        "dhcp": "none",
        "dhcp_first": "",
        "dhcp_last": "",
    }
    return network(**{**base_values, **values})


def host(**values) -> f.Host:
    return f.Host(
        **{"id": 3, "name": "mill-h1", "network_id": 1, "address": "10.44.1.11", **values}
    )


def appliance(**values) -> f.Appliance:
    return f.Appliance(
        **{"id": 4, "name": "broker-1", "network_id": 1, "address": "10.44.1.31", **values}
    )


def device(**values) -> f.Device:
    return f.Device(
        **{"id": 5, "name": "printer-1", "network_id": 1, "address": "10.44.1.60", **values}
    )


def server(**values) -> f.Server:
    base_values = {
        "id": 6,
        "name": "dc-1",
        "network_id": 1,
        "address": "10.44.1.5",
        "roles": ("directory", "dns"),
    }
    return f.Server(**{**base_values, **values})


def directory(**values) -> f.Directory:
    return f.Directory(
        **{"id": 7, "directory_kind": "domain", "domain": "corp.larkfield.example", **values}
    )


def template(**values) -> f.Template:
    return f.Template(**{"id": 8, "name": "front desk", "network_id": 1, "most": 36, **values})


MAC = "00:00:5e:00:53:0b"

# key: the records that raise it, the records that do not
CASES = {
    "address-claimed-twice": (
        [network(), host(), appliance(address="10.44.1.11")],
        [network(), host(), appliance()],
    ),
    "mac-twice": (
        [network(), host(mac=MAC), device(mac="00-00-5E-00-53-0B")],
        [network(), host(mac=MAC), device(mac="00:00:5e:00:53:0c"), appliance(mac="")],
    ),
    "ipv6-claimed-twice": (
        [network(), host(ipv6_address="2001:db8::11"), device(ipv6_address="2001:0db8:0::0011")],
        [network(), host(ipv6_address="2001:db8::11"), device(ipv6_address="2001:db8::12")],
    ),
    "ipv6-outside-prefix": (
        [network(ipv6_prefix="2001:db8:44:1::/64"), host(ipv6_address="2001:db8:44:2::11")],
        [
            network(ipv6_prefix="2001:db8:44:1::/64"),
            host(ipv6_address="2001:db8:44:1::11"),
            device(ipv6_address="fe80::11"),
        ],
    ),
    "ipv6-not-for-a-machine": (
        [network(ipv6_prefix="2001:db8:44:1::/64"), host(ipv6_address="ff02::1")],
        [
            network(ipv6_prefix="2001:db8:44:1::/64"),
            host(ipv6_address="2001:db8:44:1::11"),
            device(ipv6_address="fe80::11"),
        ],
    ),
    "address-outside-network": ([network(), host(address="10.44.9.11")], [network(), host()]),
    "address-without-network": (
        [network(), host(network_id=None, address="10.99.0.11")],
        [network(), host(network_id=None)],
    ),
    "address-is-network-address": (
        [network(), host(address="10.44.1.0")],
        [network(cidr="10.44.1.0/31", gateway=""), host(address="10.44.1.0")],
    ),
    "address-is-broadcast-address": (
        [network(), host(address="10.44.1.255")],
        [network(cidr="10.44.0.0/23"), host(address="10.44.0.255")],
    ),
    "address-in-dhcp-range": (
        [network(), device(address="10.44.1.150", holding="fixed")],
        [network(), device(address="10.44.1.150", holding="reserved")],
    ),
    "address-link-local": (
        [network(), device(address="169.254.7.9")],
        [network(), device(address="169.253.255.255")],
    ),
    "address-special": (
        [network(), device(address="224.0.0.9")],
        [network(), device(address="172.16.0.9")],
    ),
    "gateway-outside-network": ([network(gateway="10.44.2.1")], [network(gateway="10.44.1.254")]),
    "network-gateway-missing": ([network(gateway="")], [network(gateway="", purpose="storage")]),
    "network-subnet-unknown": ([network(cidr="")], [network()]),
    "network-host-bits": ([network(cidr="10.44.1.7/24")], [network()]),
    "networks-same-subnet": (
        [network(), second(cidr="10.44.1.9/24")],
        [network(), second(cidr="10.44.1.0/25")],
    ),
    "networks-overlap": ([network(), second(cidr="10.44.1.128/25")], [network(), second()]),
    "network-special-range": ([network(cidr="169.254.1.0/24")], [network(cidr="172.31.255.0/24")]),
    "network-public-range": (
        [network(cidr="172.32.0.0/24")],
        [network(cidr="172.32.0.0/24", purpose="perimeter"), second()],
    ),
    "addresses-few-left": (
        [network(dhcp_first="10.44.1.2", dhcp_last="10.44.1.250")],  # 4 of 254 are left
        [network(dhcp_first="10.44.1.20", dhcp_last="10.44.1.250")],  # 22 of 254
    ),
    "vlan-not-allowed": ([network(vlan=4095)], [network(vlan=4094), second(vlan=1)]),
    "vlan-twice": ([network(), second(vlan=40)], [network(), second(), network(id=9, vlan=None)]),
    "mtu-odd": ([network(mtu=1279)], [network(mtu=1280), second(mtu=9216)]),
    "storage-mtu-unknown": ([network(purpose="storage", mtu=None)], [network(mtu=None)]),
    "link-rate-unknown": ([network(link_mbit_s=None)], [second(link_mbit_s=None)]),
    "network-reaches-itself": (
        [network(reaches=(1,))],
        [network(reaches=(2,)), second(reaches=(1,))],
    ),
    "network-reaches-one-way": (
        [network(reaches=(2,)), second()],
        [network(reaches=(2,)), second(reaches=(1,))],
    ),
    "dhcp-range-half": ([network(dhcp_last="")], [network(), second(dhcp_last="")]),
    "dhcp-range-reversed": (
        [network(dhcp_first="10.44.1.240", dhcp_last="10.44.1.100")],
        [network(dhcp_last="10.44.1.100")],
    ),
    "dhcp-range-outside": ([network(dhcp_last="10.44.1.255")], [network(dhcp_last="10.44.1.254")]),
    "dhcp-range-over-gateway": ([network(gateway="10.44.1.100")], [network(gateway="10.44.1.99")]),
    "dhcp-server-unknown": ([network(dhcp_server="")], [second(dhcp_server="")]),
    "template-network-no-dhcp": (
        [network(dhcp="none"), template()],
        [network(dhcp="none"), second()],
    ),
    "template-network-dhcp-unknown": (
        [network(dhcp=""), template()],
        [network(), second(dhcp=""), template()],
    ),
    "desktop-dns-missing": ([network(dns_servers=())], [network(), second(dns_servers=())]),
    "desktop-dns-not-directory": (
        [network(dns_servers=("10.44.1.1",)), server(), directory()],
        [network(dns_servers=("10.44.1.1",)), server(), directory(directory_kind="own-accounts")],
    ),
    "desktop-dns-mixed": (
        [network(dns_servers=("10.44.1.5", "10.44.1.1")), server(), directory()],
        [network(), server(), directory()],
    ),
    "domain-suffix-differs": (
        [network(domain_suffix="larkfield.example"), directory()],
        [network(domain_suffix="CORP.larkfield.example."), directory()],
    ),
}


def test_every_rule_has_a_case():
    mine = {
        key
        for key, function in base.RULES.items()
        if function.__module__.rpartition(".")[2] in MODULES
    }
    assert mine == set(CASES)


@pytest.mark.parametrize("key", CASES)
def test_raised_and_not(key):
    wrong, right = CASES[key]
    found = raised(key, *wrong)
    assert len(found) == 1
    assert found[0].title and "{" not in found[0].title + found[0].text
    assert raised(key, *right) == []


@pytest.mark.parametrize(
    ("address", "what"),
    [
        ("::", "unspecified"),
        ("::1", "loopback"),
        ("ff0e::101", "multicast"),
        ("::ffff:10.44.1.9", "IPv4 address"),
    ],
)
def test_what_nobody_may_have_is_told_once(address, what):
    """Source: RFC 4291 sections 2.5.2, 2.5.3, 2.7 and 2.5.5.2."""
    records = network(ipv6_prefix="2001:db8:44:1::/64"), host(ipv6_address=address)
    [found] = raised("ipv6-not-for-a-machine", *records)
    assert what in found.text and raised("ipv6-outside-prefix", *records) == []


def test_link_local_addresses_clash_on_their_own_link_only():
    """Source: RFC 4291 section 2.5.6: a link-local address is for a single link."""
    here, there = host(ipv6_address="fe80::11"), device(ipv6_address="fe80::11", network_id=2)
    assert raised("ipv6-claimed-twice", network(), second(), here, there) == []
    assert (
        len(
            raised(
                "ipv6-claimed-twice",
                network(),
                second(),
                here,
                dataclasses.replace(there, network_id=1),
            )
        )
        == 1
    )
    nowhere = [dataclasses.replace(one, network_id=None) for one in (here, there)]
    assert raised("ipv6-claimed-twice", network(), *nowhere) == []


def mend_of(key, *records):
    [found] = raised(key, *records)
    return found.mend and (found.mend.record, dict(found.mend.values))


def test_the_appliance_moves_not_the_host():
    wrong, _ = CASES["address-claimed-twice"]
    [found] = raised("address-claimed-twice", *wrong)
    assert found.at == f.Ref("appliance", 4, "address")
    assert found.also == (f.Ref("host", 3, "address"),)
    assert found.mend.record == f.Ref("appliance", 4) and found.mend.values == (
        ("address", "10.44.1.31"),
    )
    assert found.mend.words == "Give broker-1 10.44.1.31"
    assert found.title == "10.44.1.11 is claimed twice: mill-h1 and broker-1"


def test_a_clash_without_a_free_address_has_no_mend():
    tiny = network(cidr="10.44.1.10/30", gateway="10.44.1.9", dhcp="none", dns_servers=())
    records = [tiny, host(address="10.44.1.10"), appliance(address="10.44.1.10")]
    assert mend_of("address-claimed-twice", *records) is None


def test_outside_names_the_network_that_holds_it():
    [found] = raised("address-outside-network", network(), second(), host(address="10.44.2.11"))
    assert "It lies in clients (10.44.2.0/24)." in found.text and found.mend is None
    ref, values = mend_of("address-outside-network", network(), host(address="10.44.9.11"))
    assert (ref, values) == (f.Ref("host", 3), {"address": "10.44.1.11"})


@pytest.mark.parametrize(
    ("key", "field", "value"),
    [
        ("network-host-bits", "cidr", "10.44.1.0/24"),
        ("network-gateway-missing", "gateway", "10.44.1.1"),
        ("gateway-outside-network", "gateway", "10.44.1.1"),
        ("desktop-dns-not-directory", "dns_servers", "10.44.1.5"),
        ("desktop-dns-mixed", "dns_servers", "10.44.1.5"),
        ("domain-suffix-differs", "domain_suffix", "corp.larkfield.example"),
        ("address-in-dhcp-range", "address", "10.44.1.40"),
    ],
)
def test_what_a_mend_sets(key, field, value):
    _, values = mend_of(key, *CASES[key][0])
    assert values == {field: value}


@pytest.mark.parametrize("key", CASES)
def test_a_mend_takes_its_finding_away(key):
    """Setting the mend's fields as typed, the finding is gone."""
    wrong, _ = CASES[key]
    [found] = raised(key, *wrong)
    if found.mend is None:
        return
    changed = []
    for record in wrong:
        if record.ref == found.mend.record:
            values = dict(found.mend.values)
            if "dns_servers" in values:
                values["dns_servers"] = tuple(values["dns_servers"].split(", "))
            record = dataclasses.replace(record, **values)
        changed.append(record)
    assert raised(key, *changed) == []


def test_servers_that_say_they_answer_dns_come_first():
    silent = server(id=9, name="dc-2", address="10.44.1.6", roles=("directory",))
    records = [network(dns_servers=("10.44.1.1",)), directory(), silent]
    assert mend_of("desktop-dns-not-directory", *records)[1] == {"dns_servers": "10.44.1.6"}
    assert mend_of("desktop-dns-not-directory", *records, server())[1] == {
        "dns_servers": "10.44.1.5"
    }


def test_dhcp_mends():
    assert mend_of("dhcp-range-reversed", *CASES["dhcp-range-reversed"][0])[1] == {
        "dhcp_first": "10.44.1.100",
        "dhcp_last": "10.44.1.240",
    }
    assert (
        mend_of("dhcp-range-outside", *CASES["dhcp-range-outside"][0])[1]["dhcp_last"]
        == "10.44.1.254"
    )
    assert (
        mend_of("dhcp-range-over-gateway", *CASES["dhcp-range-over-gateway"][0])[1]["dhcp_first"]
        == "10.44.1.101"
    )
    both = network(dhcp_first="", dhcp_last="")
    blocked = device(address="10.44.1.199", holding="fixed")
    assert mend_of("dhcp-range-half", both, blocked)[1] == {
        "dhcp_first": "10.44.1.100",
        "dhcp_last": "10.44.1.198",
    }


def test_a_dhcp_range_in_another_subnet_is_left_to_people():
    assert (
        mend_of("dhcp-range-outside", network(dhcp_first="10.45.1.1", dhcp_last="10.45.1.9"))
        is None
    )


def test_a_trial_may_be_full():
    wrong, _ = CASES["addresses-few-left"]
    assert raised("addresses-few-left", *wrong, purpose="trial") == []


def test_small_links_are_full_by_intent():
    link = network(cidr="10.44.1.0/30", dhcp="none")
    assert raised("addresses-few-left", link, device(address="10.44.1.2")) == []


def test_three_holders_and_more_are_counted():
    crowd = [
        make(f.Device, name=f"printer-{n}", network_id=1, address="10.44.1.60") for n in range(1, 8)
    ]
    [found] = raised("address-claimed-twice", network(), *crowd)
    assert found.title.endswith("printer-1, printer-2, printer-3 and 4 more")
    assert len(found.also) == 6


def test_a_sound_site_raises_nothing_here():
    """Everything filled in as it should be: none of these rules, nor those of names and leases, has a word to say."""
    suffix, dns = "corp.larkfield.example", ("10.44.1.5", "10.44.1.6")
    told = {"dns_servers": dns, "domain_suffix": suffix, "link_mbit_s": 1000, "mtu": 1500}
    leased = {
        "dhcp": "range",
        "dhcp_server": "dc-1",
        "lease_minutes": 480,
        "other_dhcp_clients": 12,
    }
    records = [
        f.Network(
            id=1,
            name="servers",
            purpose="management",
            vlan=10,
            cidr="10.44.1.0/24",
            gateway="10.44.1.1",
            dhcp="none",
            reaches=(2,),
            ipv6_prefix="2001:db8:44:1::/64",
            **told,
        ),
        f.Network(
            id=2,
            name="desktops",
            purpose="desktops",
            vlan=40,
            cidr="10.44.40.0/23",
            gateway="10.44.40.1",
            dhcp_first="10.44.40.100",
            dhcp_last="10.44.41.240",
            reaches=(1,),
            **leased,
            **told,
        ),
        f.Network(
            id=3,
            name="storage",
            purpose="storage",
            vlan=50,
            cidr="10.44.50.0/28",
            dhcp="none",
            mtu=9000,
            link_mbit_s=10_000,
        ),
        f.Network(
            id=4,
            name="outside",
            purpose="perimeter",
            vlan=60,
            cidr="192.168.60.8/29",
            gateway="192.168.60.9",
            dhcp="none",
        ),
        host(
            address="10.44.1.11",
            out_of_band_address="10.44.1.21",
            mac=MAC,
            ipv6_address="2001:db8:44:1::11",
            management_name=f"mill-h1.{suffix}",
        ),
        f.Host(id=31, name="mill-h2", network_id=1, address="10.44.1.12", mac="00:00:5e:00:53:0d"),
        server(),
        server(id=32, name="dc-2", address="10.44.1.6"),
        appliance(),
        f.Service(id=33, network_id=1, address="10.44.1.31", entry_name="desk.larkfield.example"),
        device(),
        f.Device(id=34, name="fw-1", what="firewall", network_id=4, address="192.168.60.9"),
        directory(
            netbios="LARKFIELD",
            desktop_ou=f"OU=Desktops,OU=Mill Street,{'DC=corp,DC=larkfield,DC=example'}",
        ),
        template(network_id=2, reset_rule="sign-out", name_prefix="mill-fd-", name_digits=3),
        f.SeatGroup(id=35, name="Reception", template_id=8, people=40, sign_ins_a_day=2.0),
    ]
    mine = {*MODULES, "names", "leases"}
    keys = [
        key
        for key, function in base.RULES.items()
        if function.__module__.rpartition(".")[2] in mine
    ]
    assert {
        key: [hit.title for hit in raised(key, *records)] for key in keys if raised(key, *records)
    } == {}
