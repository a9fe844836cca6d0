"""What the port sheet says is missing, and where it would be written."""

from __future__ import annotations

import dataclasses

import pytest

from planner.engine.flows import port_sheet as flows
from planner.engine.flows.gaps import MOST, Gap, Gaps, undecided
from planner.record import facts as f
from tests.engine.test_flows import small_site
from tests.engine.test_flows_decided import outside_site, with_directory
from tests.factories import site_facts


def gaps_of(*records: f.Record) -> dict[str, set[Gap]]:
    facts = site_facts(*records)
    gaps = Gaps(facts)
    found: dict[str, set[Gap]] = {}
    for flow in flows.work_out(facts).flows:
        found.setdefault(flow.rule, set()).update(gaps.of(flow))
    return found


def test_what_is_missing_leads_to_where_it_is_written():
    records = [
        one for one in small_site() if not isinstance(one, f.Server | f.Protocol | f.Appliance)
    ]
    found = gaps_of(*records)
    assert found["directory"] == {Gap("a server that answers for the directory", section="servers")}
    assert found["agent"] == {Gap("the appliances", section="appliances")}
    assert found["display"] == {
        Gap("the display protocol of front desk", f.Ref("template", 1, "protocol_id"))
    }
    assert found["activation"] == {
        Gap("a server that answers for activation keys", section="servers")
    }
    assert found["entry"] == set()


@pytest.mark.parametrize(
    ("record", "rule", "gap"),
    [
        (
            f.Host(id=1, name="mill-h1"),
            "hypervisor",
            Gap("the network of mill-h1", f.Ref("host", 1, "network_id")),
        ),
        (
            f.Host(id=1, name="mill-h1", network_id=1),
            "hypervisor",
            Gap("the address of mill-h1", f.Ref("host", 1, "address")),
        ),
        (
            f.Host(id=1, name="mill-h1", address="192.0.2.9"),
            "hypervisor",
            Gap("the network that 192.0.2.9 (mill-h1) lies in", section="networks"),
        ),
        (
            f.Network(id=3, name="lan", purpose="clients"),
            "entry",
            Gap("the subnet of lan", f.Ref("network", 3, "cidr")),
        ),
        (
            f.Protocol(id=1, name="Other"),
            "display",
            Gap("the ports of Other", f.Ref("protocol", 1, "tcp_port")),
        ),
        (
            f.SeatGroup(id=1, name="Reception", template_id=1),
            "entry",
            Gap("the network of Reception", f.Ref("seatgroup", 1, "network_id")),
        ),
        (
            f.Service(network_id=1, address="10.44.1.30", agent_ports=("8443/tcp",)),
            "entry",
            Gap("the entry name", f.Ref("service", 0, "entry_name")),
        ),
        (
            f.Service(network_id=1, address="10.44.1.30"),
            "agent",
            Gap("the ports of the desktop agent", f.Ref("service", 0, "agent_ports")),
        ),
    ],
)
def test_each_missing_fact_is_told(record, rule, gap):
    kept = [
        one
        for one in small_site()
        if one.ref != record.ref and not (record.kind == one.kind == "service")
    ]
    assert gap in gaps_of(*kept, record)[rule]


def test_a_whole_site_misses_nothing():
    keys = f.Server(id=5, name="keys-1", network_id=1, address="10.44.1.8", roles=("keys",))
    clock = f.Device(id=9, name="ntp.example.net", what="clock", network_id=1, address="10.44.1.9")
    told = with_directory(time_source="ntp.example.net", ldaps=False)
    facts = site_facts(
        *(one for one in told if one.ref != f.Ref("network", 2)),
        dataclasses.replace(site_facts(*told).networks[1], gateway="10.44.2.1"),
        keys,
        clock,
        f.Service(
            id=1,
            name="x",
            entry_name="desk.example",
            network_id=1,
            address="10.44.1.30",
            agent_ports=("8443/tcp",),
            copy_ports=("8445/tcp",),
            outside_access="none",
        ),
    )
    gaps = Gaps(facts)
    assert [gap for flow in flows.work_out(facts).flows for gap in gaps.of(flow)] == []
    assert list(undecided(facts)) == []


def test_gaps_of_the_way_in_and_of_storage():
    found = gaps_of(
        *outside_site(
            f.Datastore(id=6, name="san", sharing="shared"),
            outside_device_id=None,
            outside_ports=(),
        )
    )
    assert found["outside"] == {
        Gap("which device is the gateway", f.Ref("service", 0, "outside_device_id")),
        Gap("the ports that answer to the outside", f.Ref("service", 0, "outside_ports")),
    }
    assert found["storage-undecided"] == {
        Gap("the storage network", section="networks"),
        Gap("how hosts reach san: iSCSI or NFS", f.Ref("datastore", 6, "reached_by")),
    }


def test_own_flows_say_which_side_is_missing():
    own = f.OwnFlow(id=4, name="status page", to_network_id=1, to_what="10.44.1.31")
    assert gaps_of(*small_site(), own)["own"] == {
        Gap("where “status page” goes from", f.Ref("flow", 4, "from_network_id")),
        Gap("the port of “status page”", f.Ref("flow", 4, "transport")),
    }


def test_what_nobody_decided():
    kept = [one for one in with_directory() if not isinstance(one, f.Image | f.Network)]
    facts = site_facts(
        *kept, f.Image(id=1, name="office"), f.Network(id=2, name="desks", purpose="desktops")
    )
    assert {gap.at for gap in undecided(facts)} == {
        facts.directory.ref.at("ldaps"),
        facts.service.ref.at("outside_access"),
        f.Ref("image", 1, "activation"),
        f.Ref("network", 2, "dhcp"),
    }


def test_few_gaps_of_many_holders():
    hosts = [f.Host(id=n, name=f"h{n}") for n in range(100, 400)]
    assert len(gaps_of(*small_site(), *hosts)["hypervisor"]) == MOST


def test_an_own_flow_is_whole_with_its_networks():
    own = f.OwnFlow(
        id=4,
        name="records",
        from_network_id=2,
        to_network_id=3,
        to_what="records-db",
        transport="tcp",
        ports="5432",
    )
    assert gaps_of(*small_site(), own)["own"] == set()
    moved = dataclasses.replace(own, transport="icmp", ports="")
    assert gaps_of(*small_site(), moved)["own"] == set()
