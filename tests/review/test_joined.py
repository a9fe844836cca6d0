"""Findings about networks of sites that a link joins to this one."""

from __future__ import annotations

import ipaddress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.record import facts as f
from tests.factories import raised
from tests.review.cases import rules_of

KEY = "joined-networks-overlap"


def near(*networks: f.Network, id: int = 7, name: str = "Harbour Lane") -> f.Neighbour:
    return f.Neighbour(id=id, name=name, networks=networks)


def network(id: int, cidr: str, name: str = "", purpose: str = "desktops") -> f.Network:
    return f.Network(id=id, name=name or f"n{id}", cidr=cidr, purpose=purpose)


HERE = network(1, "10.44.1.0/24", "desks")


def test_every_rule_has_a_case():
    assert rules_of("joined") == {KEY}


@pytest.mark.parametrize(
    ("far", "overlaps"),
    [
        ("10.44.1.0/24", True),
        ("10.44.0.0/16", True),
        ("10.44.1.64/28", True),
        ("0.0.0.0/0", True),
        ("10.44.1.9/32", True),
        ("10.44.2.0/24", False),
        ("10.44.0.0/24", False),
        ("", False),
        ("x", False),
    ],
)
def test_a_network_that_shares_addresses_is_noted(far, overlaps):
    found = raised(KEY, HERE, neighbours=(near(network(1, far, "people")),))
    assert bool(found) is overlaps
    if found:
        assert (found[0].at, found[0].chapter, found[0].weight) == (
            HERE.ref.at("cidr"),
            2,
            "stopper",
        )
        assert (
            f"people ({far}) of Harbour Lane" in found[0].text
            and "desks (10.44.1.0/24)" in found[0].title
        )


def test_one_note_a_network_names_the_first_few():
    far = [
        near(*(network(n, "10.44.1.0/24") for n in range(2)), id=id, name=f"Site {id}")
        for id in range(4)
    ]
    [found] = raised(KEY, HERE, neighbours=tuple(far))
    assert "n0 (10.44.1.0/24) of Site 0" in found.text and "and 5 more" in found.text


def test_the_links_own_network_is_one_network():
    link = network(1, "10.99.0.0/30", "link", "remote")
    assert raised(KEY, link, neighbours=(near(network(9, "10.99.0.0/30", "link", "remote")),)) == []
    assert raised(KEY, link, neighbours=(near(network(9, "10.99.0.0/29", "link", "remote")),))
    assert raised(KEY, link, neighbours=(near(network(9, "10.99.0.0/30", "lan", "clients")),))


def test_a_trial_is_told_less_sharply_and_a_site_by_itself_not_at_all():
    assert raised(KEY, HERE) == []
    [found] = raised(KEY, HERE, purpose="trial", neighbours=(near(HERE),))
    assert found.weight == "concern"


BLOCKS = st.builds(
    "10.44.{}.{}/{}".format, st.integers(0, 3), st.integers(0, 255), st.integers(20, 32)
)


@settings(max_examples=150, deadline=None)
@given(st.lists(BLOCKS, max_size=5), st.lists(BLOCKS, max_size=6))
def test_it_agrees_with_ipaddress(here, far):
    own = [network(n, cidr) for n, cidr in enumerate(here, 1)]
    others = [network(n, cidr) for n, cidr in enumerate(far, 1)]
    found = {one.at.id for one in raised(KEY, *own, neighbours=(near(*others),))}
    subnets = [ipaddress.ip_network(other, strict=False) for other in far]
    wanted = {
        one.id
        for one in own
        if any(ipaddress.ip_network(one.cidr, strict=False).overlaps(o) for o in subnets)
    }
    assert found == wanted
