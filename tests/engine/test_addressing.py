"""Addressing: what the record alone decides. Checks against libraries and standards: tests/references."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from planner.engine.addresses import addressing, bands, ipv4
from planner.engine.addresses.addressing import next_free
from planner.plan import Plan
from planner.record import facts as f
from planner.review import base
from tests.engine.addresses_at_random import FACTS
from tests.factories import TODAY, make, plan_of
from tests.shares import share

NETWORK = f.Network(
    id=1,
    name="desktops",
    cidr="10.44.1.0/24",
    gateway="10.44.1.1",
    dhcp="range",
    dhcp_first="10.44.1.100",
    dhcp_last="10.44.1.240",
    dns_servers=("10.44.1.5",),
)
MINE = ("addresses", "networks", "dhcp", "leases", "names")


def worked(*records, **values) -> addressing.Addressing:
    return plan_of(*records, **values).addressing


def test_a_span_is_filled():
    span = worked(NETWORK, f.Host(id=2, name="mill-h1", network_id=1, address="10.44.1.11")).span(1)
    assert (span.name, span.cidr, span.prefix, span.usable) == ("desktops", "10.44.1.0/24", 24, 254)
    assert (span.first, span.last) == ("10.44.1.1", "10.44.1.254")
    assert (span.network_address, span.broadcast) == ("10.44.1.0", "10.44.1.255")
    assert [ipv4.to_text(end) for end in span.dhcp] == [
        "10.44.1.100",
        "10.44.1.240",
    ] and span.dhcp_size == 141
    assert [claim.text for claim in span.claims] == ["10.44.1.1", "10.44.1.11"]
    # 254 less 141 in the range, the gateway, the host and the DNS server somebody must be
    assert span.free == 254 - 141 - 3
    runs = [(ipv4.to_text(first), ipv4.to_text(last)) for first, last in span.free_runs]
    assert runs == [
        ("10.44.1.2", "10.44.1.4"),
        ("10.44.1.6", "10.44.1.10"),
        ("10.44.1.12", "10.44.1.99"),
        ("10.44.1.241", "10.44.1.254"),
    ]


def test_every_record_with_an_address_claims_it():
    records = [
        NETWORK,
        f.Host(
            id=2,
            name="mill-h1",
            network_id=1,
            address="10.44.1.11",
            out_of_band_address="10.44.1.21",
        ),
        f.Server(id=3, name="dc-1", network_id=1, address="10.44.1.5"),
        f.Appliance(id=4, name="broker-1", network_id=1, address="10.44.1.31"),
        f.Service(id=5, network_id=1, address="10.44.1.30", address_origin="reserved"),
        f.Device(id=6, name="printer-1", network_id=1, address="10.44.1.60", holding="reserved"),
    ]
    found = worked(*records)
    assert [(c.text, c.holder, c.label, c.role, c.network_id, c.held) for c in found.claims] == [
        ("10.44.1.1", f.Ref("network", 1, "gateway"), "desktops", "gateway", 1, "fixed"),
        ("10.44.1.5", f.Ref("server", 3, "address"), "dc-1", "server", 1, ""),
        ("10.44.1.11", f.Ref("host", 2, "address"), "mill-h1", "host", 1, ""),
        ("10.44.1.21", f.Ref("host", 2, "out_of_band_address"), "mill-h1", "out-of-band", 1, ""),
        ("10.44.1.30", f.Ref("service", 5, "address"), "the service", "service", 1, "reserved"),
        ("10.44.1.31", f.Ref("appliance", 4, "address"), "broker-1", "appliance", 1, ""),
        ("10.44.1.60", f.Ref("device", 6, "address"), "printer-1", "device", 1, "reserved"),
    ]
    assert found.clashes == () and found.problems == ()


def test_an_address_finds_its_own_network():
    outer, inner = f.Network(id=1, cidr="10.44.0.0/16"), f.Network(id=2, cidr="10.44.1.0/24")
    device = f.Device(id=3, address="10.44.1.60")
    console = f.Host(id=4, network_id=1, address="10.44.0.11", out_of_band_address="10.44.1.21")
    found = worked(outer, inner, device, console)
    assert {claim.text: claim.network_id for claim in found.claims} == {
        "10.44.1.60": 2,
        "10.44.0.11": 1,
        "10.44.1.21": 2,
    }
    assert found.problems == ()


def test_the_one_appliance_may_have_the_services_address():
    service = f.Service(id=5, network_id=1, address="10.44.1.30")
    one = f.Appliance(id=4, name="broker-1", network_id=1, address="10.44.1.30")
    two = f.Appliance(id=6, name="broker-2", network_id=1, address="10.44.1.32")
    assert worked(NETWORK, service, one).clashes == ()
    [clash] = worked(NETWORK, service, one, two).clashes
    assert [claim.role for claim in clash.claims] == ["service", "appliance"]
    host = f.Host(id=7, network_id=1, address="10.44.1.30")
    [clash] = worked(NETWORK, service, one, host).clashes
    assert [claim.role for claim in clash.claims] == ["host", "appliance"]


def test_a_firewall_may_be_the_gateway_a_server_or_a_printer_may_not():
    firewall = f.Device(id=2, name="fw-1", what="firewall", network_id=1, address="10.44.1.1")
    printer = f.Device(id=3, name="printer-1", what="printer", network_id=1, address="10.44.1.1")
    server = f.Server(id=4, name="dc-1", network_id=1, address="10.44.1.1")
    assert worked(NETWORK, firewall).clashes == ()
    assert [len(clash.claims) for clash in worked(NETWORK, printer).clashes] == [2]
    assert [len(clash.claims) for clash in worked(NETWORK, server, firewall).clashes] == [2]


def test_next_free_follows_the_band_plan():
    plan = plan_of(NETWORK, f.Host(id=2, network_id=1, address="10.44.1.11"))
    wanted = {
        "gateway": "10.44.1.2",
        "server": "10.44.1.6",
        "host": "10.44.1.12",
        "out-of-band": "10.44.1.21",
        "service": "10.44.1.30",
        "appliance": "10.44.1.31",
        "device": "10.44.1.40",
        "no such role": "10.44.1.6",
    }
    assert {role: next_free(plan.addressing, 1, role) for role in wanted} == wanted
    assert next_free(plan.addressing, 1, "host") == "10.44.1.12"
    assert (
        next_free(plan.addressing, 9, "host") is None
        and next_free(plan.addressing, None, "host") is None
    )


def test_the_band_plan_scales():
    small, large = ipv4.parse_prefix("10.44.1.0/28")[1], ipv4.parse_prefix("10.44.0.0/16")[1]
    assert bands.part("host", small) is None  # two 256ths of sixteen addresses are none
    assert [ipv4.to_text(end) for end in bands.part("host", large)] == [
        "10.44.11.0",
        "10.44.20.255",
    ]
    assert [ipv4.to_text(end) for end in bands.part("gateway", small)] == ["10.44.1.1", "10.44.1.1"]
    plan = plan_of(f.Network(id=1, cidr="10.44.1.0/28"))
    assert next_free(plan.addressing, 1, "gateway") == "10.44.1.1"
    assert (
        next_free(plan.addressing, 1, "host") == "10.44.1.2"
    )  # the gateway's place is kept for it


ROLES = ("server", "host", "out-of-band", "service", "appliance", "device")


@pytest.mark.parametrize("prefix", range(16, 32))
@pytest.mark.parametrize("gateway", ["", "10.99.0.1"], ids=["none typed", "one that lies outside"])
def test_the_address_of_a_gateway_to_come_is_nobody_elses(prefix, gateway):
    """In small subnets the bands scale down until a role's own band is the gateways': the gateway has the right."""
    network = f.Network(id=1, cidr=f"10.44.0.0/{prefix}", gateway=gateway)
    plan = plan_of(network, f.Host(id=2, network_id=1))
    own = next_free(plan.addressing, 1, "gateway")
    assert own == ("10.44.0.0" if prefix == 31 else "10.44.0.1")
    found = {role: next_free(plan.addressing, 1, role) for role in ROLES}
    assert own not in found.values() and None not in found.values()
    assert own not in {one.text for one in plan.layout.proposals if one.wanting.role != "gateway"}


def test_a_gateway_that_stands_or_is_not_wanted_keeps_nothing():
    elsewhere = f.Network(id=1, cidr="10.44.1.0/26", gateway="10.44.1.62")
    assert next_free(plan_of(elsewhere).addressing, 1, "server") == "10.44.1.1"
    storage = f.Network(id=1, cidr="10.44.1.0/26", purpose="storage")
    assert next_free(plan_of(storage).addressing, 1, "server") == "10.44.1.1"


def test_mends_side_by_side_do_not_collide():
    """Two hosts on one address and no gateway: one mend moves a host, the other sets the gateway."""
    network = f.Network(id=1, name="core", cidr="10.44.1.0/27")
    hosts = [f.Host(id=n, name=f"h{n}", network_id=1, address="10.44.1.5") for n in (2, 3)]
    found = [one for one in plan_of(network, *hosts).review.findings if one.mend]
    values = [
        value
        for one in found
        if one.key in ("address-claimed-twice", "network-gateway-missing")
        for _, value in one.mend.values
    ]
    assert sorted(values) == ["10.44.1.1", "10.44.1.2"]


def test_a_full_band_falls_back_and_a_full_network_gives_nothing():
    hosts = [make(f.Host, network_id=1, address=f"10.44.1.{n}") for n in range(11, 21)]
    assert next_free(plan_of(NETWORK, *hosts).addressing, 1, "host") == "10.44.1.6"
    link = f.Network(id=1, cidr="10.44.1.0/31", gateway="10.44.1.0")
    other = f.Device(id=2, network_id=1, address="10.44.1.1")
    assert next_free(plan_of(link).addressing, 1, "device") == "10.44.1.1"
    assert next_free(plan_of(link, other).addressing, 1, "device") is None


def test_without_a_subnet_nothing_is_made_up():
    span = worked(
        f.Network(id=1, name="guests"), f.Device(id=2, network_id=1, address="10.1.1.1")
    ).span(1)
    assert (span.cidr, span.prefix, span.usable, span.first, span.last, span.free) == (
        "",
        None,
        None,
        None,
        None,
        None,
    )
    assert (span.network_address, span.broadcast, span.free_runs) == (None, None, ())
    assert [claim.text for claim in span.claims] == ["10.1.1.1"]


def test_overlaps_name_the_smallest_holder():
    networks = [
        f.Network(id=1, name="all", cidr="10.44.0.0/16"),
        f.Network(id=2, name="floor", cidr="10.44.1.0/24"),
        f.Network(id=3, name="desk", cidr="10.44.1.128/25"),
        f.Network(id=4, name="else", cidr="10.45.0.0/16"),
        f.Network(id=5, name="again", cidr="10.44.1.128/25"),
    ]
    found = {(o.outer.name, o.inner.name, o.same) for o in worked(*networks).overlaps}
    assert found == {("all", "floor", False), ("floor", "desk", False), ("desk", "again", True)}


def test_a_16_full_of_claims_is_swept():
    """65,536 devices on one /16: every address claimed once but for the gateway's."""
    start = ipv4.parse("10.7.0.0")
    devices = tuple(
        f.Device(id=n, name=f"d{n}", network_id=1, address=ipv4.to_text(start + n))
        for n in range(65536)
    )
    big = f.Network(id=1, name="big", cidr="10.7.0.0/16", gateway="10.7.0.1")
    facts = f.SiteFacts(today=TODAY, site=f.Site(id=1), networks=(big,), devices=devices)
    found = addressing.work_out(facts)
    assert len(found.claims) == 65537 and found.span(1).free == 0
    assert [clash.text for clash in found.clashes] == ["10.7.0.1"]
    assert {problem.kind for problem in found.problems} == {"network-address", "broadcast-address"}
    assert next_free(found, 1, "host") is None


@settings(
    max_examples=share(100, of=300),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(FACTS)
def test_nothing_raises_whatever_the_facts(facts):
    """The rooms and every rule over them, and what they say holds together."""
    plan = Plan(facts)
    for span in plan.addressing.spans:
        if span.block is not None:
            assert 0 <= span.free <= span.usable
        for role in (*bands.listed(), "x"):
            address = next_free(plan.addressing, span.network_id, role)
            if address is not None:
                number = ipv4.parse(address)
                assert span.block.first <= number <= span.block.last
                assert all(claim.address != number for claim in plan.addressing.claims)
                assert not span.dhcp or not span.dhcp[0] <= number <= span.dhcp[1]
    assert plan.leases and plan.naming
    for key, function in base.RULES.items():
        if function.__module__.rpartition(".")[2] in MINE:
            entry = base.entries()[key]
            for hit in function(plan):
                base._finding(entry, "remark", hit, {})
