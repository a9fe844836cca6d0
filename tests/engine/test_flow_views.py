"""The port sheet from several sides: networks, firewalls, machines, desktops."""

from __future__ import annotations

import networkx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.engine.flows import port_sheet as flows
from planner.engine.flows.gaps import Gaps, undecided
from planner.engine.flows.views import OUTSIDE, Views, grouped, places
from planner.record import facts as f
from tests.engine.test_flows import LISTED, any_record, small_site
from tests.engine.test_flows_decided import outside_site
from tests.factories import site_facts
from tests.papers.demo_facts import SITES, demo


def views_of(*records: f.Record) -> Views:
    facts = site_facts(*records)
    return Views(facts, flows.work_out(facts).flows)


def rules(views: Views, numbers) -> set[str]:
    return {views.flows[number].rule for number in numbers}


# -- networks and firewalls ----------------------------------------------------------------------


def test_pairs_of_networks_and_what_stands_between():
    views = views_of(
        *small_site()
    )  # core (1) and desks (2) are joined, the people's lan (3) is behind a firewall
    assert views.places == [1, 2, 3, OUTSIDE, None]
    assert rules(views, views.pairs[3, 2]) == {"display"}
    assert rules(views, views.pairs[3, 1]) == {"entry"}
    assert "directory" in rules(views, views.pairs[2, 1])
    assert rules(views, views.pairs[1, 2]) == {
        "agent",
        "lease-answer",
        "lease-relayed-answer",
    }  # the agent's lines are opened from both sides
    assert rules(views, views.pairs[2, None]) == {"activation"}  # no server answers for keys
    assert set(views.firewalls) == {(1, 3), (2, 3), (1, OUTSIDE), (2, OUTSIDE)}
    assert rules(views, views.firewalls[2, OUTSIDE]) == {"updates"}
    assert rules(views, views.firewalls[1, 3]) == {"entry"}
    assert [views.place_name(place) for place in views.places] == [
        "core",
        "desks",
        "lan",
        "outside",
        "not known",
    ]


def test_the_world_outside_is_a_place_of_its_own():
    views = views_of(*outside_site())
    assert views.places == [1, 2, 3, 5, OUTSIDE, None]
    assert rules(views, views.pairs[OUTSIDE, 5]) == {"outside"}
    assert rules(views, views.firewalls[5, OUTSIDE]) == {"outside"}
    assert views.place_name(OUTSIDE) == "outside"
    sent_out = [pair for pair in views.pairs if pair[1] == OUTSIDE]
    assert {rule for pair in sent_out for rule in rules(views, views.pairs[pair])} == {"updates"}


@pytest.mark.parametrize("name", SITES)
def test_every_line_is_in_the_pairs_and_none_is_made_up(name):
    """Each flow's lines between places, counted anew as the edges of a directed multigraph (networkx)."""
    facts = demo(name)
    views = Views(facts, flows.work_out(facts).flows)
    graph = networkx.MultiDiGraph()
    for number, flow in enumerate(views.flows):
        for source in set(places(flow.source)):
            for target in set(places(flow.target)):
                graph.add_edge(str(source), str(target), key=number)
                if flow.direction == "both ways":
                    graph.add_edge(str(target), str(source), key=number)
    assert {tuple(map(str, pair)): len(numbers) for pair, numbers in views.pairs.items()} == {
        (here, there): graph.number_of_edges(here, there) for here, there in graph.edges()
    }
    for pair, numbers in views.firewalls.items():
        crossing = {n for way in (pair, pair[::-1]) for n in views.pairs.get(way, ())}
        assert set(numbers) == crossing
        assert {views.flows[number].crosses for number in numbers} == {"firewall"}
    walled = {number for numbers in views.firewalls.values() for number in numbers}
    assert walled == {
        number
        for number, flow in enumerate(views.flows)
        if flow.crosses == "firewall" and None not in {*places(flow.source), *places(flow.target)}
    }


def test_walls_of_one_line():
    views = views_of(*small_site())
    entry = next(flow for flow in views.flows if flow.rule == "entry")
    agent = next(flow for flow in views.flows if flow.rule == "agent")
    assert views.walls(entry) == [(3, 1)] and views.walls(agent) == []


# -- machines and desktops -----------------------------------------------------------------------


def test_a_machines_side_has_all_its_names():
    views = views_of(*small_site())
    server = views.sides[f.Ref("server", 1)]
    assert set(server.groups) == {"directory servers", "DNS servers", "DHCP server", "time servers"}
    assert rules(views, server.lets_in) == {
        "directory",
        "dns",
        "lease",
        "lease-relayed",
        "clock",
    }
    assert rules(views, server.sends) == {
        "lease-answer",
        "lease-relayed-answer",
    }  # it does not ask itself for the time
    host = views.sides[f.Ref("host", 1)]
    assert rules(views, host.sends) == {"clock", "host-copies"}
    assert rules(views, host.lets_in) == {"hypervisor", "host-copies", "administer-hosts"}
    people = views.sides[f.Ref("seatgroup", 1)]
    assert rules(views, people.sends) == {"entry", "display"} and people.lets_in == []


def test_what_reaches_the_entry_reaches_the_appliances():
    views = views_of(*small_site())
    assert "entry" in rules(views, views.sides[f.Ref("appliance", 1)].lets_in)
    assert views.sides[f.Ref("appliance", 1)].groups == {"appliances": None}


@pytest.mark.parametrize("name", SITES)
def test_every_record_of_every_line_is_on_its_side(name):
    facts = demo(name)
    views = Views(facts, flows.work_out(facts).flows)
    for number, flow in enumerate(views.flows):
        both = flow.direction == "both ways"
        for end, opens in ((flow.source, True), (flow.target, False)):
            for holder in end.holders:
                if holder.ref is not None:
                    side = views.sides[holder.ref]
                    assert number in side.sends or not (opens or both)
                    assert number in side.lets_in or not (both or not opens)
    for side in views.sides.values():
        assert side.sends == sorted(set(side.sends)) and side.lets_in == sorted(set(side.lets_in))


def test_what_desktops_must_let_in():
    views = views_of(*small_site())
    found = {
        (views.flows[one.number].rule, one.flow.ports, one.others.label) for one in views.inbound
    }
    assert found == {
        ("display", "3389", "people: Reception"),
        ("agent", "8443", "appliances: broker-1"),
        ("agent", "9000-9010", "appliances: broker-1"),
        ("lease-answer", "68", "DHCP server: dc-1"),
    }
    assert {one.templates for one in views.inbound} == {("front desk",)}


@pytest.mark.parametrize(
    ("typed", "let_in"), [("", True), ("desktops", True), ("DESKS", True), ("mill-h1", False)]
)
def test_own_flows_into_the_desktops_are_let_in(typed, let_in):
    own = f.OwnFlow(
        id=4,
        name="remote help",
        from_network_id=1,
        to_network_id=2,
        to_what=typed,
        transport="tcp",
        ports="5938",
    )
    views = views_of(*small_site(), own)
    assert any(one.flow.own for one in views.inbound) is let_in


def test_lines_that_differ_in_their_port_alone_stand_together():
    found = list(grouped(enumerate(flows.work_out(site_facts(*small_site())).flows)))
    directory = [group for group in found if group[0][1].rule == "directory"]
    assert len(directory) == 1 and len(directory[0]) == 12
    assert sorted(number for group in found for number, _ in group) == list(
        range(sum(map(len, found)))
    )


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.one_of(*map(any_record, LISTED)), max_size=12),
    any_record(f.Service),
    any_record(f.Directory),
)
def test_any_facts_can_be_looked_at_from_every_side(records, service, directory):
    facts = site_facts(*records, service, directory)
    views = Views(facts, flows.work_out(facts).flows)
    gaps = Gaps(facts)
    numbers = set(range(len(views.flows)))
    assert {number for found in views.pairs.values() for number in found} == numbers
    assert {number for found in views.firewalls.values() for number in found} <= numbers
    assert {
        number for side in views.sides.values() for number in (*side.sends, *side.lets_in)
    } <= numbers
    assert {one.number for one in views.inbound} <= numbers
    for flow in views.flows:
        told = gaps.of(flow)
        assert all(gap.words and (gap.at is None) == bool(gap.section) for gap in told)
        unknown = flow.crosses == "not known" or "not known yet" in (
            flow.ports,
            flow.source.label,
            flow.target.label,
        )
        assert told or not unknown
    assert all(gap.at is not None for gap in undecided(facts))
