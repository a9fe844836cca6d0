"""What the probe asks at which site, and which checks each question speaks for."""

from __future__ import annotations

import dataclasses
import ipaddress
import re
import time

import pytest
from hypothesis import HealthCheck, given, settings

from planner.papers.probe import probe_of, write_script
from planner.papers.probe.tasks import MOST_TASKS
from planner.plan import Plan
from planner.record import facts as f
from planner.stages import read
from tests.factories import site_facts
from tests.papers.demo_facts import SITES, demo
from tests.stages.odd import facts as odd_facts

# Checks that want a probe's result, and can have no question of ours: what they look at is out of its sight.
OUT_OF_SIGHT = {"outside-closed", "shared-store-seen"}


def tasks(plan: Plan, kind: str, network: str = "") -> list:
    named = plan.facts.named
    return [
        one
        for one in probe_of(plan).tasks
        if one.kind == kind and network in ("", named("network", one.network_id))
    ]


@pytest.mark.parametrize("name", SITES)
def test_each_question_belongs_to_a_network_and_a_check(name):
    plan = Plan(demo(name))
    probe = probe_of(plan)
    assert probe.tasks
    for task in probe.tasks:
        assert task.network_id in probe.places and task.proves and task.words
        assert all(key in plan.stages.checks for key in task.proves)
    assert len(probe.by_id) == len(probe.tasks)
    assert all(reasons and key in plan.stages.checks for key, reasons in probe.untold.items())


@pytest.mark.parametrize("name", SITES)
def test_every_check_that_wants_a_probe_is_asked_or_has_its_reason(name):
    plan = Plan(demo(name))
    probe = probe_of(plan)
    for key, check in plan.stages.checks.items():
        if check.wants == "probe":
            assert key in probe.by_check or key in probe.untold, key


def test_the_catalogue_wants_no_probe_that_nobody_thought_of():
    """Over all the demo sites each such check is asked somewhere, but for those that are out of its sight."""
    asked = {key.partition("@")[0] for name in SITES for key in probe_of(Plan(demo(name))).by_check}
    wanted = {key for key, entry in read().checks.items() if entry.wants == "probe"}
    assert wanted - asked == OUT_OF_SIGHT


@pytest.mark.parametrize("name", SITES)
def test_flows_are_tried_only_from_where_they_come(name):
    """Against the port sheet itself: network, target and port of each question stand in a line of it."""
    plan = Plan(demo(name))
    lines = {
        (network, target, flow.transport, flow.ports)
        for flow in plan.flows.flows
        for network in flow.source.network_ids
        for target in flow.target.addresses
    }
    for task in probe_of(plan).tasks:
        if "target" in task.ask and task.kind in ("tcp", "names-flow", "time-flow", "ping-flow"):
            transport, _, port = task.what.lower().partition(" ")
            transport = {"ping": "icmp"}.get(transport, transport)
            assert (task.network_id, task.ask["target"], transport, port) in lines


@pytest.mark.parametrize("name", SITES)
def test_only_addresses_of_machines_are_asked(name):
    for task in probe_of(Plan(demo(name))).tasks:
        target = task.ask.get("target", "")
        if target:
            found = ipaddress.IPv4Address(target)
            assert not (
                found.is_multicast
                or found.is_loopback
                or found.is_link_local
                or found.is_unspecified
            )


def test_the_finished_site_asks_this():
    plan = Plan(demo("harbour"))
    assert len(tasks(plan, "own-line")) == len(tasks(plan, "answers")) == 3
    assert [one.network_id for one in tasks(plan, "lease")] == [
        n.id for n in plan.facts.networks if n.name == "desktops"
    ]
    assert {one.ask["target"] for one in tasks(plan, "free")} == {
        "10.45.1.11",
        "10.45.1.30",
        "10.45.1.12",
        "10.45.1.31",
        "10.45.1.32",
    }
    assert {(one.ask["target"], one.ask["expect"][0]) for one in tasks(plan, "name", "rooms")} == {
        ("", "10.45.1.30"),
        ("10.45.1.5", "10.45.1.30"),
    }
    [clocks] = tasks(plan, "clocks")
    assert clocks.ask["allowed"] == 300 and len(clocks.ask["machines"]) == 3
    entry = [one for one in tasks(plan, "tcp", "rooms") if one.ask.get("target") == "10.45.1.30"]
    assert [(one.ask["port"], one.ask["everybody"]) for one in entry] == [(443, True)]
    printing = [
        one for one in tasks(plan, "tcp", "management") if one.ask.get("target") == "10.45.20.60"
    ]
    assert {(one.ask["port"], one.ask["everybody"]) for one in printing} == {
        (631, False),
        (9100, False),
    }


def test_a_key_server_is_looked_for_where_its_desktops_are():
    plan = Plan(demo("mill"))
    found = [one for one in tasks(plan, "service-record") if "_vlmcs" in one.ask["name"]]
    assert {plan.facts.named("network", one.network_id) for one in found} == {"desktops"}
    assert {one.ask["target"] for one in found} == {"10.44.1.5", "10.44.1.6"}
    assert all(
        one.ask["connect"] and one.ask["expect"] == ["dc-1.corp.larkfield.example"] for one in found
    )


def test_own_assumption_of_the_clocks_is_kept():
    own = f.Assumed(key="clock.tolerance-minutes", value=2)
    [task] = tasks(Plan(dataclasses.replace(demo("harbour"), assumed=(own,))), "clocks")
    assert task.ask["allowed"] == 120


def test_an_address_is_asked_for_freedom_only_until_that_is_settled():
    facts = demo("harbour")
    host = facts.hosts[0]
    key = f"host-address-free@{host.ref.anchor}"
    for state, asked in (
        ("open", True),
        ("failed", True),
        ("trust", True),
        ("proven", False),
        ("excused", False),
    ):
        answer = f.Answer(check=key, state=state, by="Tom", proof="seen", value=host.address)
        plan = Plan(dataclasses.replace(facts, answers=(answer,)))
        assert (key in probe_of(plan).by_check) == asked
        assert (key in probe_of(plan).untold) != asked


def test_a_question_keeps_its_name_while_it_stays_the_same():
    """So that an older plan's answers still count where nothing they speak of has moved."""
    facts = demo("harbour")
    before = probe_of(Plan(facts)).by_id
    contact = Plan(dataclasses.replace(facts, contacts=()))
    assert contact.fingerprint != Plan(facts).fingerprint and set(probe_of(contact).by_id) == set(
        before
    )
    service = dataclasses.replace(facts.service, address="10.45.1.33")
    after = probe_of(Plan(dataclasses.replace(facts, service=service))).by_id
    gone = {before[id].kind for id in before.keys() - after.keys()}
    assert gone == {"name", "certificate", "tcp", "free"} and len(before.keys() - after.keys()) == 5


def test_what_cannot_be_told_is_said():
    probe = probe_of(Plan(demo("harbour")))
    said = " ".join(probe.untold["flows-open"])
    assert (
        "by UDP" in said
        and "49152-65535" in said
        and "TCP 3389 to desktops" in said
        and "ntp.example.net" in said
    )
    assert any("firewall's clock" in one for one in probe.untold["clocks-agree"])


def test_a_site_without_networks_has_no_script():
    probe = probe_of(
        Plan(
            site_facts(
                f.Network(id=1, name="x", cidr=""), f.Host(id=1, name="h", address="10.0.0.1")
            )
        )
    )
    assert probe.by_network == {} and probe.places == {}
    with pytest.raises(KeyError):
        write_script(Plan(site_facts()), probe, 1)


def test_special_subnets_are_no_places_to_stand_in():
    cidrs = ("127.0.0.0/8", "224.0.0.0/4", "0.0.0.0/0", "169.254.0.0/16")
    networks = [f.Network(id=n, name=f"n{n}", cidr=cidr) for n, cidr in enumerate(cidrs, 1)]
    assert probe_of(Plan(site_facts(*networks))).places == {}


@settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))
@given(odd_facts(["flows-open", "host-reachable@host-1"]))
def test_nothing_is_ever_raised(odd):
    plan = Plan(odd)
    probe = probe_of(plan)
    for network in probe.by_network:
        assert write_script(plan, probe, network)


def test_a_large_site_is_asked_in_bounded_time_and_says_what_is_left():
    """Three thousand machines on one network: a script stays one that somebody can wait for."""
    network = f.Network(
        id=1, name="all", cidr="10.0.0.0/12", purpose="management", dns_servers=("10.0.0.5",)
    )
    hosts = [
        f.Host(
            id=n,
            name=f"h{n}",
            management_name=f"h{n}.example",
            network_id=1,
            address=f"10.0.{n // 250 + 1}.{n % 250 + 1}",
        )
        for n in range(1, 3001)
    ]
    plan = Plan(
        site_facts(network, f.Appliance(id=1, name="a", network_id=1, address="10.0.0.9"), *hosts)
    )
    plan.stages, plan.flows  # noqa: B018  (not what is timed)
    began = time.process_time()
    probe = probe_of(plan)
    assert time.process_time() - began < 5
    assert len(probe.by_network[1]) == MOST_TASKS
    assert re.search(r"[0-9,]+ more questions", " ".join(probe.untold["flows-open"]))
