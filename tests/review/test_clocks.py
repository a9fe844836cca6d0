"""Findings about clocks: each raised by one site and not by another."""

from __future__ import annotations

import pytest

from planner.record import facts as f
from tests.factories import findings, make, raised
from tests.review.cases import Case, rules_of

LAN = make(f.Network, name="management", cidr="10.44.1.0/24")
DC = make(f.Server, name="dc-1", address="10.44.1.5", roles=("directory", "dns", "time"))
FILES = make(f.Server, name="files-1", address="10.44.1.7", roles=("files",))
OUTSIDE = "ntp.example.net"


def domain(source=OUTSIDE):
    return f.Directory(
        id=1, directory_kind="domain", domain="corp.larkfield.example", time_source=source
    )


def host(source, name="mill-h1"):
    return make(f.Host, name=name, time_source=source)


GOOD = [LAN, DC, domain(), host("10.44.1.5")]

CASES = [
    Case(
        "clock-loop",
        [LAN, DC, domain("mill-h1"), host("10.44.1.5")],
        GOOD,
        "time_source",
        "mill-h1 → corp.larkfield.example → mill-h1",
    ),
    Case(
        "clock-only-inside",
        [LAN, DC, domain("dc-1")],
        GOOD,
        "time_source",
        "its own server, dc-1",
        trial=False,
    ),
    Case(
        "host-clock-source-doubtful",
        [*GOOD, host("10.44.1.77")],
        GOOD,
        "time_source",
        "mill-h1 takes its time from 10.44.1.77 It is inside the site",
        trial=False,
    ),
    Case(
        "directory-clock-source-doubtful",
        [LAN, DC, FILES, domain("files-1")],
        [*GOOD, FILES],
        "time_source",
        "is a server whose roles in 4.2 do not name time",
        trial=False,
    ),
    Case(
        "host-clock-apart",
        [*GOOD, host("time.example.org", "mill-h2"), host("time.example.org", "mill-h3")],
        GOOD,
        "time_source",
        "mill-h2 and mill-h3 take their time from elsewhere than corp.larkfield.example",
        trial=False,
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.key)
def test_a_rule_is_raised_and_not(case):
    case.check()
    found = raised(case.key, *case.yes)[0]
    assert found.chapter == {"host": 3, "directory": 4}[found.at.kind]


def test_every_rule_of_the_clocks_has_its_case():
    assert {case.key for case in CASES} == rules_of("clocks")


@pytest.mark.parametrize(
    "records",
    [
        [],
        GOOD,
        [domain(""), host("")],
        [host(OUTSIDE), host(OUTSIDE, "mill-h2")],
        [LAN, f.Directory(directory_kind="own-accounts"), host("10.44.1.5"), DC],
    ],
)
def test_no_noise(records):
    assert not {case.key for case in CASES} & findings(*records).keys()


def test_one_circle_is_one_finding():
    hosts = [host(f"n{(number + 1) % 12}", f"n{number}") for number in range(12)]
    (found,) = raised("clock-loop", *hosts)
    assert found.title.count("→") == 5 and "…" in found.title


def test_two_hosts_in_one_circle_and_two_in_another():
    found = raised("clock-loop", host("b", "a"), host("a", "b"), host("d", "c"), host("c", "d"))
    assert [one.title.partition(": ")[2] for one in found] == ["a → b → a", "c → d → c"]


def test_hosts_with_the_same_doubt_share_a_finding():
    (found,) = raised(
        "host-clock-source-doubtful", *GOOD, *(host("10.44.1.77", f"h{n}") for n in range(5))
    )
    assert len(found.also) == 4 and "h0, h1, h2 and 2 more take their time" in found.title


def test_two_doubts_at_one_host_are_told_apart():
    found = raised("host-clock-source-doubtful", *GOOD, host("10.44.1.77, 10.44.1.78"))
    assert len({one.token for one in found}) == 2


def test_the_words_say_how_soon():
    """300 s at 50 parts per million: 69 days."""
    assert "5 minutes off the true time in 69 days" in raised("clock-loop", host("a", "a"))[0].text
    fast = f.Assumed(key="clock.drift-ppm", value=100)
    assert "in 35 days" in raised("clock-loop", host("a", "a"), fast)[0].text
