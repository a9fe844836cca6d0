"""The whole plan: whatever the facts are, every room, every finding and every stage is worked out in bounded time."""

from __future__ import annotations

import dataclasses
import datetime as dt
import time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner import work_out
from planner.catalogue.assumptions import listed
from planner.engine.provenance import listed as rests
from planner.plan import ROOMS, Plan
from planner.record import facts as f
from tests.factories import TODAY
from tests.played import told
from tests.shares import share
from tests.stages.odd import REAL, facts

ASSUMED = st.lists(
    st.builds(f.Assumed, key=st.sampled_from(sorted(listed())), value=REAL), max_size=6
).map(tuple)


@settings(max_examples=share(50, of=150), deadline=None, suppress_health_check=list(HealthCheck))
@given(facts(["x"]), ASSUMED)
def test_nothing_is_ever_raised(odd, assumed):
    work_out(dataclasses.replace(odd, assumed=assumed)).everything()


def absurd(**changes) -> f.SiteFacts:
    """A site of two hosts whose one value is beyond anything anybody has."""
    base = {
        "hosts": tuple(
            f.Host(id=n, name=f"h{n}", sockets=2, cores_per_socket=8, memory_gib=96) for n in (1, 2)
        ),
        "networks": (
            f.Network(
                id=1,
                name="n",
                cidr="10.0.0.0/24",
                dhcp="range",
                dhcp_first="10.0.0.9",
                dhcp_last="10.0.0.99",
                lease_minutes=1440,
            ),
        ),
        "templates": (
            f.Template(
                id=1,
                name="t",
                network_id=1,
                memory_gib=4,
                vcpu=2,
                most=20,
                standby=2,
                reset_rule="sign-out",
                growth_gib=4,
                name_prefix="t-",
                name_digits=3,
            ),
        ),
        "seat_groups": (
            f.SeatGroup(id=1, name="all", template_id=1, people=20, share_at_once=0.7),
        ),
    }
    return f.SiteFacts(today=TODAY, site=f.Site(id=1, purpose="live"), **{**base, **changes})


ABSURD = {
    "no hosts": absurd(hosts=()),
    "nothing at all": f.SiteFacts(today=TODAY, site=f.Site(id=1)),
    "most 0": absurd(templates=(dataclasses.replace(absurd().templates[0], most=0),)),
    "4,096 GiB desktops": absurd(
        templates=(dataclasses.replace(absurd().templates[0], memory_gib=4096),)
    ),
    "a /8 with a range over all of it": absurd(
        networks=(
            dataclasses.replace(
                absurd().networks[0],
                cidr="10.0.0.0/8",
                dhcp_first="10.0.0.1",
                dhcp_last="10.255.255.254",
            ),
        )
    ),
    "100,000 people": absurd(
        seat_groups=(dataclasses.replace(absurd().seat_groups[0], people=100_000),)
    ),
    "100,000 desktops": absurd(
        templates=(dataclasses.replace(absurd().templates[0], most=100_000),)
    ),
    "200 hosts": absurd(
        hosts=tuple(
            f.Host(id=n, name=f"h{n}", sockets=2, cores_per_socket=8, memory_gib=96 + n % 7)
            for n in range(200)
        )
    ),
    "200 templates": absurd(
        templates=tuple(
            dataclasses.replace(absurd().templates[0], id=n, name=f"t{n}", most=9)
            for n in range(200)
        )
    ),
}
BOUND = 20.0  # seconds: a guard against endless work on any machine, not a measure of speed (see tests/bench)


@pytest.mark.parametrize("name", ABSURD)
def test_absurd_but_possible_facts_give_answers_in_bounded_time(name):
    before = time.process_time()
    plan = work_out(ABSURD[name]).everything()
    assert time.process_time() - before < BOUND
    assert plan.review.findings


def test_rooms_are_worked_out_once_and_only_when_asked_for():
    plan = work_out(absurd())
    assert not set(vars(plan)) & set(ROOMS)
    assert plan.storage is plan.storage and "surge" not in vars(plan)


def test_every_room_that_chapter_8_explains_is_one():
    assert set(rests()) <= set(ROOMS)


AT = dt.datetime(2026, 3, 2, 9, tzinfo=dt.UTC)
SAID = {
    "answers": (f.Answer(check="scope-agreed", state="proven", by="Eve"),),
    "signatures": (f.Signature(stage=1, by="Eve", at=AT),),
    "acceptances": (f.Acceptance(finding="x", reason="so", look_again=TODAY, by="Eve", at=AT),),
}


@pytest.mark.parametrize("name", SAID)
def test_what_people_say_leaves_the_rooms_of_the_engine(name):
    """They are taken from the plan before, and all of the plan is what it is alone."""
    before = work_out(absurd()).everything()
    said = dataclasses.replace(absurd(), **{name: SAID[name]})
    after, alone = work_out(said, before), work_out(said)
    assert all(getattr(after, room) is getattr(before, room) for room in Plan.UNSAID)
    assert told(after) == told(alone)


def test_anything_else_moves_them_all():
    before = work_out(absurd()).everything()
    after = work_out(dataclasses.replace(absurd(), today=TODAY.replace(year=2027)), before)
    assert not set(vars(after)) & set(ROOMS)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(facts(["x"]), st.sampled_from(sorted(SAID)))
def test_a_plan_that_follows_another_says_what_it_says_alone(odd, name):
    before = work_out(odd).everything()
    said = dataclasses.replace(odd, **{name: SAID[name]})
    assert told(work_out(said, before)) == told(work_out(said))
