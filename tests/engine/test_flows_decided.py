"""The port sheet: which facts decide that a line is there, and that none is there without them."""

from __future__ import annotations

import dataclasses

import pytest

from planner.record import facts as f
from tests.engine.test_flows import flows_of, openings_of, small_site


def with_directory(**values) -> list[f.Record]:
    """The small site with another directory."""
    kept = [record for record in small_site() if not isinstance(record, f.Directory)]
    return [*kept, f.Directory(directory_kind="domain", domain="corp.larkfield.example", **values)]


@pytest.mark.parametrize(
    ("ldaps", "expected"), [(True, {"636/tcp", "3269/tcp"}), (False, set()), (None, set())]
)
def test_the_directory_over_tls_only_where_somebody_said_so(ldaps, expected):
    # Source: Microsoft, article 179442: LDAP SSL 636, global catalog LDAP SSL 3269; registered names from IANA
    found = flows_of(*with_directory(ldaps=ldaps))
    assert openings_of(found.get("directory-tls", [])) == expected
    assert "636" not in {flow.ports for flow in found["directory"]}
    assert {flow.target.label for flow in found.get("directory-tls", [])} <= {
        "directory servers: dc-1"
    }


def test_shared_datastores_bring_storage_flows():
    store = f.Datastore(id=1, name="san", sharing="shared")
    san = f.Network(id=9, name="san", purpose="storage", cidr="10.44.9.0/24")
    found = flows_of(*small_site(), store, san)["storage-undecided"]
    assert openings_of(found) == {"3260/tcp", "2049/tcp"}  # Source: RFC 7143; RFC 7530 section 3.1
    assert {flow.target.network_ids for flow in found} == {(9,)}
    local = flows_of(
        *small_site(), f.Datastore(id=1, name="h1-local", sharing="local", reached_by="iscsi")
    )
    assert not {"storage", "storage-undecided"} & set(local)


@pytest.mark.parametrize(
    ("by", "expected"), [("iscsi", {"3260/tcp"}), ("nfs", {"2049/tcp"}), ("direct", set())]
)
def test_shared_storage_opens_only_what_it_speaks(by, expected):
    # Source: RFC 7143 (iSCSI); RFC 7530 section 3.1 (NFS 4)
    found = flows_of(*small_site(), f.Datastore(id=1, name="san", sharing="shared", reached_by=by))
    assert openings_of(found.get("storage", [])) == expected
    assert "storage-undecided" not in found


def test_logs_only_go_where_a_log_server_is_recorded():
    assert "log" not in flows_of(
        *small_site(), f.Device(id=1, name="dialog-1", what="catalogue terminal")
    )
    found = flows_of(
        *small_site(), f.Device(id=1, name="keeper", what="log server", address="10.44.3.9")
    )["log"]
    assert openings_of(found) == {"514/udp", "6514/tcp"}


@pytest.mark.parametrize(
    ("roles", "expected"),
    [
        (("logs",), {"514/udp"}),
        (("logs-tls",), {"6514/tcp"}),
        (("files",), {"514/udp", "6514/tcp"}),
    ],
)
def test_a_log_servers_roles_say_whether_over_tls(roles, expected):
    # Source: RFC 5426 section 3.3 (UDP 514); RFC 5425 section 4.1 (TLS 6514)
    found = flows_of(
        *small_site(), f.Server(id=9, name="log-1", network_id=1, address="10.44.1.9", roles=roles)
    )
    assert openings_of(found["log"]) == expected
    assert {flow.source.label for flow in found["log"]} == {
        "hosts: mill-h1, mill-h2; appliances: broker-1"
    }


def test_other_servers_take_their_time_from_the_directory():
    # Source: RFC 5905 section 7.2; members ask the domain: Microsoft, article 179442, 123/UDP
    files = f.Server(id=9, name="files-1", network_id=1, address="10.44.1.7", roles=("files",))
    [flow] = [
        flow
        for flow in flows_of(*small_site(), files)["clock"]
        if flow.source.label == "servers: files-1"
    ]
    assert (flow.target.label, flow.ports, flow.transport) == (
        "directory servers: dc-1",
        "123",
        "udp",
    )
    alone = [record for record in small_site() if not isinstance(record, f.Server | f.Directory)]
    clock = f.Server(id=8, name="clock-1", network_id=1, address="10.44.1.8", roles=("time",))
    sources = "; ".join(flow.source.label for flow in flows_of(*alone, files, clock)["clock"])
    assert "files-1" in sources and "clock-1" not in sources


# -- from outside --------------------------------------------------------------------------------


def outside_site(*records: f.Record, **values) -> list[f.Record]:
    """The small site with people who come from outside, by a gateway on a network between two firewalls."""
    service = next(record for record in small_site() if isinstance(record, f.Service))
    perimeter = f.Network(id=5, name="perimeter", purpose="perimeter", cidr="10.44.5.0/28")
    gateway = f.Device(id=1, name="gate-1", what="gateway", network_id=5, address="10.44.5.4")
    standard = {
        "outside_access": "gateway",
        "outside_device_id": 1,
        "outside_ports": ("443/tcp", "443/udp"),
    }
    kept = [record for record in small_site() if not isinstance(record, f.Service)]
    return [
        *kept,
        perimeter,
        gateway,
        dataclasses.replace(service, **{**standard, **values}),
        *records,
    ]


def test_a_gateway_is_reached_from_outside_and_reaches_the_service():
    found = flows_of(*outside_site())
    assert openings_of(found["outside"]) == {"443/tcp", "443/udp"}
    assert {(flow.source.label, flow.target.label) for flow in found["outside"]} == {
        ("people: from outside", "gateway: gate-1")
    }
    assert {flow.crosses for flow in found["outside"]} == {"firewall"}
    assert {flow.source.network_ids for flow in found["outside"]} == {()} and found["outside"][
        0
    ].source.outside
    [entry] = found["outside-entry"]
    assert (entry.source.label, entry.target.label, entry.ports) == (
        "gateway: gate-1",
        "entry: desk.larkfield.example",
        "443",
    )
    assert openings_of(found["outside-display"]) == {"3389/tcp", "3389/udp"}
    assert {flow.target.label for flow in found["outside-display"]} == {"desktops: front desk"}


def test_behind_a_vpn_people_are_on_a_network_of_the_site():
    found = flows_of(*outside_site(outside_access="vpn", outside_ports=("500/udp", "4500/udp")))
    assert openings_of(found["outside"]) == {"500/udp", "4500/udp"}
    assert {flow.iana for flow in found["outside"]} == {
        "isakmp",
        "ipsec-nat-t",
    }  # Source: IANA port registry
    assert {flow.target.label for flow in found["outside"]} == {"VPN: gate-1"}
    assert not {"outside-entry", "outside-display"} & set(found)


@pytest.mark.parametrize("access", ["", "none"])
def test_nothing_from_outside_where_nobody_comes_from_there(access):
    assert not {"outside", "outside-entry", "outside-display"} & set(
        flows_of(*outside_site(outside_access=access))
    )


def test_an_unknown_way_in_is_not_made_up():
    found = flows_of(*outside_site(outside_device_id=None, outside_ports=()))
    [way_in] = found["outside"]
    assert (way_in.target.label, way_in.ports, way_in.transport) == (
        "gateway: not known yet",
        "not known yet",
        "",
    )
    assert way_in.crosses == "firewall"  # whatever it is, the world is outside
    assert {flow.crosses for flow in found["outside-display"]} == {"not known"}
