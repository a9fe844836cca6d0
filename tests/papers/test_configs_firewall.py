"""Firewall rules: what they say, what the kernel makes of them, and what really passes."""

from __future__ import annotations

import dataclasses
import ipaddress
import json
import os
import pathlib
import re
import sys

import pytest

from planner.engine.flows.port_sheet import FIREWALL
from planner.papers.configs.firewall_rules import rules
from planner.plan import Plan
from planner.record import facts as f
from tests.engine.test_flows import small_site
from tests.engine.test_flows_decided import outside_site
from tests.factories import site_facts
from tests.papers import firewall_lab
from tests.papers.config_checkers import accepted, config, reasons
from tests.papers.demo_facts import PLANNED, SITES, demo
from tests.programs import PLACES, apart, missing, program


def small(*records: f.Record, without: type[f.Record] | None = None) -> f.SiteFacts:
    kept = [record for record in small_site() if without is None or not isinstance(record, without)]
    return site_facts(*kept, *records)


def own(**values) -> f.OwnFlow:
    """An own flow from the people's network to the management network."""
    standard = {
        "id": 9,
        "name": "status page",
        "from_network_id": 3,
        "to_network_id": 1,
        "transport": "tcp",
    }
    return f.OwnFlow(**{**standard, "ports": "80", **values})


def lines(made) -> list[str]:
    return [
        line.strip()
        for line in made.text.splitlines()
        if " accept comment " in line and "saddr" in line
    ]


def of_own(flow: f.OwnFlow) -> list[str]:
    return [line for line in lines(config("firewall", small(flow))) if "own flow" in line]


@pytest.mark.parametrize("name", SITES)
def test_the_checker_accepts_the_demo_sites(name, tmp_path):
    made = config("firewall", demo(name))
    assert len(lines(made)) > 10 or name not in PLANNED
    accepted("firewall", made, tmp_path)


def test_every_flow_that_crosses_has_its_rule_and_no_other():
    """Each flow's addresses and port are in a rule, and each rule's are in a flow: read from the rules' own lines."""
    plan = Plan(demo("large"))
    made = config("firewall", demo("large"))
    opened = set()
    sets = read_sets(made.text)
    for line in lines(made):
        source, target, transport, ports = re.match(
            r"ip saddr @(\S+) ip daddr @(\S+) (tcp|udp|icmp) (?:dport (\{.*?\}|\S+)|type echo-request) accept",
            line,
        ).groups()
        for port in (ports or "").strip("{} ").split(", "):
            opened.add((sets[source], sets[target], transport, port))
    wanted = set()
    for flow in plan.flows.through_firewalls:
        ends = [
            frozenset(map(ipaddress.ip_network, end.addresses))
            for end in (flow.source, flow.target)
        ]
        if all(ends):
            wanted.add((*ends, flow.transport, flow.ports))
            if flow.direction == "both ways":
                wanted.add((ends[1], ends[0], flow.transport, flow.ports))
    assert len(wanted) > 30
    assert {single(*one) for one in opened} == {single(*one) for one in wanted}


def test_a_relay_and_its_server_speak_from_67_to_67():
    """Source: RFC 2131 section 4.1. The desktops' broadcast itself passes no gateway."""
    found, _ = rules(Plan(demo("mill")))
    relayed = [one for one in found if one.transport == "udp" and (67, 67) in one.ports]
    ends = {
        (str(source), str(target))
        for one in relayed
        for source in one.source.prefixes
        for target in one.target.prefixes
    }
    assert {("10.44.40.1/32", "10.44.1.5/32"), ("10.44.1.5/32", "10.44.40.1/32")} <= ends


def single(source: frozenset, target: frozenset, transport: str, port: str) -> tuple:
    """The addresses themselves, whether they stand as neighbours or as one prefix."""
    return (
        tuple(ipaddress.collapse_addresses(source)),
        tuple(ipaddress.collapse_addresses(target)),
        transport,
        port,
    )


def read_sets(text: str) -> dict[str, frozenset]:
    found = re.findall(r"set (\S+) \{.*?elements = \{(.*?)\}", text, re.DOTALL)
    return {
        name: frozenset(
            ipaddress.ip_network(one.strip()) for one in inner.split(",") if one.strip()
        )
        for name, inner in found
    }


def test_flows_that_cross_no_firewall_have_no_rule():
    made = config("firewall", small())  # core and desks are joined without a firewall
    assert all("@people" in line.split()[2] for line in lines(made))
    joined = f.Network(id=3, name="lan", purpose="clients", cidr="10.44.3.0/24", reaches=(1, 2))
    kept = [record for record in small_site() if getattr(record, "name", "") != "lan"]
    assert lines(config("firewall", site_facts(*kept, joined))) == []


def test_it_only_speaks_of_forwarding_in_a_table_of_its_own():
    text = config("firewall", demo("mill")).text
    obeyed = [line.strip() for line in text.splitlines() if line and not line.startswith("#")]
    assert obeyed[:2] == ["table inet deskwright_mill", "delete table inet deskwright_mill"]
    assert [line for line in obeyed if "hook" in line] == [
        "type filter hook forward priority filter; policy drop;"
    ]
    assert not re.search(
        r"flush|hook (input|output|prerouting|postrouting)|\bnat\b", "\n".join(obeyed)
    )
    assert "It says nothing about the firewall's own access" in text


def test_rules_carry_the_flows_reason():
    [line] = [line for line in lines(config("firewall", demo("mill"))) if "dport 1688" in line]
    assert line.endswith(
        'comment "activation: The desktop system is activated at the key server, and again every seven days."'
    )


def test_ends_that_may_both_begin_have_a_rule_each_way():
    found = [line.split()[2] for line in lines(config("firewall", demo("mill"))) if "8443" in line]
    assert found == ["@desktops_3", "@appliances_4"]


# -- what cannot be said ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({"ports": ""}, "are no ports"),
        ({"ports": "0"}, "are no ports"),
        ({"ports": "65536"}, "are no ports"),
        (
            {"ports": "5010-5000"},
            "are no ports",
        ),  # the checker refuses it too, but says where in the file
        ({"ports": "80; accept"}, "are no ports"),
        ({"ports": "http"}, "are no ports"),
        ({"transport": ""}, "its transport is not known"),
        ({"transport": "sctp"}, "its transport is not known"),
        (
            {"to_network_id": None, "to_what": "the internet"},
            "nobody knows whether it crosses a firewall",
        ),
        ({"to_what": "0.0.0.0/0"}, "is unknown to the plan"),
        ({"to_what": "10.99.0.1"}, "10.99.0.1 does not lie in core"),
        (
            {"to_what": "records-db"},
            "“records-db” is unknown to the plan, and its whole network would be more",
        ),
        ({"to_what": "2001:db8::1"}, "IPv4 addresses only, the other IPv6"),
        ({"to_what": "224.0.0.9"}, "224.0.0.9 does not lie in core"),
    ],
)
def test_a_flow_that_cannot_be_said_is_left_out(values, why, tmp_path):
    made = config("firewall", small(own(**values)))
    accepted("firewall", made, tmp_path)
    assert of_own(own(**values)) == []
    assert why in reasons(made)


@pytest.mark.parametrize(
    "what", ["", "Everybody", "the network", "core", "mill-h1", "10.44.1.11", "10.44.1.99"]
)
def test_an_end_that_is_known_may_be_typed_in_any_of_these_ways(what):
    assert len(of_own(own(to_what=what))) == 1


@pytest.mark.parametrize(
    ("ports", "expected"),
    [
        ("80", "80"),
        ("5000-5010", "5000-5010"),
        ("443, 80", "{ 80, 443 }"),
        ("80, 80", "80"),
        ("80-90, 85-95", "80-95"),
        ("5000 – 5010", "5000-5010"),
    ],
)
def test_ports_are_as_typed(ports, expected, tmp_path):
    accepted("firewall", config("firewall", small(own(ports=ports))), tmp_path)
    [line] = of_own(own(ports=ports))
    assert f" tcp dport {expected} accept " in line


def test_icmp_means_the_echo_request():
    [line] = of_own(own(transport="icmp", ports=""))
    assert " icmp type echo-request accept " in line


def test_ipv6_has_sets_and_rules_of_its_own(tmp_path):
    made = config(
        "firewall", small(own(from_what="2001:db8:3::5", to_what="2001:db8:1::9", transport="icmp"))
    )
    accepted("firewall", made, tmp_path)
    [line] = [line for line in lines(made) if "own flow" in line]
    assert re.match(r"ip6 saddr @\S+ ip6 daddr @\S+ icmpv6 type echo-request accept", line)
    assert "type ipv6_addr" in made.text


def test_the_same_flow_twice_is_one_rule():
    twice = [own(), own(id=10, name="status page again")]
    found = [line for line in lines(config("firewall", small(*twice))) if "own flow" in line]
    assert len(found) == 1  # the checker takes both without a word


def test_a_port_that_is_open_already_is_not_opened_again():
    wide, narrow = own(ports="80-90"), own(id=10, name="narrow", ports="85, 99")
    found = [line for line in lines(config("firewall", small(wide, narrow))) if "own flow" in line]
    assert [re.search(r"dport (\S+)", line)[1] for line in found] == ["80-90", "99"]


def test_an_address_that_two_claim_is_never_opened():
    twin = f.Device(id=5, name="twin", network_id=1, address="10.44.1.30")
    made = config("firewall", small(twin))
    assert "10.44.1.30" not in made.text.partition("delete table")[2]
    assert "claimed more than once, by twin and desks" in reasons(made)


def test_an_address_that_moves_is_never_opened():
    service = dataclasses.replace(
        next(one for one in small_site() if isinstance(one, f.Service)), address_origin="dynamic"
    )
    made = config("firewall", small(service, without=f.Service))
    assert "10.44.1.30" not in made.text.partition("delete table")[2]
    assert "it is dynamic" in reasons(made)


def test_however_many_addresses_none_is_cut_off(tmp_path):
    many = [
        f.Host(id=n, name=f"h{n}", network_id=1, address=f"10.44.1.{n}") for n in range(100, 240, 2)
    ]
    far = f.Network(id=8, name="far", purpose="management", cidr="10.44.8.0/24")
    made = config("firewall", small(far, *many))
    accepted("firewall", made, tmp_path)
    hosts = {str(prefix) for prefixes in read_sets(made.text).values() for prefix in prefixes}
    assert {f"{host.address}/32" for host in many} <= hosts
    assert " more" not in reasons(made)


def test_a_machine_without_an_address_is_told():
    far = f.Network(id=8, name="far", purpose="management", cidr="10.44.8.0/24")
    bare = f.Host(id=99, name="mill-h9", network_id=1)
    made = config("firewall", small(far, bare))
    assert "mill-h9 in administration of hosts: its address is not known" in reasons(made)
    assert next(problem.at for problem in made.problems if "mill-h9" in problem.what) == f.Ref(
        "host", 99
    )


def test_the_world_outside_is_never_opened(tmp_path):
    made = config("firewall", site_facts(*outside_site()))
    accepted("firewall", made, tmp_path)
    assert "it comes from anywhere" in reasons(made)
    assert [line for line in lines(made) if "gateway to the entry" in line]
    assert not re.search(r"0\.0\.0\.0|::/0", made.text)


@pytest.mark.parametrize("cidr", ["0.0.0.0/0", "224.0.0.0/8", "127.0.0.0/8"])
def test_a_subnet_that_is_no_network_is_never_opened(cidr, tmp_path):
    lan = f.Network(id=3, name="lan", purpose="clients", cidr=cidr)
    kept = [record for record in small_site() if getattr(record, "name", "") != "lan"]
    made = config("firewall", site_facts(*kept, lan))
    accepted("firewall", made, tmp_path)
    assert cidr not in made.text.partition("delete table")[2]
    assert f"{cidr} in entry" in reasons(made)


def test_everything_is_dropped_where_nothing_is_known(tmp_path):
    made = config("firewall", site_facts())
    accepted("firewall", made, tmp_path)
    assert lines(made) == []
    assert "policy drop" in made.text


# -- what the kernel makes of it -------------------------------------------------------------------


def load(made, folder: pathlib.Path, times: int = 1) -> dict:
    """Loads the rules into a network of their own, and gives what the kernel then has."""
    path = folder / "rules.nft"
    path.write_text(made.text)
    nft = program("nft")
    answer = apart(
        "sh", "-ec", f"for i in {'x ' * times}; do {nft} -f {path}; done; {nft} -j list ruleset"
    )
    assert answer.returncode == 0, answer.stderr
    found: dict[str, list] = {}
    for one in json.loads(answer.stdout)["nftables"]:
        for kind, value in one.items():
            found.setdefault(kind, []).append(value)
    return found


def test_the_kernel_has_every_rule_once_even_when_loaded_twice(tmp_path):
    made = config("firewall", demo("large"))
    found = load(made, tmp_path, times=2)
    [table], [chain] = found["table"], found["chain"]
    assert table["name"] == "deskwright_campus"
    assert (chain["hook"], chain["policy"]) == ("forward", "drop")
    written, _ = rules(Plan(demo("large")))
    assert (
        len(found["rule"]) == len(written) + 3
    )  # answers, invalid ones, and the count of what is dropped
    held = {one["name"]: len(one["elem"]) for one in found["set"]}
    assert held == {name: len(inner) for name, inner in read_sets(made.text).items()}


def test_connections_pass_as_planned_and_no_others(tmp_path):
    """Real connections through a forwarding kernel with these rules, between the mill's own networks."""
    machines = {
        "10.44.1.0/24": [
            "10.44.1.5",
            "10.44.1.6",
            "10.44.1.7",
            "10.44.1.11",
            "10.44.1.30",
            "10.44.1.31",
        ],
        "10.44.20.0/24": ["10.44.20.33", "10.44.20.60"],
        "10.44.40.0/24": ["10.44.40.77"],
    }
    planned = sorted(
        probes(Plan(demo("mill")), [one for some in machines.values() for one in some])
    )
    never = [
        ("10.44.20.33", "10.44.1.5", 445),
        ("10.44.20.33", "10.44.1.11", 443),
        ("10.44.40.77", "10.44.1.11", 443),
        ("10.44.40.77", "10.44.1.30", 22),
        ("10.44.1.5", "10.44.40.77", 3389),
        ("10.44.40.77", "10.44.20.33", 445),
        ("10.44.20.33", "10.44.40.77", 445),
        ("10.44.40.77", "10.44.20.60", 9100),
    ]
    assert len(planned) > 15
    assert not set(planned) & set(never)
    asked = [*planned, *never]
    (tmp_path / "rules.nft").write_text(config("firewall", demo("mill")).text)
    (tmp_path / "probes.json").write_text(json.dumps({"networks": machines, "probes": asked}))
    lab = [sys.executable, firewall_lab.__file__, tmp_path / "rules.nft", tmp_path / "probes.json"]
    program("nft"), program("ip"), program("nsenter")
    answer = apart("env", f"PATH={PLACES}", *lab)
    if answer.returncode and os.geteuid() != 0:
        missing("only root may build networks here")
    assert answer.returncode == 0, answer.stderr
    opened = [
        one for one, came_about in zip(asked, json.loads(answer.stdout), strict=True) if came_about
    ]
    assert opened == planned


def probes(plan: Plan, machines: list[str]) -> set[tuple[str, str, int]]:
    """One connection for each planned TCP flow and pair of machines, from the flows, not from the rules."""
    found = set()
    for flow in plan.flows.flows:
        if flow.crosses == FIREWALL and flow.transport == "tcp":
            port = int(flow.ports.partition("-")[0])
            ways = [(flow.source, flow.target), (flow.target, flow.source)][
                : 1 + (flow.direction == "both ways")
            ]
            for source, target in ways:
                found |= {
                    (a, b, port) for a in among(source, machines) for b in among(target, machines)
                }
    return found


def among(end, machines: list[str]) -> list[str]:
    prefixes = [ipaddress.ip_network(address) for address in end.addresses]
    return [
        one for one in machines if any(ipaddress.ip_address(one) in prefix for prefix in prefixes)
    ]
