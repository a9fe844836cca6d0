"""All configurations: what each starts with, and that no typed text ever becomes a command."""

from __future__ import annotations

import datetime as dt
import json
import re

import pytest

from planner.papers.configs import CONFIGS, Edition
from planner.plan import Plan
from planner.record import facts as f
from tests.factories import site_facts
from tests.papers.config_checkers import EDITION, config
from tests.papers.demo_facts import SITES, demo

KINDS = sorted(CONFIGS)


@pytest.mark.parametrize("name", SITES)
@pytest.mark.parametrize("slug", KINDS)
def test_each_file_says_whose_it_is_and_what_to_do_first(slug, name):
    made = config(slug, demo(name))
    plan = Plan(demo(name))
    for text in made.files.values() or [made.text]:
        start = " ".join(re.sub(r"^[#;] ?", "", line).strip() for line in text[:3000].splitlines())
        assert plan.facts.customer in start and plan.facts.site.name in start
        assert plan.fingerprint in start and "2027-01-14" in start
        assert re.search(r"(Revision: |\"revision\": \")B\b", start)
        assert (
            "Somebody who knows this network must read the whole file before it is loaded" in start
        )
        assert re.search("what.it.replaces", start, re.IGNORECASE)


@pytest.mark.parametrize("slug", KINDS)
def test_problems_stand_in_the_file_too(slug):
    made = config(slug, demo("bench"))
    words = re.sub(r"\s+", " ", re.sub(r"^# ?", "", made.text, flags=re.MULTILINE))
    assert made.problems
    for problem in made.problems:
        assert (
            re.sub(r"\s+", " ", json.dumps(problem.text, ensure_ascii=False)[1:-1]) in words
            or problem.text in words
        )


def test_what_was_left_out_leads_to_where_it_is_mended():
    facts = demo("bench")
    for slug in KINDS:
        for problem in config(slug, facts).problems:
            assert problem.at is None or facts.find(problem.at) is not None


def test_names_of_files():
    plan = Plan(demo("mill"))
    assert CONFIGS["firewall"].file_name(plan, EDITION) == "larkfield-mill-firewall-B.nft"
    assert (
        CONFIGS["dhcp-kea"].file_name(plan, Edition(dt.date(2027, 1, 1)))
        == "larkfield-mill-dhcp-kea-draft.json"
    )
    odd = Plan(site_facts(f.Site(code='../x"\n'), customer_code=""))
    for kind in CONFIGS.values():
        assert re.fullmatch(
            r"[A-Za-z0-9-]+\.[a-z]+", kind.file_name(odd, Edition(dt.date.min, '"\r\n../B'))
        )


def test_an_unrevised_plan_says_so():
    assert (
        "Revision: none: the plan as it stood"
        in config("hosts", demo("mill"), Edition(dt.date(2027, 1, 1))).text
    )


def test_a_large_site_is_written_in_bounded_time():
    """Thousands of machines: what grows must not grow with their square."""
    networks = [
        f.Network(
            id=n,
            name=f"n{n}",
            cidr=f"10.{n // 250}.{n % 250}.0/24",
            dhcp="range",
            dhcp_first=f"10.{n // 250}.{n % 250}.9",
            dhcp_last=f"10.{n // 250}.{n % 250}.200",
        )
        for n in range(1, 501)
    ]
    devices = [
        f.Device(
            id=n,
            name=f"d{n}",
            network_id=n % 500 + 1,
            holding="reserved",
            address=f"10.{(n % 500 + 1) // 250}.{(n % 500 + 1) % 250}.{201 + n // 500}",
            mac=f"00:00:5e:00:{n // 256:02x}:{n % 256:02x}",
        )
        for n in range(5000)
    ]
    directory, server = (
        f.Directory(id=1, domain="corp.example"),
        f.Server(id=1, name="dc-1", address="10.0.1.5", roles=("dns",)),
    )
    facts = site_facts(*networks, *devices, directory, server)
    for slug in KINDS:
        assert len(config(slug, facts).text) > 1000
