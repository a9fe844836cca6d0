"""Findings about names and leases: each rule raised once and once not."""

from __future__ import annotations

import dataclasses

import pytest

from planner.record import facts as f
from planner.record import units
from planner.review import base
from tests.factories import raised

MODULES = ("names", "leases")


def network(**values) -> f.Network:
    base_values = {
        "id": 1,
        "name": "desktops",
        "cidr": "10.44.1.0/24",
        "gateway": "10.44.1.1",
        "dhcp": "range",
        "dhcp_first": "10.44.1.1",
        "dhcp_last": "10.44.1.254",
        "lease_minutes": 8 * 1440,
        "other_dhcp_clients": 0,
    }
    return f.Network(**{**base_values, **values})


def template(**values) -> f.Template:
    base_values = {
        "id": 2,
        "name": "front desk",
        "network_id": 1,
        "most": 40,
        "reset_rule": "sign-out",
        "name_prefix": "mill-fd-",
        "name_digits": 3,
    }
    return f.Template(**{**base_values, **values})


def other(**values) -> f.Template:
    return template(**{"id": 3, "name": "surgery", "name_prefix": "mill-su-", **values})


def seats(**values) -> f.SeatGroup:
    return f.SeatGroup(
        **{
            "id": 4,
            "name": "Reception",
            "template_id": 2,
            "people": 40,
            "sign_ins_a_day": 2.0,
            **values,
        }
    )


def host(**values) -> f.Host:
    return f.Host(**{"id": 5, "name": "mill-h1", **values})


def server(**values) -> f.Server:
    return f.Server(**{"id": 6, "name": "dc-1", **values})


def directory(**values) -> f.Directory:
    base_values = {
        "id": 7,
        "directory_kind": "domain",
        "domain": "corp.larkfield.example",
        "netbios": "LARKFIELD",
        "desktop_ou": "OU=Desktops,DC=corp,DC=larkfield,DC=example",
    }
    return f.Directory(**{**base_values, **values})


CASES = {
    "lease-too-long": (
        [network(), template(), seats()],
        [network(lease_minutes=1440), template(), seats()],
    ),
    "dhcp-range-too-small": (
        [network(dhcp_last="10.44.1.39"), template(), seats()],
        [network(dhcp_last="10.44.1.40"), template(), seats()],
    ),
    "lease-unknown": (
        [network(lease_minutes=None), template(), seats()],
        [network(lease_minutes=None), template(reset_rule="kept"), seats()],
    ),
    "dhcp-clients-unknown": ([network(other_dhcp_clients=None)], [network(other_dhcp_clients=0)]),
    "sign-ins-unknown": (
        [network(), template(), seats(sign_ins_a_day=None)],
        [network(), template(reset_rule="nightly"), seats(sign_ins_a_day=None)],
    ),
    "computer-names-unknown": ([template(name_digits=None)], [template()]),
    "computer-names-long": (
        [template(name_prefix="mill-frontdesk-", name_digits=1)],
        [template(name_prefix="mill-frontdes-", name_digits=1)],
    ),
    "computer-names-characters": (
        [template(name_prefix="mill_fd_")],
        [template(name_prefix="Mill-FD-")],
    ),
    "computer-names-hyphen": ([template(name_prefix="-fd-")], [template(name_prefix="fd-")]),
    "computer-names-all-digits": ([template(name_prefix="44")], [template(name_prefix="4f")]),
    "computer-names-few-digits": (
        [template(name_digits=2, most=100)],
        [template(name_digits=2, most=99)],
    ),
    "computer-names-collide": ([template(), other(name_prefix="MILL-FD-")], [template(), other()]),
    "computer-name-taken": (
        [template(), host(name="mill-fd-040.corp.larkfield.example")],
        [template(), host(name="mill-fd-041"), server(name="mill-fd-000")],
    ),
    "machine-name-twice": (
        [host(), server(name="MILL-H1")],
        [host(), server(), host(id=9, name="mill-h2")],
    ),
    "host-name-not-allowed": (
        [host(name="mill_h1")],
        [host(name="mill-h1.corp.larkfield.example"), host(name="")],
    ),
    "management-name-not-allowed": (
        [host(management_name="https://mill-h1/")],
        [host(management_name="mill-h1.corp.larkfield.example.")],
    ),
    "server-name-not-allowed": ([server(name="-dc")], [server(name="4dc")]),
    "server-name-long": (
        [server(name="directory-server-1"), directory()],
        [server(name="directory-serv1.corp.larkfield.example"), directory()],
    ),
    "appliance-name-not-allowed": (
        [f.Appliance(id=8, name="broker 1")],
        [f.Appliance(id=8, name="broker-1")],
    ),
    "entry-name-not-allowed": (
        [f.Service(id=8, entry_name="10.44.1.30")],
        [f.Service(id=8, entry_name="desk.larkfield.example")],
    ),
    "domain-not-allowed": ([directory(domain="corp..example")], [directory()]),
    "domain-long": (
        [directory(domain="a" * 57 + ".example")],  # 65 characters
        [directory(domain="a" * 56 + ".example")],
    ),
    "netbios-not-allowed": ([directory(netbios="LARK.FIELD")], [directory(netbios="L")]),
    "ou-malformed": (
        [directory(desktop_ou="Desktops/corp")],
        [directory(), directory(desktop_ou="")],
    ),
    "ou-part-long": (
        [directory(desktop_ou=f"OU={'a' * 65},DC=corp")],
        [directory(desktop_ou=f"OU={'a' * 64},DC=corp")],
    ),
    "ou-outside-domain": (
        [directory(desktop_ou="OU=Desktops,DC=larkfield,DC=example")],
        [directory(desktop_ou="ou=Desktops,dc=CORP,dc=larkfield,dc=example")],
    ),
}


def test_every_rule_has_a_case():
    mine = {
        key
        for key, function in base.RULES.items()
        if function.__module__.rpartition(".")[2] in MODULES
    }
    assert mine == set(CASES)


@pytest.mark.parametrize("key", CASES)
def test_raised_and_not(key):
    wrong, right = CASES[key]
    found = raised(key, *wrong)
    assert len(found) == 1
    assert found[0].title and "{" not in found[0].title + found[0].text
    assert raised(key, *right) == []


def test_the_worked_lease():
    """40 desktops, 80 sign-outs a day, 8 days and the server's 4 hours: 40 + 8 × 80 + 40. Worked in tests/engine."""
    [found] = raised("lease-too-long", *CASES["lease-too-long"][0])
    assert found.title == "desktops: 720 leases do not fit 254 addresses"
    assert "40 desktops run, 680 leases of rebuilt ones are still held, and 0 others" in found.text
    assert "an old lease lives for 8 days, and 4 h more that a server keeps it" in found.text
    assert "The longest lease that fits is 2.01 days" in found.text
    assert found.mend.values == (("lease_minutes", "2 days"),)
    assert found.mend.words == "Set the lease to 2 days"
    assert units.parse("2 days", units.MINUTES) == 2880


NIGHTLY = {"reset_rule": "nightly", "most": 100}


def test_the_range_grows_where_no_lease_is_short_enough():
    """100 nightly desktops need 200 addresses with any lease that outlives the burst."""
    narrow = network(dhcp_first="10.44.1.100", lease_minutes=720)
    [found] = raised("lease-too-long", narrow, template(**NIGHTLY))
    assert found.title == "desktops: 200 leases do not fit 155 addresses"
    assert found.mend.words == "Set the range to 10.44.1.5 to 10.44.1.254"
    assert "No lease that anybody would set is short enough" in found.text
    mended = dataclasses.replace(narrow, **dict(found.mend.values))
    assert raised("lease-too-long", mended, template(**NIGHTLY)) == []
    longer = dataclasses.replace(narrow, lease_minutes=8 * 1440)
    [found] = raised("lease-too-long", longer, template(**NIGHTLY))
    assert found.mend.words == "Set the range to 10.44.1.5 to 10.44.1.254 and the lease to 20 h"


def test_a_subnet_without_room_is_told_and_nothing_is_offered():
    narrow = network(dhcp_first="10.44.1.100", lease_minutes=720)
    [found] = raised("lease-too-long", narrow, template(reset_rule="nightly", most=130))
    assert found.mend is None and "the desktops need a larger subnet" in found.text


def test_a_range_too_small_for_the_desktops_alone_is_widened():
    [found] = raised("dhcp-range-too-small", *CASES["dhcp-range-too-small"][0])
    assert found.mend.words.startswith("Set the range to 10.44.1.")
    mended = [
        dataclasses.replace(CASES["dhcp-range-too-small"][0][0], lease_minutes=1200),
        *CASES["dhcp-range-too-small"][0][1:],
    ]
    [found] = raised("dhcp-range-too-small", *mended)
    wider = dataclasses.replace(mended[0], **dict(found.mend.values))
    assert raised("dhcp-range-too-small", wider, *mended[1:]) == []
    assert raised("lease-too-long", wider, *mended[1:]) == []


@pytest.mark.parametrize("sign_ins", [1.0, 2.0, 7.3, 50.0, 400.0])
def test_the_proposed_lease_fits(sign_ins):
    records = [network(lease_minutes=60 * 1440), template(), seats(sign_ins_a_day=sign_ins)]
    [found] = raised("lease-too-long", *records)
    if found.mend is None:
        assert (
            sign_ins >= 50
        )  # 2,000 rebuilds in eight hours: the server's four alone hold 1,000 old leases
        return
    minutes = units.parse(found.mend.values[0][1], units.MINUTES)
    assert minutes % 10 == 0
    assert (
        raised(
            "lease-too-long", dataclasses.replace(records[0], lease_minutes=minutes), *records[1:]
        )
        == []
    )


def test_too_small_already_while_others_are_not_counted():
    records = [network(other_dhcp_clients=None), template(), seats()]
    [found] = raised("lease-too-long", *records)
    assert found.mend is None and "Not everything is known" in found.text


def test_one_finding_when_no_lease_is_short_enough():
    records, _ = CASES["dhcp-range-too-small"]
    assert raised("lease-too-long", *records) == []


def test_mends_of_names():
    def mend(key, *records):
        [found] = raised(key, *records)
        return found.mend and dict(found.mend.values)

    assert mend("computer-names-few-digits", *CASES["computer-names-few-digits"][0]) == {
        "name_digits": "3"
    }
    assert mend("computer-names-unknown", *CASES["computer-names-unknown"][0]) == {
        "name_digits": "2"
    }
    assert mend("computer-names-unknown", template(name_prefix="")) is None
    assert mend("computer-names-hyphen", *CASES["computer-names-hyphen"][0]) == {
        "name_prefix": "fd-"
    }
    assert mend("computer-names-long", template(name_prefix="mill-front-", name_digits=5)) == {
        "name_digits": "2"
    }
    assert mend("computer-names-long", template(name_prefix="mill-frontdesk-")) is None
    assert mend("ou-outside-domain", directory(desktop_ou="OU=Desktops")) == {
        "desktop_ou": "OU=Desktops,DC=corp,DC=larkfield,DC=example"
    }
    assert mend("ou-outside-domain", *CASES["ou-outside-domain"][0]) is None


def test_places_and_words():
    [found] = raised("computer-name-taken", *CASES["computer-name-taken"][0])
    assert found.at == f.Ref("template", 2, "name_prefix") and found.also == (
        f.Ref("host", 5, "name"),
    )
    [found] = raised("entry-name-not-allowed", *CASES["entry-name-not-allowed"][0])
    assert found.title == "10.44.1.30 cannot be the entry name: it is an address, not a name"
