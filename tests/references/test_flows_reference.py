"""The catalogue's ports against the port list of the operating system this runs on."""

from __future__ import annotations

import pathlib

import pytest

from planner.catalogue import files as catalogue
from planner.engine.flows import port_sheet as flows
from planner.record import facts as f
from tests.engine.test_flows import small_site
from tests.factories import site_facts
from tests.papers.demo_facts import SITES, demo

# Source: Debian package netbase, /etc/services, itself drawn from the IANA registry
SERVICES = pathlib.Path("/etc/services")
# Registered at IANA, but left out of the shorter list.
# Source: IANA, Service Name and Transport Protocol Port Number Registry
NOT_IN_SHORT_LIST = {
    ("nsjtp-data", "1688", "tcp"),
    ("msft-gc", "3268", "tcp"),
    ("msft-gc-ssl", "3269", "tcp"),
    ("ms-wbt-server", "3389", "udp"),
    ("rfb", "5900", "tcp"),
    ("pdl-datastream", "9100", "tcp"),
}


def ours() -> set[tuple[str, str, str]]:
    ports = catalogue.load("ports")["ports"].values()
    return {
        (entry["iana"], entry["port"], transport)
        for entry in ports
        for transport in entry["transports"]
        if entry["iana"]
    }


@pytest.fixture(scope="module")
def short_list() -> dict[tuple[str, str], str]:
    if not SERVICES.exists():
        pytest.skip("no /etc/services on this machine: nothing to compare with")
    found: dict[tuple[str, str], str] = {}
    for line in SERVICES.read_text(encoding="utf-8", errors="replace").splitlines():
        words = line.split("#")[0].split()
        if len(words) > 1 and "/" in words[1]:
            port, transport = words[1].split("/")
            found.setdefault((port, transport), words[0])
    if ("22", "tcp") not in found:
        pytest.skip("/etc/services is not a list of services here")
    return found


def test_names_and_numbers_agree(short_list):
    both = {pair for pair in ours() if (pair[1], pair[2]) in short_list}
    assert {(short_list[port, transport], port, transport) for _, port, transport in both} == both
    assert len(both) >= 20  # else the comparison would say nothing


def test_what_the_short_list_leaves_out_is_known(short_list):
    missing = {pair for pair in ours() if (pair[1], pair[2]) not in short_list}
    assert missing <= NOT_IN_SHORT_LIST


def test_logs_are_udp_because_tcp_514_is_something_else(short_list):
    assert short_list["514", "tcp"] == "shell"
    assert ("syslog", "514", "udp") in ours()
    assert not [pair for pair in ours() if pair[1] == "514" and pair[2] == "tcp"]


def test_the_dynamic_range():
    # Source: RFC 6335 section 6: the Dynamic Ports are 49152-65535
    assert catalogue.load("ports")["ports"]["dynamic"]["port"] == "49152-65535"


# What members of a domain need of its servers, each line as (port, transports).
# Source: Microsoft, How to configure a firewall for Active Directory domains and trusts, article 179442 (the table for
# present releases, from memory, compared with excerpts of two tables that others drew from it; ICMP stands in its text)
ARTICLE_179442 = {
    "53": {"tcp", "udp"},
    "88": {"tcp", "udp"},
    "123": {"udp"},
    "135": {"tcp"},
    "389": {"tcp", "udp"},
    "445": {"tcp"},
    "464": {"tcp", "udp"},
    "636": {"tcp"},
    "3268": {"tcp"},
    "3269": {"tcp"},
    "49152-65535": {"tcp"},
}


def test_a_domains_ports_are_the_articles_and_no_others():
    found: dict[str, set[str]] = {}
    kept = [record for record in small_site() if not isinstance(record, f.Directory)]
    secured = f.Directory(directory_kind="domain", domain="corp.larkfield.example", ldaps=True)
    for flow in flows.work_out(site_facts(*kept, secured)).flows:
        if flow.rule in ("dns", "directory", "directory-tls") and flow.transport != "icmp":
            found.setdefault(flow.ports, set()).add(flow.transport)
    assert found == ARTICLE_179442


@pytest.mark.parametrize("name", SITES)
def test_every_line_of_the_demo_bears_the_name_of_the_short_list(name, short_list):
    compared = 0
    for flow in flows.work_out(demo(name)).flows:
        if (flow.ports, flow.transport) in short_list and not flow.own:
            assert flow.iana == short_list[flow.ports, flow.transport], flow
            compared += 1
    assert compared > 10  # else it would say nothing
