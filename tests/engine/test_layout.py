"""Layout: an address for whoever has none; proposals never clash, and lie where the band plan wants them."""

from __future__ import annotations

import dataclasses
import ipaddress

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.engine.addresses import bands, layout
from planner.engine.addresses.addressing import next_free
from planner.plan import Plan
from planner.record import facts as f
from tests.engine.addresses_at_random import FACTS
from tests.factories import TODAY, plan_of

NETWORK = f.Network(
    id=1,
    name="core",
    cidr="10.44.1.0/24",
    gateway="10.44.1.1",
    dhcp="range",
    dhcp_first="10.44.1.100",
    dhcp_last="10.44.1.240",
)


def host(id: int, address: str = "", **values) -> f.Host:
    return f.Host(id=id, name=f"h{id}", network_id=1, address=address, **values)


def given_to(*records: f.Record) -> dict[str, str]:
    """Label and field of each proposal, with its address."""
    found = plan_of(*records).layout
    return {f"{one.wanting.label}.{one.wanting.holder.field}": one.text for one in found.proposals}


def reasons(*records: f.Record) -> dict[str, str]:
    return {one.wanting.label: one.why for one in plan_of(*records).layout.left}


# -- what it says ------------------------------------------------------------------------------------


def test_every_kind_of_holder_gets_the_next_of_its_band():
    """The bands of the house's plan in a /24 are last octets (fixtures/catalogue/bands.toml)."""
    found = given_to(
        dataclasses.replace(NETWORK, gateway=""),
        host(2, "10.44.1.11", out_of_band_address="10.44.1.21"),
        host(3),
        f.Server(id=4, name="dc-1", network_id=1),
        f.Appliance(id=5, name="broker-1", network_id=1),
        f.Appliance(id=6, name="broker-2", network_id=1),
        f.Device(id=7, name="printer-1", network_id=1),
        f.Service(id=8, name="desk", network_id=1),
    )
    assert found == {
        "core.gateway": "10.44.1.1",
        "dc-1.address": "10.44.1.5",
        "h3.address": "10.44.1.12",
        "h3.out_of_band_address": "10.44.1.22",
        "desk.address": "10.44.1.30",
        "broker-1.address": "10.44.1.31",
        "broker-2.address": "10.44.1.32",
        "printer-1.address": "10.44.1.40",
    }


def test_a_console_stands_as_far_above_its_host_as_their_bands_do():
    hosts = [
        host(2, "10.44.1.15"),
        host(3, "10.44.1.11", out_of_band_address="10.44.1.21"),
        host(4, "10.44.1.60"),
    ]
    found = given_to(NETWORK, *hosts)
    assert found["h2.out_of_band_address"] == "10.44.1.25"
    assert (
        found["h4.out_of_band_address"] == "10.44.1.22"
    )  # its host is in no band: the next free one


def test_consoles_are_wanted_only_where_the_site_has_one():
    assert given_to(NETWORK, host(2, "10.44.1.11")) == {}


def test_the_service_of_one_appliance_is_at_that_appliance():
    one = f.Appliance(id=5, name="broker-1", network_id=1, address="10.44.1.35")
    assert given_to(NETWORK, one, f.Service(id=8, name="desk", network_id=1)) == {
        "desk.address": "10.44.1.35"
    }
    fresh = dataclasses.replace(one, address="")
    found = given_to(NETWORK, fresh, f.Service(id=8, name="desk", network_id=1))
    assert found == {"broker-1.address": "10.44.1.31", "desk.address": "10.44.1.31"}
    elsewhere = f.Network(id=2, name="other", cidr="10.45.0.0/24", gateway="10.45.0.1")
    assert (
        "is not in other"
        in reasons(NETWORK, elsewhere, one, f.Service(id=8, name="desk", network_id=2))["desk"]
    )


@pytest.mark.parametrize(
    "service",
    [f.Service(id=8), f.Service(id=8, name="desk", network_id=1, address_origin="dynamic")],
)
def test_a_service_that_nobody_described_or_that_moves_wants_none(service):
    assert given_to(NETWORK, service) == {}


def test_who_cannot_be_given_one_is_told_why():
    full = f.Network(id=2, name="link", cidr="10.45.0.0/30", gateway="10.45.0.1")
    other = f.Device(id=3, name="far end", network_id=2, address="10.45.0.2")
    found = reasons(
        NETWORK,
        full,
        other,
        f.Network(id=4, name="later"),
        f.Device(id=5, name="a"),
        f.Device(id=6, name="b", network_id=4),
        f.Device(id=7, name="c", network_id=2),
        f.Device(id=9, name="d", network_id=99),
    )
    assert found == {
        "a": "its network is not known",
        "b": "the subnet of later is not known",
        "c": "nothing is free in link",
        "d": "its network is not known",
    }


def test_a_storage_network_needs_no_gateway():
    network = f.Network(id=1, name="storage", purpose="storage", cidr="10.44.1.0/24")
    assert given_to(network) == {}


def test_only_a_reservation_may_come_out_of_the_dhcp_range():
    network = f.Network(
        id=1,
        name="n",
        cidr="10.44.1.0/29",
        gateway="10.44.1.1",
        dhcp="range",
        dhcp_first="10.44.1.2",
        dhcp_last="10.44.1.6",
    )
    free, reserved = (
        f.Device(id=2, name="free", network_id=1),
        f.Device(id=3, name="kept", network_id=1, holding="reserved"),
    )
    found = plan_of(network, free, reserved).layout
    assert [(one.wanting.label, one.text, one.leased) for one in found.proposals] == [
        ("kept", "10.44.1.2", True)
    ]
    assert [one.wanting.label for one in found.left] == ["free"]


def test_other_networks_inside_this_one_are_left_alone():
    outer = f.Network(id=1, name="outer", cidr="10.44.0.0/16", gateway="10.44.0.1")
    inner = f.Network(
        id=2, name="inner", cidr="10.44.11.0/24", gateway="10.44.11.1"
    )  # the front of the hosts' band
    assert given_to(outer, inner, host(3)) == {"h3.address": "10.44.12.0"}


def test_roles_that_share_a_place_do_not_share_an_address():
    """In a /28 no band has a place of its own; and two networks may bear the same subnet."""
    small = f.Network(id=1, name="small", cidr="10.44.1.0/28", gateway="10.44.1.1")
    found = given_to(
        small,
        host(2),
        f.Server(id=3, name="dc-1", network_id=1),
        f.Device(id=4, name="cam", network_id=1),
    )
    assert found == {
        "dc-1.address": "10.44.1.2",
        "h2.address": "10.44.1.3",
        "cam.address": "10.44.1.4",
    }
    again = f.Network(id=9, name="again", cidr="10.44.1.0/28", gateway="10.44.1.1")
    found = given_to(small, again, host(2), f.Host(id=3, name="h3", network_id=9))
    assert found == {"h2.address": "10.44.1.2", "h3.address": "10.44.1.3"}


def test_what_only_points_at_an_address_keeps_it():
    network = dataclasses.replace(NETWORK, dns_servers=("10.44.1.11",))
    assert given_to(network, host(2)) == {"h2.address": "10.44.1.12"}


def test_it_offers_what_the_margin_offers():
    """One record without an address: the same address as :func:`next_free`."""
    for role, record in (
        ("host", host(2)),
        ("server", f.Server(id=2, network_id=1)),
        ("appliance", f.Appliance(id=2, network_id=1)),
        ("device", f.Device(id=2, network_id=1)),
    ):
        plan = plan_of(NETWORK, record)
        assert plan.layout.of(record.ref.at("address")).text == next_free(plan.addressing, 1, role)


def test_those_who_may_move_are_the_newcomers():
    plan = plan_of(
        NETWORK, host(2, "10.44.1.1"), f.Appliance(id=3, network_id=1, address="10.44.1.1")
    )
    assert [claim.role for claim in layout.movable(plan.addressing).values()] == [
        "host",
        "appliance",
    ]


def test_many_are_laid_out_at_once():
    network = f.Network(id=1, name="big", cidr="10.7.0.0/16", gateway="10.7.0.1")
    devices = tuple(f.Device(id=n, network_id=1) for n in range(1, 5001))
    facts = f.SiteFacts(today=TODAY, site=f.Site(id=1), networks=(network,), devices=devices)
    found = Plan(facts).layout.proposals
    assert len({one.address for one in found}) == 5000 and all(one.in_band for one in found)


# -- whatever the facts ------------------------------------------------------------------------------


def shut(plan: Plan, span) -> list[tuple[int, int]]:
    """DHCP ranges, and networks inside this one, told by another library."""
    found = [one.dhcp for one in plan.addressing.spans if one.dhcp]
    own = ipaddress.ip_network(span.cidr)
    for one in plan.addressing.spans:
        other = ipaddress.ip_network(one.cidr) if one.cidr else None
        if other is not None and other != own and other.subnet_of(own):
            found.append((int(other.network_address), int(other.broadcast_address)))
    return found


def with_addresses(plan: Plan) -> f.SiteFacts:
    """The facts once every proposal is written down."""
    written: dict[tuple[str, int], dict[str, str]] = {}
    for one in plan.layout.proposals:
        at = one.wanting.holder
        written.setdefault((at.kind, at.id), {})[at.field] = one.text
    changed = {}
    for name in ("networks", "hosts", "servers", "appliances", "devices"):
        records = getattr(plan.facts, name)
        changed[name] = tuple(
            dataclasses.replace(r, **written.get((r.kind, r.id), {})) for r in records
        )
    service = plan.facts.service
    changed["service"] = dataclasses.replace(service, **written.get(("service", service.id), {}))
    return dataclasses.replace(plan.facts, **changed)


@settings(
    max_examples=120,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(FACTS, st.booleans())
def test_proposals_never_clash_and_lie_in_network_and_band(facts, emptied):
    if emptied:  # so that many want an address
        blank = {"address": "", "mac": ""}
        facts = dataclasses.replace(
            facts,
            **{
                name: tuple(dataclasses.replace(one, **blank) for one in getattr(facts, name))
                for name in ("hosts", "servers", "appliances", "devices")
            },
        )
    plan = Plan(facts)
    claimed = {claim.address for claim in plan.addressing.claims}
    alone = [
        one
        for one in plan.layout.proposals
        if not (one.wanting.role == "service" and len(facts.appliances) == 1)
    ]
    assert len({one.address for one in alone}) == len(alone)
    for one in alone:
        span = plan.addressing.span(one.wanting.network_id)
        network = ipaddress.ip_network(span.cidr)
        assert ipaddress.ip_address(one.text) in network and one.address not in claimed
        if network.prefixlen < 31:
            assert one.text not in (str(network.network_address), str(network.broadcast_address))
        closed = shut(plan, span)
        inside = [run for run in closed if run[0] <= one.address <= run[1]]
        assert not inside or (one.leased and one.wanting.reserved and inside == [span.dhcp])
        part = bands.part(one.wanting.role, span.block)
        assert one.in_band == bool(part and part[0] <= one.address <= part[1])
        if part and not one.in_band and part[1] - part[0] < 5000:
            used = {*span.taken, *(other.address for other in plan.layout.proposals)}
            rest = [
                n
                for n in range(part[0], part[1] + 1)
                if n not in used and not any(low <= n <= high for low, high in closed)
            ]
            assert rest == []  # its band had nothing left


@settings(
    max_examples=80,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(FACTS)
def test_once_written_down_nothing_is_worse_and_nobody_waits(facts):
    plan = Plan(facts)
    after = Plan(with_addresses(plan))
    assert {clash.address for clash in after.addressing.clashes} <= {
        clash.address for clash in plan.addressing.clashes
    }
    before = {(problem.kind, problem.claim.holder) for problem in plan.addressing.problems}
    laid = {one.wanting.holder for one in plan.layout.proposals}
    worse = {(p.kind, p.claim.holder) for p in after.addressing.problems} - before
    assert not {holder for _, holder in worse} & laid
    assert not laid & {one.holder for one in layout.wanting(after.facts, after.addressing)}
