"""The port sheet: which flows a site has, and that nothing is made up where facts are missing."""

from __future__ import annotations

import datetime as dt
import typing

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.catalogue import files as catalogue
from planner.engine.flows import port_sheet as flows
from planner.engine.flows import ports as flow_ports
from planner.engine.flows import rules as flow_rules
from planner.engine.flows.gaps import Gap, Gaps
from planner.record import facts as f
from tests.factories import TODAY, make, site_facts


def flows_of(*records, **values) -> dict[str, list[flows.Flow]]:
    by_rule: dict[str, list[flows.Flow]] = {}
    for flow in flows.work_out(site_facts(*records, **values)).flows:
        by_rule.setdefault(flow.rule, []).append(flow)
    return by_rule


def openings_of(found: list[flows.Flow]) -> set[str]:
    return {f"{flow.ports}/{flow.transport}" for flow in found}


def small_site() -> list[f.Record]:
    """Two desktops' networks, a client LAN behind a firewall, one directory server, two hosts."""
    core = f.Network(id=1, name="core", purpose="management", cidr="10.44.1.0/24", reaches=(2,))
    desks = f.Network(
        id=2,
        name="desks",
        purpose="desktops",
        cidr="10.44.2.0/24",
        dhcp="range",
        dhcp_server="dc-1",
    )
    lan = f.Network(id=3, name="lan", purpose="clients", cidr="10.44.3.0/24")
    return [
        core,
        desks,
        lan,
        f.Host(id=1, name="mill-h1", network_id=1, address="10.44.1.11"),
        f.Host(id=2, name="mill-h2", network_id=1, address="10.44.1.12"),
        f.Server(
            id=1,
            name="dc-1",
            network_id=1,
            address="10.44.1.5",
            roles=("directory", "dns", "dhcp", "time"),
        ),
        f.Service(
            name="desks",
            entry_name="desk.larkfield.example",
            network_id=1,
            address="10.44.1.30",
            agent_ports=("8443/tcp", "9000-9010/udp"),
        ),
        f.Appliance(id=1, name="broker-1", host_id=1, network_id=1, address="10.44.1.31"),
        f.Protocol(id=1, name="RDP", tcp_port=3389, udp_port=3389),
        f.Image(id=1, name="office", activation="key-server"),
        f.Template(id=1, name="front desk", network_id=2, image_id=1, protocol_id=1),
        f.SeatGroup(id=1, name="Reception", template_id=1, network_id=3, people=24),
        f.Directory(directory_kind="domain", domain="corp.larkfield.example"),
    ]


def test_every_rule_of_the_catalogue_has_its_function_and_its_words():
    rules = catalogue.load("ports")["rules"]
    assert set(rules) == set(flow_rules.RULES)
    for key, entry in rules.items():
        assert set(entry) == {"name", "ports", "direction", "why", "source", "proofs"}, key
        assert entry["direction"] in ("one way", "both ways"), key
        assert entry["name"] and entry["why"] and entry["source"], key
        assert all(flow_ports.openings(port) for port in entry["ports"]), key


def test_an_empty_site_has_no_flows():
    assert flows.work_out(site_facts()).flows == ()


def test_people_reach_the_entry_name_through_the_firewall():
    [entry] = flows_of(*small_site())["entry"]
    assert (entry.ports, entry.transport, entry.iana) == ("443", "tcp", "https")
    assert entry.source.label == "people: Reception"
    assert entry.source.network_ids == (3,)
    assert entry.source.addresses == ("10.44.3.0/24",)
    assert entry.target.label == "entry: desk.larkfield.example"
    assert entry.target.network_ids == (1,)
    assert entry.target.addresses == ("10.44.1.30",)
    assert entry.crosses == "firewall"


def test_people_reach_desktops_by_the_templates_protocol():
    found = flows_of(*small_site())["display"]
    assert openings_of(found) == {"3389/tcp", "3389/udp"}
    assert {flow.iana for flow in found} == {
        "ms-wbt-server"
    }  # Source: IANA port registry, port 3389
    assert {(flow.source.network_ids, flow.target.network_ids) for flow in found} == {((3,), (2,))}


@pytest.mark.parametrize(
    ("protocol", "expected"),
    [
        (f.Protocol(id=1, name="RDP"), {"3389/tcp", "3389/udp"}),  # not typed: the registered ones
        (f.Protocol(id=1, name="rfb"), {"5900/tcp"}),
        (f.Protocol(id=1, name="Other", tcp_port=7000), {"7000/tcp"}),
        (f.Protocol(id=1, name="RDP", tcp_port=13389), {"13389/tcp"}),  # what is typed counts
        (f.Protocol(id=1, name="Other"), {"not known yet/"}),
    ],
)
def test_display_ports_are_as_typed(protocol, expected):
    records = [record for record in small_site() if not isinstance(record, f.Protocol)]
    assert openings_of(flows_of(*records, protocol)["display"]) == expected


def test_people_do_not_reach_the_desktops_of_another_template():
    other = f.Template(id=2, name="workshop", network_id=1, protocol_id=1)
    workers = f.SeatGroup(id=2, name="Workshop", template_id=2, network_id=2)
    pairs = {
        (flow.source.label, flow.target.label)
        for flow in flows_of(*small_site(), other, workers)["display"]
    }
    assert pairs == {
        ("people: Reception", "desktops: front desk"),
        ("people: Workshop", "desktops: workshop"),
    }


def test_agent_ports_both_ways_without_a_firewall():
    found = flows_of(*small_site())["agent"]
    assert openings_of(found) == {"8443/tcp", "9000-9010/udp"}
    assert {flow.direction for flow in found} == {"both ways"}
    assert {flow.crosses for flow in found} == {
        "host firewalls only"
    }  # network 1 reaches network 2


def test_agent_ports_that_nobody_wrote_down_are_not_known():
    records = [record for record in small_site() if not isinstance(record, f.Service)]
    [agent] = flows_of(*records, f.Service(name="desks"))["agent"]
    assert (agent.ports, agent.transport, agent.iana) == ("not known yet", "", "")


def test_directory_ports():
    # Source: Microsoft, article 179442, client to server ports of a domain; RFC 6335 section 6 for the range
    expected = {
        "88/tcp",
        "88/udp",
        "123/udp",
        "135/tcp",
        "389/tcp",
        "389/udp",
        "445/tcp",
        "464/tcp",
        "464/udp",
        "3268/tcp",
        "49152-65535/tcp",
        "/icmp",
    }
    found = flows_of(*small_site())
    assert openings_of(found["directory"]) == expected
    assert {flow.target.label for flow in found["directory"]} == {"directory servers: dc-1"}
    assert {flow.source.label for flow in found["directory"]} == {
        "desktops: front desk; appliances: broker-1"
    }
    assert openings_of(found["dns"]) == {"53/udp", "53/tcp"}


def test_no_directory_no_directory_flows():
    records = [record for record in small_site() if not isinstance(record, f.Server | f.Directory)]
    found = flows_of(*records, f.Directory(directory_kind="own-accounts"))
    assert "directory" not in found
    assert found["clock"][0].target.label == "time servers: not known yet"


def test_a_domain_without_servers_leaves_the_end_open():
    records = [record for record in small_site() if not isinstance(record, f.Server)]
    found = flows_of(*records)["directory"]
    assert {flow.target.label for flow in found} == {"directory servers: not known yet"}
    assert {flow.crosses for flow in found} == {"not known"}
    assert {flow.target.network_ids for flow in found} == {()}


def test_a_record_without_a_network_is_on_the_one_its_address_is_in():
    records = [record for record in small_site() if not isinstance(record, f.Server)]
    server = f.Server(id=1, name="dc-1", address="10.44.1.5", roles=("directory",))
    assert {flow.target.network_ids for flow in flows_of(*records, server)["directory"]} == {(1,)}
    outside = f.Server(id=1, name="dc-1", address="192.0.2.5", roles=("directory",))
    assert {flow.target.network_ids for flow in flows_of(*records, outside)["directory"]} == {()}


def test_of_nested_subnets_the_smallest_holds_the_address():
    wide = f.Network(id=1, name="wide", cidr="10.44.0.0/16")
    inner = f.Network(id=2, name="inner", cidr="10.44.1.0/24")
    for networks in ((wide, inner), (inner, wide)):
        ends = flows.Ends(site_facts(*networks))
        assert (
            ends.network_of("10.44.1.5"),
            ends.network_of("10.44.2.5"),
            ends.network_of("10.45.0.1"),
        ) == (
            2,
            1,
            None,
        )


def test_reaching_counts_from_either_side():
    ends = flows.Ends(site_facts(*small_site()))
    assert flows.crosses(1, 2, ends) == flows.crosses(2, 1, ends) == "host firewalls only"
    assert flows.crosses(1, 3, ends) == "firewall"
    assert flows.crosses(3, 3, ends) == "host firewalls only"
    assert flows.crosses(None, 3, ends) == "not known"


def test_sources_on_both_sides_of_a_firewall_are_told_apart():
    far = f.Template(id=2, name="far", network_id=3)
    crossing = {
        flow.crosses: flow.source.label
        for flow in flows_of(*small_site(), far)["directory"]
        if flow.ports == "135"
    }
    assert crossing == {
        "firewall": "desktops: far",
        "host firewalls only": "desktops: front desk; appliances: broker-1",
    }


def test_leases_are_asked_for_at_67_and_answered_at_68():
    # Source: RFC 2131 section 4.1: DHCP messages to a server go to port 67, to a client to port 68
    found = flows_of(*small_site())
    [ask], [answer] = found["lease"], found["lease-answer"]
    assert (ask.ports, ask.iana, ask.target.label) == ("67", "bootps", "DHCP server: dc-1")
    assert (answer.ports, answer.iana, answer.source.label) == ("68", "bootpc", "DHCP server: dc-1")
    assert ask.source.label == answer.target.label == "desktops: front desk"


def test_a_server_on_another_network_answers_the_relay_at_67():
    """Source: RFC 2131 section 4.1: with giaddr set, the server answers to the DHCP server port of the relay agent."""
    desks = f.Network(
        id=2,
        name="desks",
        purpose="desktops",
        cidr="10.44.2.0/24",
        gateway="10.44.2.1",
        dhcp="range",
        dhcp_server="dc-1",
    )
    kept = [one for one in small_site() if one.ref != f.Ref("network", 2)]
    found = flows_of(*kept, desks)
    [ask], [answer] = found["lease-relayed"], found["lease-relayed-answer"]
    for one in (ask, answer):
        assert (one.ports, one.transport) == ("67", "udp")
    assert ask.source.label == answer.target.label == "DHCP relay: gateway of desks"
    assert (ask.source.addresses, ask.target.addresses) == (("10.44.2.1",), ("10.44.1.5",))
    assert answer.source.addresses == ("10.44.1.5",)
    [renewed] = found["lease"]
    assert renewed.source.addresses == ("10.44.2.0/24",)  # renewals go by themselves


def test_a_server_on_the_desktops_own_network_needs_no_relay():
    at_home = f.Server(id=1, name="dc-1", network_id=2, address="10.44.2.5", roles=("dhcp",))
    kept = [one for one in small_site() if one.ref != f.Ref("server", 1)]
    assert not {"lease-relayed", "lease-relayed-answer"} & set(flows_of(*kept, at_home))


def test_a_relay_whose_address_nobody_knows_is_a_gap():
    facts = site_facts(*small_site())
    [ask] = [one for one in flows.work_out(facts).flows if one.rule == "lease-relayed"]
    assert Gap("the gateway of desks", f.Ref("network", 2, "gateway")) in Gaps(facts).of(ask)


def test_no_leases_on_a_network_without_dhcp():
    records = [record for record in small_site() if record.ref != f.Ref("network", 2)]
    assert "lease" not in flows_of(*records, f.Network(id=2, name="desks", dhcp="none"))


def test_only_key_server_activation_asks_a_key_server():
    found = flows_of(*small_site())["activation"]
    assert openings_of(found) == {"1688/tcp"}  # Source: publisher's activation planning guide
    assert found[0].target.label == "key servers: not known yet"
    records = [record for record in small_site() if not isinstance(record, f.Image)]
    assert "activation" not in flows_of(
        *records, f.Image(id=1, name="office", activation="subscription")
    )


def test_profiles_go_to_the_server_named_in_the_words():
    template = f.Template(
        id=2, name="workshop", network_id=2, profile_place="profile share on Files-1"
    )
    servers = [
        f.Server(id=7, name="files-1", network_id=1, address="10.44.1.7", roles=("files",)),
        f.Server(id=8, name="files-2", network_id=1, address="10.44.1.8", roles=("files",)),
    ]
    targets = {
        flow.source.label: flow.target.label
        for flow in flows_of(*small_site(), template, *servers)["profile"]
    }
    assert targets == {
        "desktops: front desk": "file servers: files-1, files-2",
        "desktops: workshop": "file servers: files-1",
    }


def test_printing_through_the_server_where_there_is_one():
    printer = f.Device(
        id=1, name="pr-1", what="Printer, ground floor", network_id=3, address="10.44.3.60"
    )
    direct = flows_of(*small_site(), printer)
    assert openings_of(direct["printer"]) == {"631/tcp", "9100/tcp"}
    assert {flow.source.label for flow in direct["printer"]} == {"desktops: front desk"}
    server = f.Server(id=9, name="print-1", network_id=1, roles=("print",))
    served = flows_of(*small_site(), printer, server)
    assert {flow.source.label for flow in served["printer"]} == {"print servers: print-1"}
    assert {flow.source.label for flow in served["print-server"]} == {"desktops: front desk"}


def test_administrators_come_from_the_management_network():
    found = flows_of(
        *small_site(), f.Host(id=3, name="mill-h3", network_id=1, out_of_band_address="10.44.3.9")
    )
    assert openings_of(found["administer-hosts"]) == {"443/tcp", "22/tcp"}
    assert {flow.source.addresses for flow in found["administer-hosts"]} == {("10.44.1.0/24",)}
    [board] = found["administer-boards"]
    assert (board.target.network_ids, board.target.addresses, board.crosses) == (
        (3,),
        ("10.44.3.9",),
        "firewall",
    )
    records = [record for record in small_site() if not isinstance(record, f.Network)]
    assert flows_of(*records)["administer-hosts"][0].source.label == "administrators: not known yet"


def test_nobody_asks_itself_for_the_time():
    own = f.Directory(directory_kind="domain", domain="corp.larkfield.example", time_source="dc-1")
    records = [record for record in small_site() if not isinstance(record, f.Directory)]
    sources = {flow.source.label for flow in flows_of(*records, own)["clock"]}
    assert sources == {"hosts: mill-h1, mill-h2"}


def test_own_flows_are_taken_as_typed():
    own = make(
        f.OwnFlow,
        name="records to their database",
        from_network_id=2,
        from_what="desktops",
        to_network_id=3,
        to_what="records-db",
        transport="tcp",
        ports="5432",
    )
    web = make(f.OwnFlow, name="status page", to_what="10.44.1.31", transport="tcp", ports="80")
    database, status = flows_of(*small_site(), own, web)["own"]
    assert database.own
    assert database.record == own.ref
    assert (database.ports, database.transport, database.iana) == ("5432", "tcp", "")
    assert database.crosses == "firewall"
    assert database.why == "records to their database"
    assert status.iana == "http"
    assert (status.source.label, status.crosses) == ("not known yet", "not known")
    assert status.target.network_ids == (1,)  # by its address


def test_flows_between_networks_for_the_drawing():
    between = flows.work_out(site_facts(*small_site())).between
    assert {flow.rule for flow in between[3, 2]} == {"display"}
    assert all(source != target for source, target in between)


def test_hundreds_of_networks_stay_few_lines_and_fast():
    networks = [
        f.Network(id=n, name=f"n{n}", cidr=f"10.{n // 250}.{n % 250}.0/24") for n in range(1, 1001)
    ]
    templates = [f.Template(id=n, name=f"t{n}", network_id=n) for n in range(1, 1001)]
    servers = [
        f.Server(id=n, name=f"dc-{n}", network_id=n, roles=("directory", "dns", "dhcp", "time"))
        for n in range(1, 1001)
    ]
    found = flows_of(*networks, *templates, *servers, f.Directory(directory_kind="domain"))
    assert len(found["directory"]) == 12  # one line a port, not one a pair of networks
    assert {flow.crosses for flow in found["directory"]} == {"firewall"}
    assert len(found["directory"][0].target.holders) == 1000


def test_every_address_is_kept_for_the_firewall():
    many = [
        f.Host(id=n, name=f"h{n}", network_id=1, address=f"10.44.1.{n}") for n in range(100, 200)
    ]
    [flow] = flows_of(*small_site(), *many)["hypervisor"]
    assert len(flow.target.addresses) == 102 and "10.44.1.199" in flow.target.addresses
    assert flow.target.label.endswith("and 96 more")
    assert [holder.ref for holder in flow.target.holders][-1] == f.Ref("host", 199)


# -- whatever the facts ---------------------------------------------------------------------------

WORDS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["10.44.1.5", "dc-1", "RDP", "443", "8443/tcp", "::1", "0/0"]),
)
IDS = st.one_of(st.none(), st.integers(0, 4))


def _values(hint: typing.Any) -> st.SearchStrategy:
    base = [arg for arg in typing.get_args(hint) if arg is not type(None)] or [hint]
    if typing.get_origin(hint) is tuple:
        return st.lists(WORDS if base[0] is str else st.integers(0, 4), max_size=3).map(tuple)
    known = {
        str: WORDS,
        int: st.integers(-1, 70_000),
        float: st.floats(-1, 1e9),
        bool: st.booleans(),
        dt.date: st.just(TODAY),
        dt.time: st.just(dt.time(8)),
    }
    value = known[base[0]]
    return value if type(None) not in typing.get_args(hint) else st.one_of(st.none(), value)


def any_record(cls: type[f.Record]) -> st.SearchStrategy:
    hints = typing.get_type_hints(cls)
    fields = {
        name: IDS if name.endswith("_id") or name == "id" else _values(hint)
        for name, hint in hints.items()
        if typing.get_origin(hint) is not typing.ClassVar
    }
    fields["id"] = st.integers(0, 4)
    roles = ("directory", "dns", "dhcp", "time", "keys", "files", "print", "logs", "logs-tls")
    choices = {"roles": roles, "reaches": range(5)}
    for name, allowed in choices.items():
        if name in fields:
            fields[name] = st.lists(st.sampled_from(list(allowed)), max_size=4).map(tuple)
    for name, allowed in {
        "dhcp": ("", "none", "range"),
        "sharing": ("", "shared"),
        "reached_by": ("", "iscsi", "nfs", "direct"),
        "outside_access": ("", "none", "vpn", "gateway"),
        "activation": ("key-server", ""),
    }.items():
        if name in fields:
            fields[name] = st.sampled_from(allowed)
    return st.builds(cls, **fields)


LISTED = (
    f.Network,
    f.Device,
    f.Host,
    f.Datastore,
    f.Server,
    f.Appliance,
    f.Protocol,
    f.Image,
    f.Template,
    f.SeatGroup,
    f.OwnFlow,
)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.one_of(*map(any_record, LISTED)), max_size=14),
    any_record(f.Service),
    any_record(f.Directory),
)
def test_any_facts_give_whole_flows(records, service, directory):
    facts = site_facts(*records, service, directory)
    networks = {network.id for network in facts.networks}
    for flow in flows.work_out(facts).flows:
        assert flow.source.label and flow.target.label
        assert flow.transport in ("tcp", "udp", "icmp", "") or flow.own
        assert flow.crosses in ("firewall", "host firewalls only", "not known")
        assert {*flow.source.network_ids, *flow.target.network_ids} <= networks
        if flow.crosses != "not known" and not (flow.source.outside or flow.target.outside):
            assert flow.source.network_ids and flow.target.network_ids
        known = {holder.network_id for end in (flow.source, flow.target) for holder in end.holders}
        assert known - {None} == {*flow.source.network_ids, *flow.target.network_ids}


# -- lines that follow from facts ----------------------------------------------------------------


def service_with(**values) -> list[f.Record]:
    return [
        f.Service(**{**{name: getattr(one, name) for name in one.__slots__}, **values})
        if isinstance(one, f.Service)
        else one
        for one in small_site()
    ]


def test_appliances_speak_to_each_other_by_their_suppliers_ports():
    second = f.Appliance(id=2, name="broker-2", host_id=2, network_id=1, address="10.44.1.32")
    assert "appliances" not in flows_of(*small_site())
    unsaid = flows_of(*small_site(), second)["appliances"]
    both = "appliances: broker-1, broker-2"
    assert {(one.source.label, one.target.label) for one in unsaid} == {(both, both)}
    assert {one.ports for one in unsaid} == {"not known yet"}
    said = flows_of(*service_with(appliance_ports=("8444/tcp",)), second)["appliances"]
    assert openings_of(said) == {"8444/tcp"}


def test_hosts_give_each_other_images():
    found = flows_of(*service_with(copy_ports=("8445/tcp",)))["host-copies"]
    both = "hosts: mill-h1, mill-h2"
    assert {(one.source.label, one.target.label) for one in found} == {(both, both)}
    third = f.Host(id=3, name="mill-h3", network_id=1, address="10.44.1.13")
    pairs = {
        (source.name, target.name)
        for one in flows_of(*service_with(copy_ports=("8445/tcp",)), third)["host-copies"]
        for source in one.source.holders
        for target in one.target.holders
    }
    names = ("mill-h1", "mill-h2", "mill-h3")
    assert {(one, other) for one in names for other in names if one != other} <= pairs


def test_the_hypervisors_ports_are_those_of_its_papers():
    assert openings_of(flows_of(*small_site())["hypervisor"]) == {"443/tcp"}
    found = flows_of(*service_with(hypervisor_ports=("5989/tcp", "443/tcp")))["hypervisor"]
    assert openings_of(found) == {"5989/tcp", "443/tcp"}


def test_batteries_watching_mail_and_backup_have_their_lines():
    """Source: RFC 3417 (161/udp), RFC 6409 (587/tcp), RFC 5321 (25/tcp)."""
    others = [
        f.Device(id=5, name="ups-1", what="UPS in the rack", network_id=1, address="10.44.1.50"),
        f.Server(id=7, name="watch-1", network_id=1, address="10.44.1.7", roles=("watching",)),
        f.Server(id=8, name="mail-1", network_id=1, address="10.44.1.8", roles=("mail",)),
        f.Server(id=9, name="store-1", network_id=1, address="10.44.1.9", roles=("files",)),
    ]
    found = flows_of(*service_with(backup_place="share on store-1"), *others)
    assert openings_of(found["power"]) == {"161/udp"}
    assert found["power"][0].target.addresses == ("10.44.1.50",)
    assert openings_of(found["watching"]) == {"161/udp", "/icmp"}
    assert openings_of(found["alarm-mail"]) == {"587/tcp", "25/tcp"}
    [backup] = found["service-backup"]
    assert (backup.target.label, backup.ports) == ("backup: store-1", "not known yet")
    assert not {"power", "watching", "alarm-mail", "service-backup"} & set(flows_of(*small_site()))


def test_updates_come_from_the_world():
    found = flows_of(*small_site())["updates"]
    assert openings_of(found) == {"443/tcp", "80/tcp"}
    assert all(one.target.outside and one.crosses == "firewall" for one in found)
