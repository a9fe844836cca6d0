"""Findings about facts that decide which ports must pass: each raised by one site and not by another."""

from __future__ import annotations

import pytest

from planner.record import facts as f
from tests.factories import make, raised
from tests.review.cases import Case, rules_of

DOMAIN = {"directory_kind": "domain", "domain": "corp.larkfield.example"}
CHAPTERS = {"datastore-reach-unknown": 3, "directory-tls-unknown": 4, "directory-plain": 4}


def service(access: str = "gateway", **values) -> f.Service:
    return f.Service(
        **{"id": 1, "name": "Mill Street desktops", "outside_access": access, **values}
    )


def outside(*ports: str) -> f.Service:
    return service(outside_device_id=1, outside_ports=ports)


def store(**values) -> f.Datastore:
    return make(f.Datastore, **{"name": "shelf", "sharing": "shared", **values})


RDP = make(f.Protocol, name="RDP", tcp_port=3389, udp_port=3389)

CASES = [
    Case(
        "outside-device-unknown",
        [service()],
        [service("none"), service(""), service(outside_device_id=1)],
        "outside_device_id",
    ),
    Case(
        "outside-ports-unknown",
        [service("vpn", outside_ports=(" ",))],
        [service("none"), service(outside_ports=("443/tcp",))],
        "outside_ports",
    ),
    Case(
        "outside-opens-display",
        [outside("443/tcp", "3389/tcp"), RDP],
        [outside("443/tcp", "3390/tcp"), service("none", outside_ports=("3389/tcp",)), RDP],
        "outside_ports",
        "3389/TCP answers to the outside, and it is the port of RDP",
    ),
    Case(
        "datastore-reach-unknown",
        [store()],
        [store(reached_by="nfs"), store(sharing="local")],
        "reached_by",
        "shelf",
    ),
    Case(
        "directory-tls-unknown",
        [f.Directory(id=1, **DOMAIN)],
        [
            f.Directory(id=1, ldaps=False, **DOMAIN),
            f.Directory(id=1, ldaps=True, **DOMAIN),
            f.Directory(id=1),
        ],
        "ldaps",
    ),
    Case(
        "directory-plain",
        [f.Directory(id=1, ldaps=False, **DOMAIN)],
        [f.Directory(id=1, ldaps=True, **DOMAIN), f.Directory(id=1, ldaps=False)],
        "ldaps",
    ),
    Case(
        "second-factor-missing",
        [service("vpn")],
        [service("none"), service("vpn", second_factor="code of an app")],
        "second_factor",
    ),
    Case(
        "public-address-missing",
        [service()],
        [service("none"), service(public_address="203.0.113.30")],
        "public_address",
    ),
    Case(
        # Source: RFC 1918 section 3; RFC 6598; addresses of RFC 5737 stand for public ones
        "public-address-private",
        [service(public_address="10.44.1.30")],
        [
            service("none", public_address="10.44.1.30"),
            service(public_address="198.51.100.7"),
            service(public_address="8.8.8.8"),
        ],
        "public_address",
        "10.44.1.30",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.key)
def test_a_rule_is_raised_and_not(case):
    case.check()
    assert raised(case.key, *case.yes)[0].chapter == CHAPTERS.get(case.key, 5)


def test_every_rule_of_the_group_has_its_case():
    assert {case.key for case in CASES} == rules_of("ports")


@pytest.mark.parametrize(
    ("ports", "count"),
    [
        (("3000-4000/tcp",), 1),
        (("3389",), 1),
        (("3389/udp", "3389/tcp"), 2),
        (("odd", "", "1-2-3/tcp"), 0),
    ],
)
def test_a_range_that_holds_a_display_port_opens_it_too(ports, count):
    assert len(raised("outside-opens-display", outside(*ports), RDP)) == count


def test_a_display_protocol_without_typed_ports_has_its_registered_ones():
    # Source: IANA port registry: ms-wbt-server 3389, rfb 5900
    assert raised("outside-opens-display", outside("5900/tcp"), make(f.Protocol, name="RFB"))
    assert not raised("outside-opens-display", outside("5900/tcp"), make(f.Protocol, name="Other"))
