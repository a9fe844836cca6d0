"""The catalogue's ports against the port list of the operating system this runs on."""

from __future__ import annotations

import pathlib

import pytest

from planner import catalogue

# Source: Debian package netbase, /etc/services, itself drawn from the IANA registry
SERVICES = pathlib.Path("/etc/services")
# Registered at IANA, but left out of the shorter list.
# Source: IANA, Service Name and Transport Protocol Port Number Registry
NOT_IN_SHORT_LIST = {
    ("nsjtp-data", "1688", "tcp"), ("msft-gc", "3268", "tcp"), ("msft-gc-ssl", "3269", "tcp"),
    ("ms-wbt-server", "3389", "udp"), ("rfb", "5900", "tcp"), ("pdl-datastream", "9100", "tcp"),
}  # fmt: skip


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
