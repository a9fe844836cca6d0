"""The probe for real: a finished site as networks of namespaces, with things as planned and things that are not."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import os
import pathlib
import signal
import subprocess
import sys
import time

import pytest

from planner.papers.probe import preview, probe_of, read_run
from planner.plan import Plan
from planner.record import facts as f
from tests.papers.probe_lab import ENTRY, LAPTOPS, NAMES, Probing, SiteLab, facts_of_site
from tests.papers.test_probe_script import pythons
from tests.programs import program


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    program("dnsmasq"), program("nft")
    with SiteLab(tmp_path_factory.mktemp("probe")) as made:
        made.as_planned()
        yield made


@pytest.fixture(scope="module")
def plan() -> Plan:
    return Plan(dataclasses.replace(facts_of_site(), today=dt.datetime.now(dt.UTC).date()))


@pytest.fixture(scope="module")
def runs(lab, plan) -> dict[str, Probing]:
    """One run from each network while everything is as planned, all at once."""
    copy = ("--at", "surgery=10.45.40.51")
    begun = {
        "rooms": lab.begin("rooms", plan, *copy),
        "desktops": lab.begin("desktops", plan, "--ask-dhcp"),
        "management": lab.begin("management", plan, *copy),
    }
    return {network: run.ended() for network, run in begun.items()}


def states(plan: Plan, *runs: Probing) -> dict[str, str]:
    """What the runs say of each check, by the check's key without its record."""
    probe = probe_of(plan)
    found = preview(plan, probe, [read_run(run.content, plan, probe) for run in runs])
    assert not found.warnings
    return {verdict.check.key: verdict.state for verdict in found.verdicts}


# -- as planned ----------------------------------------------------------------------------------


def test_where_everything_is_as_planned_it_says_so(runs):
    assert runs["rooms"].code == 0, runs["rooms"].said
    assert runs["desktops"].code == 0, runs["desktops"].said
    assert set(runs["rooms"].states.values()) == set(runs["desktops"].states.values()) == {"ok"}


def test_it_says_first_what_it_will_do(runs):
    said = runs["desktops"].said
    assert (
        said.index("It will ask")
        < said.index("1 DHCP offer")
        < said.index("It changes nothing")
        < said.index("Written to")
    )
    assert "This machine is there as 10.45.40.77/24, from DHCP" in said


def test_what_it_proves_of_the_checks(runs, plan):
    found = states(plan, *runs.values())
    proven = {key.partition("@")[0] for key, state in found.items() if state == "proven"}
    assert proven == {
        "subnet-exists",
        "dhcp-answers",
        "host-name-resolves",
        "entry-name-resolves",
        "desktop-dns",
        "certificate-installed",
        "agent-ports-open",
    }
    part = {key.partition("@")[0] for key, state in found.items() if state == "part"}
    assert part == {"flows-open", "clocks-agree", "host-reachable", "display-port-answers"}


def test_a_check_of_several_networks_is_not_proven_by_one(runs, plan):
    assert states(plan, runs["rooms"])["certificate-installed"] == "part"
    assert states(plan, runs["rooms"], runs["management"])["certificate-installed"] == "proven"


def test_hosts_that_stand_there_are_not_free_and_not_taken(runs):
    """The plan calls them existing: something answers, and only a person knows whether it is they."""
    state, seen = runs["management"].of("nobody but harbour-h1")
    assert state == "could not tell" and "hardware address" in seen


def test_the_results_name_site_plan_network_and_machine(runs, plan):
    values = json.loads(runs["desktops"].content)
    assert (values["customer"], values["site"]) == ("larkfield", "harbour")
    assert values["fingerprint"] == plan.fingerprint and values["network_name"] == "desktops"
    assert values["machine"] == {
        "address": "10.45.40.77",
        "prefix": 24,
        "leased": True,
        "system": "linux",
    }
    ended = dt.datetime.fromisoformat(values["ended"])
    assert abs((dt.datetime.now(dt.UTC) - ended).total_seconds()) < 600


@pytest.mark.parametrize("python", pythons())
def test_it_runs_under_every_python(lab, plan, python):
    run = lab.probe("rooms", plan, "--at", "surgery=10.45.40.51", python=python)
    assert run.code == 0, run.said
    assert "Warning" not in run.said


# -- flows ---------------------------------------------------------------------------------------


@pytest.fixture
def firewall(lab):
    yield lab.firewall
    lab.firewall("")


def test_a_closed_flow_fails_and_an_open_one_beside_it_does_not(lab, plan, firewall):
    firewall("ip saddr 10.45.40.0/24 ip daddr 10.45.1.31 tcp dport 8443 drop")
    run = lab.probe("desktops", plan)
    state, seen = run.of("TCP 8443", "harbour-b1")
    assert state == "failed" and "no answer" in seen and "shut on the way" in seen
    assert run.of("TCP 8443", "harbour-b2")[0] == "ok"
    assert run.code == 1 and states(plan, run)["flows-open"] == "failed"


def test_a_flow_that_a_firewall_refuses_aloud_is_not_open(lab, plan, firewall):
    firewall(
        "ip daddr 10.45.1.31 tcp dport 8443 reject with icmp type admin-prohibited\n"
        "ip daddr 10.45.1.32 tcp dport 8443 reject with tcp reset"
    )
    run = lab.probe("desktops", plan)
    assert run.of("TCP 8443", "harbour-b1")[0] == "failed"
    state, seen = run.of("TCP 8443", "harbour-b2")
    assert (
        state == "could not tell" and "refused" in seen
    )  # a reset may come from the machine itself


def test_a_machine_that_is_not_there_is_told_from_a_closed_port(lab, plan, firewall):
    firewall("ip daddr 10.45.1.31 drop")
    state, seen = lab.probe("desktops", plan).of("TCP 8443", "harbour-b1")
    assert state == "could not tell" and "nobody answers at 10.45.1.31 at all" in seen


def test_a_closed_flow_of_single_machines_is_not_held_against_the_laptop(lab, plan, firewall):
    """A print server's port may be open to that server alone, and the laptop is another machine."""
    firewall("ip saddr 10.45.1.0/24 ip daddr 10.45.20.60 tcp dport 9100 drop")
    state, seen = lab.probe("management", plan).of("TCP 9100")
    assert state == "could not tell" and "only the right machine" in seen


def test_udp_that_is_shut_is_found_where_a_question_can_be_asked(lab, plan, firewall):
    firewall(
        "ip saddr 10.45.40.0/24 udp dport { 53, 123 } drop\n"
        "ip saddr 10.45.40.0/24 ip daddr 10.45.1.5 icmp type echo-request drop"
    )
    run = lab.probe("desktops", plan)
    assert run.of("UDP 53")[0] == run.of("UDP 123")[0] == run.of("ping to dc-3")[0] == "failed"
    assert run.of("TCP 53")[0] == run.of("TCP 88")[0] == "ok"


# -- names, clocks, certificates -----------------------------------------------------------------


@pytest.fixture
def other_names(lab):
    """A second name server, at the printer's address, that says something else."""
    started = []

    def start(records, **words):
        started.append(lab.names(records, on="printer", **words))

    yield start
    for one in started:
        lab.stop(one)


def asking_there(plan: Plan) -> Plan:
    """The plan with the printer's address for a DNS server."""
    networks = [
        dataclasses.replace(one, dns_servers=("10.45.20.60",)) for one in plan.facts.networks
    ]
    return Plan(dataclasses.replace(plan.facts, networks=tuple(networks)))


def test_a_wrong_dns_answer_fails(lab, plan, other_names):
    wrong = {name: address for name, address in NAMES.items() if "h2" not in name}
    wrong |= {ENTRY: "10.45.1.99", "another.corp.larkfield.example": "10.45.1.11"}
    wrong["harbour-h1.corp.larkfield.example"] = "10.45.1.12"
    other_names(wrong, directory="old-dc.corp.larkfield.example")
    planned = asking_there(plan)
    rooms, desktops, management = (lab.begin(network, planned) for network in LAPTOPS)
    state, seen = rooms.ended().of(ENTRY, "at the DNS server")
    assert state == "failed" and "gives 10.45.1.99; planned is 10.45.1.30" in seen
    assert rooms.of(ENTRY, "own look-up")[0] == "ok"  # that still asks the right one
    state, seen = desktops.ended().of("_ldap._tcp")
    assert state == "failed" and "dc-3.corp.larkfield.example is missing" in seen
    state, seen = desktops.of("the DNS servers this machine uses")
    assert state == "failed" and "asks 10.45.1.5; planned are 10.45.20.60" in seen
    management.ended()
    assert "10.45.1.12" in management.of("harbour-h1.corp", "at the DNS server")[1]
    assert management.of("the name of 10.45.1.11")[0] == "failed"
    assert management.of("harbour-h2.corp", "at the DNS server") == (
        "failed",
        "there is no such name",
    )
    found = states(planned, rooms, desktops, management)
    assert found["entry-name-resolves"] == "failed"
    assert all(
        state == "failed"
        for key, state in found.items()
        if key.startswith(("host-name", "desktop-dns"))
    )


def test_a_name_server_that_is_not_there(lab, plan):
    planned = asking_there(plan)
    state, seen = lab.probe("rooms", planned).of(ENTRY, "at the DNS server")
    assert state == "failed" and "refused" in seen  # the printer is there, and answers for no names


def test_clocks_are_held_against_each_other_and_not_against_ours(lab, plan, runs):
    state, seen = runs["management"].of("the clocks of")
    assert state == "ok" and "300 s allowed" in seen
    two = lab.serve("files-3", time=[["10.45.1.7", 1000]])
    servers = [dataclasses.replace(one, roles=(*one.roles, "time")) for one in plan.facts.servers]
    skewed = Plan(dataclasses.replace(plan.facts, servers=tuple(servers)))
    run = lab.probe("management", skewed)
    state, seen = run.of("the clocks of")
    assert state == "failed" and "files-3 +1000" in seen and "1000." in seen
    assert states(skewed, run)["clocks-agree"] == "failed"
    lab.stop(two)
    state, seen = lab.probe("management", skewed).of("the clocks of")
    assert state == "could not tell" and "not told by files-3" in seen


@pytest.mark.parametrize(
    ("names", "words", "state", "said"),
    [
        (["harbour.larkfield.example.net"], {}, "failed", "does not speak for"),
        ([ENTRY], {"days": -3}, "failed", "has ended"),
        ([ENTRY], {"days": 90}, "failed", "planned is"),
        ([ENTRY], {"alone": True}, "failed", "nobody but itself"),
        (["*.larkfield.example"], {}, "ok", "trusted"),
        ([], {}, "failed", "for nothing"),
    ],
)
def test_certificates(lab, plan, names, words, state, said):
    """At an address of its own in the place of an appliance's."""
    pair = lab.vouching.pair("tried", *names, **words)
    served = lab.serve("files-3", tls=[["10.45.1.7", 443, str(pair)]])
    appliances = [dataclasses.replace(plan.facts.appliances[0], address="10.45.1.7")]
    other = Plan(dataclasses.replace(plan.facts, appliances=tuple(appliances)))
    found, seen = lab.probe("management", other).of("the certificate for")
    lab.stop(served)
    assert (found, said in seen) == (state, True), seen


def test_a_certificate_of_somebody_this_machine_does_not_trust(lab, plan):
    run = lab.probe("rooms", plan, python=_without_trust(lab))
    state, seen = run.of("the certificate for")
    assert state == "could not tell" and "does not trust it" in seen and ENTRY in seen


def _without_trust(lab) -> str:
    path = lab.folder / "untrusting"
    path.write_text(f'#!/bin/sh\nunset SSL_CERT_FILE\nexec {sys.executable} "$@"\n')
    path.chmod(0o755)
    return str(path)


# -- leases and free addresses -------------------------------------------------------------------


def test_an_offer_comes_from_the_planned_server_and_scope_and_is_not_taken(runs, lab):
    state, seen = runs["desktops"].of("planned servers alone")
    assert state == "ok" and "10.45.1.5 offered 10.45.40." in seen and "for 1 day" in seen
    leases = lab.folder / "dc-3.leases"
    assert not leases.exists() or not leases.read_text().strip()  # nothing was handed out


def test_without_the_flag_no_offer_is_asked_for(lab, plan):
    state, seen = lab.probe("desktops", plan).of("planned servers alone")
    assert state == "could not tell" and "--ask-dhcp" in seen


def test_a_second_server_and_a_wrong_scope_are_found(lab, plan):
    rogue = lab.leases("10.45.40.10", "10.45.40.19", on="copy")
    state, seen = lab.probe("desktops", plan, "--ask-dhcp").of("planned servers alone")
    assert state == "failed" and "2 servers answer" in seen and "10.45.40.51" in seen
    lab.stop(rogue)
    narrow = _with_network(plan, "desktops", dhcp_first="10.45.40.200", dhcp_last="10.45.40.220")
    run = lab.probe("desktops", narrow, "--ask-dhcp")
    assert run.of("planned servers alone")[0] == run.of("own lease")[0] == "failed"
    assert states(narrow, run)[_key(narrow, "dhcp-answers", "desktops")] == "failed"


def _with_network(plan: Plan, name: str, **values) -> Plan:
    changed = [
        dataclasses.replace(one, **values) if one.name == name else one
        for one in plan.facts.networks
    ]
    return Plan(dataclasses.replace(plan.facts, networks=tuple(changed)))


def _key(plan: Plan, check: str, network: str) -> str:
    [found] = [one for one in plan.facts.networks if one.name == network]
    return f"{check}@{found.ref.anchor}"


def test_free_is_nobody_answered_and_a_silent_machine_is_still_somebody(lab, plan):
    """A machine that answers neither ping nor TCP is given away by its neighbour entry."""
    lab.machine("quiet", "management", "10.45.1.41")
    lab.firewall("drop", "quiet")
    hosts = [
        dataclasses.replace(one, state="to-buy", address=f"10.45.1.4{n}")
        for n, one in enumerate(plan.facts.hosts, 1)
    ]
    run = lab.probe("management", Plan(dataclasses.replace(plan.facts, hosts=tuple(hosts))))
    state, seen = run.of("nobody but harbour-h1")
    assert state == "failed" and "hardware address" in seen
    state, seen = run.of("nobody but harbour-h2")
    assert state == "ok" and "nobody answered" in seen and "switched off looks the same" in seen


def test_a_machine_with_the_planned_hardware_address_is_the_holder_itself(lab, plan):
    hosts = plan.facts.hosts
    found = {}
    for mac in (_mac(lab, "h1"), "02:00:00:00:00:99"):
        named = [dataclasses.replace(hosts[0], mac=mac.upper()), hosts[1]]
        found[mac] = lab.begin(
            "management", Plan(dataclasses.replace(plan.facts, hosts=tuple(named)))
        )
    seen = [run.ended().of("nobody but harbour-h1") for run in found.values()]
    assert seen[0][0] == "ok" and "that is harbour-h1 itself" in seen[0][1]
    assert seen[1][0] == "failed" and "02:00:00:00:00:99" in seen[1][1]


def _mac(lab, machine: str) -> str:
    said = subprocess.run(
        lab.inside(machine, "cat", "/sys/class/net/lan/address"), capture_output=True, text=True
    )
    return said.stdout.strip()


def test_a_gateway_that_is_gone_and_a_wrong_mask(lab, plan):
    other = _with_network(plan, "rooms", gateway="10.45.20.2", cidr="10.45.20.0/23")
    run = lab.probe("rooms", other)
    assert run.of("the gateway")[0] == "failed"
    state, seen = run.of("own address and mask")
    assert state == "failed" and "planned is /23" in seen


def test_where_nobody_is_yet_every_address_is_free_and_no_port_is_called_shut(lab, plan):
    """Before anything is carried in: nothing but the gateway stands on the network."""
    hosts = [dataclasses.replace(one, state="to-buy") for one in plan.facts.hosts]
    moved = {f"10.45.{third}.": f"10.46.{third}." for third in (1, 20, 40)}
    facts = f.to_json(dataclasses.replace(plan.facts, hosts=tuple(hosts)))
    text = json.dumps(facts)
    for old, new in moved.items():
        text = text.replace(old, new)
    empty = Plan(f.from_json(json.loads(text)))
    lab.network("empty", "10.46.1.0/24", "10.46.1.1")
    lab.machine("at-empty", "empty", "10.46.1.90")
    found = lab.probe("management", empty, at="empty")
    assert found.code == 2, found.said
    states = {kind: set() for kind in ("nobody but", "TCP", "the gateway")}
    for asked, state in found.states.items():
        for kind, seen in states.items():
            if asked.startswith(kind):
                seen.add(state)
    assert states == {"nobody but": {"ok"}, "TCP": {"could not tell"}, "the gateway": {"ok"}}


# -- asking, stopping, bounds --------------------------------------------------------------------


def started(lab, place: str, run: Probing, *options) -> subprocess.CompletedProcess:
    """A run's script once more, without a yes on its own."""
    command = lab.inside(f"at-{place}", sys.executable, run.script, *options)
    return subprocess.run(
        command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60
    )


def test_it_asks_nothing_in_another_network(lab, runs):
    said = started(lab, "desktops", runs["rooms"], "--yes", "--to", lab.folder / "never.json")
    assert (
        said.returncode == 3
        and "no address in rooms, 10.45.20.0/24: it has 10.45.40.77" in said.stdout
    )
    assert not (lab.folder / "never.json").exists()


def test_without_a_yes_it_asks_nothing(lab, runs):
    said = started(lab, "rooms", runs["rooms"], "--to", lab.folder / "never.json")
    assert said.returncode == 3 and "start it with --yes" in said.stdout
    assert not (lab.folder / "never.json").exists()


def test_it_writes_over_nothing(lab, runs):
    before = runs["rooms"].content
    said = started(lab, "rooms", runs["rooms"], "--yes", "--to", runs["rooms"].path)
    assert (
        said.returncode == 3 and "cannot be made" in said.stdout and runs["rooms"].content == before
    )


def test_somebody_may_stop_it_and_keeps_what_was_seen(lab, plan, firewall):
    firewall("ip saddr 10.45.40.0/24 drop")
    run = lab.begin("desktops", plan, "--patience", "5")
    for line in (
        run.process.stdout
    ):  # what it can tell of itself is told, everything else keeps silent for long
        if line.startswith("4 of "):
            break
    os.kill(_script(run.process.pid), signal.SIGINT)
    run.ended()
    assert run.code == 4, run.said
    assert "stopped before this was asked" in _seen(run)
    assert run.of("own address and mask")[0] == "ok"


def _script(pid: int) -> int:
    """The process of the script itself: below whatever started it, above the pings that it starts."""
    told = pathlib.Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
    children = pathlib.Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return pid if told[0] == os.fsencode(sys.executable) else _script(int(children[0]))


def _seen(run: Probing) -> list[str]:
    return [one["seen"] for one in json.loads(run.content)["results"]]


def test_it_ends_in_its_time(lab, plan, firewall):
    firewall("ip saddr 10.45.40.0/24 drop")
    began = time.monotonic()
    run = lab.probe("desktops", plan, "--patience", "2", "--seconds", "1")
    assert time.monotonic() - began < 25
    assert run.code == 2 and "the time was up before this was asked" in _seen(run)
    assert any(seen.endswith("it was not looked at further") for seen in _seen(run))


def test_two_servers_that_the_plan_names_are_right(lab, plan):
    """Two that share a range by design are no stranger; a third one would be."""
    twin = lab.leases("10.45.40.60", "10.45.40.69", on="copy")
    both = _with_network(plan, "desktops", dhcp_server="dc-3 and 10.45.40.51")
    state, seen = lab.probe("desktops", both, "--ask-dhcp").of("planned servers alone")
    lab.stop(twin)
    assert state == "ok" and "10.45.40.51" in seen
