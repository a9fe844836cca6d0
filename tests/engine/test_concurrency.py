"""How many desktops the seats need, worked by hand; against other libraries: tests/references."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.engine.people import chances, concurrency
from planner.plan import Plan
from planner.record import facts as f
from planner.review import base
from tests.factories import TODAY, make, plan_of
from tests.stages import odd


def seated(most=50, *groups, **values):
    """A template and its seat groups (people, share)."""
    template = make(f.Template, name="front desk", **{"most": most, **values})
    return [
        template,
        *(
            make(
                f.SeatGroup,
                name=f"group {number}",
                template_id=template.id,
                people=people,
                share_at_once=share,
            )
            for number, (people, share) in enumerate(groups, 1)
        ),
    ]


def need(*records, **values):
    return plan_of(*records, **values).concurrency.by_template[0]


def test_three_people_and_a_coin():
    """P(3) = 1/8, P(2) = 3/8, P(1) = 3/8, P(0) = 1/8. Source: worked by hand."""
    coin = [(3, 0.5)]
    assert [concurrency.chance_over(coin, m) for m in (-1, 0, 1, 2, 3)] == pytest.approx(
        [1, 7 / 8, 4 / 8, 1 / 8, 0]
    )
    assert [concurrency.most_needed(coin, risk) for risk in (0.9, 0.5, 0.49, 0.125, 0.1249)] == [
        0,
        1,
        2,
        2,
        3,
    ]
    both = [(1, 0.5), (2, 0.5)]  # the same three people in two groups
    assert concurrency.chance_over(both, 2) == pytest.approx(1 / 8)


def test_a_chance_that_stands_exactly_on_the_risk_is_taken():
    """One person in a hundred: with no desktop somebody goes without in just 1 %. Source: worked by hand."""
    assert concurrency.most_needed([(1, 0.01)], 0.01) == 0
    assert concurrency.most_needed([(1, 0.3), (1, 0.7)], 0.21) == 1  # both are there with 0.3 × 0.7


def test_at_the_ends():
    assert concurrency.most_needed([], 0.01) == 0
    assert concurrency.most_needed([(12, 1.0), (5, 0.0)], 0.01) == 12
    assert concurrency.most_needed([(12, 0.4)], 0.0) == 12  # no risk: everybody
    assert concurrency.most_needed([(12, 0.4)], float("nan")) == 12
    assert concurrency.most_needed([(12, 0.4)], 1.0) == 0
    assert concurrency.most_needed([(12, 1.5)], 0.01) is None
    assert concurrency.most_needed([(-1, 0.5)], 0.01) is None
    assert concurrency.most_needed([(chances.PEOPLE_MOST + 1, 0.5)], 0.01) is None
    assert concurrency.chance_over([(12, 0.4)], float("nan")) == 0.0


def test_walk_up_seats_by_hand():
    """One seat and one erlang: half are turned away. Two seats: 1 ÷ 5. All wait when the load fills the seats.
    Source: worked by hand from the recursion and from A²/2 ÷ (1 + A + A²/2)."""
    assert concurrency.erlang_b(1.0, 1) == pytest.approx(0.5)
    assert concurrency.erlang_b(1.0, 2) == pytest.approx(1 / 5)
    assert concurrency.erlang_c(1.0, 2) == pytest.approx((1 / 5) / (1 - 0.5 * (4 / 5)))  # a third
    assert concurrency.erlang_c(2.0, 2) == 1.0
    assert concurrency.erlang_b(3.0, 0) == 1.0
    assert concurrency.seats_for(1.0, 0.2) == 2
    assert concurrency.seats_for(0.0, 0.01) == 0
    assert concurrency.load_for(1, 0.5) == pytest.approx(1.0)
    assert concurrency.load_for(0, 0.5) == 0.0


@pytest.mark.parametrize("number", [-1, math.nan, math.inf, 1e300])
def test_no_answer_where_a_number_cannot_be_one(number):
    assert concurrency.erlang_b(number, 5) is None
    assert concurrency.erlang_c(number, 5) is None
    assert concurrency.seats_for(number, 0.01) is None
    assert concurrency.erlang_b(5.0, number) is None
    assert concurrency.load_for(number, 0.01) is None


@pytest.mark.parametrize("blocking", [0.0, -1.0, math.nan])
def test_nobody_turned_away_takes_seats_without_end(blocking):
    assert concurrency.seats_for(3.0, blocking) is None
    assert concurrency.load_for(3, blocking) is None


def test_what_a_template_needs():
    """Source: tests/references for the 50; mean 60 × 0.7 = 42; the assumption's risk is 1 %."""
    found = need(*seated(50, (60, 0.7), standby=3))
    assert (found.people, found.mean, found.most, found.needed) == (60, 42.0, 50, 50)
    assert 0 < found.chance_short <= 0.01
    assert found.beyond_all == 0 and found.missing == ()
    assert need(*seated(70, (60, 0.7), standby=3)).beyond_all == 7


def test_the_risk_is_an_assumption():
    bold = f.Assumed(key="seats.risk", value=0.2)
    assert need(*seated(50, (60, 0.7)), bold).needed < 50


def test_what_is_missing_is_named_with_its_field():
    template, group = seated(None, (None, 0.7))
    found = need(template, group)
    assert (found.needed, found.chance_short, found.mean, found.people) == (None, None, None, None)
    assert found.missing == ("the people of group 1", "the most of front desk")
    assert found.missing_at == (group.ref.at("people"), template.ref.at("most"))
    alone = need(make(f.Template, name="front desk", most=4))
    assert alone.missing == ("who uses front desk",) and alone.needed is None


def test_seats_by_client_addresses_are_looked_at_as_walk_ups_too():
    """10 places in use half the time: 5 erlangs on 10 desktops. Source: 0.018385, Erlang B, scipy.stats.poisson."""
    template, group = seated(10, (10, 0.5))
    assert need(template, group).walk_ups_turned_away is None
    found = need(template, dataclasses.replace(group, seat_kind="clients"))
    assert found.walk_ups_turned_away == pytest.approx(0.018385, abs=1e-6)


def test_a_hundred_thousand_people_and_many_shares_are_bounded():
    everybody = [(1000, number / 101) for number in range(1, 101)]
    spread = chances.together(everybody)
    assert spread is not None and len(spread.chances) < 6000
    assert spread.chances.sum() == pytest.approx(1.0, rel=1e-12)
    mean = sum(people * share for people, share in everybody)
    assert (spread.chances * range(spread.first, spread.last + 1)).sum() == pytest.approx(
        mean, rel=1e-9
    )


# -- Nothing raises -------------------------------------------------------------------------------

SOME = st.one_of(st.none(), st.sampled_from([0, 1, 2, 25, 400, 100_000, 10**6, 10**15, -3]))
REAL = st.one_of(
    st.none(),
    st.floats(),
    st.sampled_from([0.0, 0.3, 0.7, 1.0, 300.0, 333.333, 1e-320, 1 - 1e-16, 1e9]),
)
IDS = st.one_of(st.none(), st.integers(1, 3))
RULE = st.sampled_from(["", "kept", "sign-out", "nightly", "weekly"])
OWN = ("activation", "applications", "desktops", "line", "seats")
KEYS = [
    "seats.risk",
    "sessions.line-free-share",
    "sessions.update-kib",
    "sessions.delay-target-ms",
    "line.mtu",
    "activation.other-systems",
    "activation.second-server-from",
]


def some(kind, **fields):
    return st.lists(
        st.builds(kind, id=st.integers(1, 3), name=odd.TEXTS, **fields), max_size=3
    ).map(tuple)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.builds(
        f.SiteFacts,
        today=st.just(TODAY),
        site=st.builds(f.Site, purpose=st.sampled_from(["trial", "live"])),
        directory=odd.record(f.Directory),
        servers=some(f.Server, roles=st.sampled_from([(), ("keys",)])),
        networks=some(
            f.Network,
            purpose=st.sampled_from(["", "remote", "clients"]),
            link_mbit_s=REAL,
            mtu=SOME,
            domain_suffix=odd.TEXTS,
        ),
        images=some(
            f.Image,
            activation=st.sampled_from(["", "key-server", "multiple-key", "subscription", "none"]),
        ),
        applications=some(
            f.Application,
            image_id=IDS,
            licences_held=SOME,
            licensed_by=st.sampled_from(
                ["", "people", "devices", "at-once", "hosts", "free", "odd"]
            ),
        ),
        templates=some(
            f.Template, image_id=IDS, network_id=IDS, most=SOME, standby=SOME, reset_rule=RULE
        ),
        seat_groups=some(
            f.SeatGroup,
            template_id=IDS,
            network_id=IDS,
            people=SOME,
            share_at_once=REAL,
            kbit_s=REAL,
            sign_ins_a_day=REAL,
            seat_kind=st.sampled_from(["", "group", "person", "clients"]),
        ),
        assumed=st.lists(
            st.builds(f.Assumed, key=st.sampled_from(KEYS), value=st.floats()), max_size=2
        ).map(tuple),
    )
)
def test_whatever_the_facts_nothing_raises(facts):
    plan = Plan(facts)
    assert len(plan.concurrency.by_template) == len(facts.templates)
    assert len(plan.activation.licences) == len(facts.applications)
    for one in plan.concurrency.by_template:
        assert one.needed is None or one.people is None or 0 <= one.needed <= one.people
        assert one.chance_short is None or 0 <= one.chance_short <= 1
    for one in plan.line.by_network:
        assert one.binds in ("", "rate", "delay")
    rules = {
        key: rule for key, rule in base.RULES.items() if rule.__module__.rpartition(".")[2] in OWN
    }
    assert len(rules) > 40
    for key, rule in rules.items():
        assert all(
            base._finding(base.entries()[key], "remark", hit, {}).title for hit in rule(plan)
        )
