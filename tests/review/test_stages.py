"""Findings about the stages: each raised by one site and not by another."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from planner.plan import Plan
from planner.record import facts as f
from planner.record.facts import Ref
from tests.factories import TODAY, findings, make, plan_of, raised, site_facts
from tests.review.cases import rules_of

AT = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)


def answer(key: str, state: str, proof: str = "seen") -> f.Answer:
    return f.Answer(check=key, state=state, at=AT, proof=proof)


def site(purpose: str = "live", **values) -> f.Site:
    return f.Site(id=1, purpose=purpose, **values)


def all_of(*stages: int, state: str = "proven") -> list[f.Answer]:
    found = plan_of().stages
    return [answer(check.key, state) for number in stages for check in found.stage(number).checks]


def signed(stage: int) -> f.Signature:
    keys = tuple(check.key for check in plan_of().stages.stage(stage).checks)
    return f.Signature(stage=stage, by="L. Reed", at=AT, checks=keys)


def test_every_rule_of_the_group_is_tried_here():
    tried = {
        "checks-on-trust",
        "check-failed",
        "gate-reopened",
        "ground-not-ready",
        "live-before-gates",
        "live-not-ready",
        "own-step-order",
        "own-step-untimed",
        "stepplan-unknown-step",
        "stepplan-twice",
    }
    assert rules_of("stages") == tried


def test_trust_on_a_live_site_is_one_finding_a_stage():
    given = [
        answer("scope-agreed", "trust"),
        answer("room-seen", "trust"),
        answer("flows-open", "trust"),
    ]
    found = raised("checks-on-trust", *given)
    assert [(one.at, one.title) for one in found] == [
        (Ref("stage", 1), "1 Survey: 2 checks are on trust"),
        (Ref("stage", 2), "2 Ground: 1 check is on trust"),
    ]
    assert not raised("checks-on-trust", *given, purpose="trial")
    assert not raised("checks-on-trust", answer("scope-agreed", "proven"))


def test_each_failed_check_says_what_was_seen():
    given = [
        answer("room-seen", "failed", "The door is {70} cm wide."),
        answer("flows-open", "failed", ""),
    ]
    found = raised("check-failed", *given)
    assert [one.twin for one in found] == ["room-seen", "flows-open"]
    assert found[0].text == "The door is {70} cm wide."
    assert "Nobody wrote down" in found[1].text
    assert found[0].weight == "stopper"
    assert len({one.token for one in found}) == 2
    assert not raised("check-failed", answer("room-seen", "proven"))


def test_a_reopened_gate_is_found():
    given, signature = all_of(1), signed(1)
    assert not raised("gate-reopened", *given, signature)
    found = raised("gate-reopened", *given, signature, make(f.SeatGroup, name="Reception"))
    assert found[0].at == Ref("stage", 1)
    assert "nobody signed for" in found[0].text
    assert not raised(
        "gate-reopened", *given, make(f.SeatGroup, name="Reception")
    )  # never signed, so not open again


@pytest.mark.parametrize(
    ("days", "found"), [(-1, False), (0, True), (1, True), (7, True), (8, False)]
)
def test_ground_must_be_ready_a_week_before(days, found):
    """Common practice, no source: seven days."""
    here = site(on_site_date=TODAY + dt.timedelta(days=days))
    assert [one.at.id for one in raised("ground-not-ready", here)] == ([1, 2] if found else [])


def test_a_day_that_is_not_set_is_not_near():
    assert not raised("ground-not-ready", site())


def test_only_open_and_failed_checks_of_survey_and_ground_count():
    near = site(on_site_date=TODAY + dt.timedelta(days=1))
    ready = [*all_of(1), *all_of(2, state="trust")]
    assert not raised("ground-not-ready", near, *ready)
    broken = [*ready[:-1], answer(ready[-1].check, "failed")]
    found = raised("ground-not-ready", near, *broken)
    assert found[0].title == "2 Ground: 1 check is open or failed, and the on-site day is tomorrow"


def test_a_house_may_want_longer():
    here = site(on_site_date=TODAY + dt.timedelta(days=14))
    assert not raised("ground-not-ready", here)
    assert raised("ground-not-ready", here, f.Assumed(key="stages.days-before-on-site", value=20))


def test_going_live_before_the_pilots_gate_stops():
    assert raised("live-before-gates", site(go_live_date=TODAY))[0].weight == "stopper"
    assert not raised("live-before-gates", site(go_live_date=TODAY + dt.timedelta(days=1)))
    assert not raised("live-before-gates", site("trial", go_live_date=TODAY), purpose="trial")


def test_going_live_with_seven_gates_signed_is_right():
    done = [*all_of(*range(1, 8)), *(signed(stage) for stage in range(1, 8))]
    facts = site_facts(site(go_live_date=TODAY), *done)
    assert Plan(facts).stages.passed == 7
    assert not raised("live-before-gates", site(go_live_date=TODAY), *done)
    assert raised("live-before-gates", site(go_live_date=TODAY), *done[:-1])


READY = ("secrets-changed", "watching-runs", "backup-runs", "people-shown", "calls-agreed")


def test_nobody_depends_on_a_site_without_backups_alarms_and_people_who_were_shown():
    day = site(go_live_date=TODAY)
    ready = [answer(key, "proven") for key in READY]
    assert not raised("live-not-ready", day, *ready)
    assert not raised("live-not-ready", site(go_live_date=TODAY + dt.timedelta(days=1)))
    assert not raised("live-not-ready", site("trial", go_live_date=TODAY), purpose="trial")
    for left in range(len(READY)):
        [one] = raised("live-not-ready", day, *ready[:left], *ready[left + 1 :])
        assert one.weight == "stopper" and "1 check is in the way" in one.title
    [one] = raised("live-not-ready", day, *ready[1:], answer(READY[0], "trust"))
    assert one.at == Ref("stage", 8) and "on it" in one.title


def test_they_belong_to_the_chapter_of_stages():
    found = findings(answer("room-seen", "failed"), answer("flows-open", "trust"))
    assert {found["check-failed"][0].chapter, found["checks-on-trust"][0].chapter} == {10}


# -- own steps and plans of steps ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "field", "why"),
    [
        ({"stage": 3, "after": ("seal-image",)}, "after", "later stage"),
        ({"stage": 4, "before": ("fix-host",)}, "before", "later stage"),
        (
            {"stage": 3, "after": ("power-hosts",), "before": ("fix-host",)},
            "before",
            "waits for it already",
        ),
    ],
)
def test_an_order_that_cannot_be_is_told_at_the_field_that_asks_for_it(values, field, why):
    """The catalogue puts 3.7 power after 3.5 fixing, and the image long after both."""
    own_step = make(f.OwnStep, name="Move the {fish} tank", **values)
    found = raised("own-step-order", own_step)
    assert [one.at for one in found] == [own_step.ref.at(field)]
    assert (
        why in found[0].text
        and "Move the {fish} tank" in found[0].title
        and found[0].weight == "concern"
    )


def test_own_steps_that_wait_for_each_other_are_told_once():
    first = make(f.OwnStep, name="First", stage=3)
    second = make(f.OwnStep, name="Second", stage=3, after_own=(first.id,))
    assert not raised("own-step-order", first, second)
    round_about = dataclasses.replace(first, after_own=(second.id,))
    found = raised("own-step-order", round_about, second)
    assert len(found) == 1 and found[0].at == second.ref.at("after_own")


def test_the_houses_order_is_not_told_at_a_site():
    house = make(f.HouseStep, name="Photograph the rack", stage=3, after=("seal-image",))
    assert not raised("own-step-order", house)


def test_an_own_step_of_the_day_without_a_time_is_told():
    """Source of the quarter of an hour: the assumption stages.own-step-minutes, common practice, no source."""
    tank = make(f.OwnStep, name="Move the tank", stage=3)
    found = raised("own-step-untimed", tank)
    assert (
        found[0].at == tank.ref.at("likely_minutes")
        and "15 min" in found[0].text
        and "3.201" in found[0].title
    )
    assert not raised("own-step-untimed", dataclasses.replace(tank, likely_minutes=30.0))
    assert not raised(
        "own-step-untimed", dataclasses.replace(tank, stage=1)
    )  # survey is not of the day
    assert not raised("own-step-untimed", tank, site(on_site_date=TODAY - dt.timedelta(days=1)))


def test_a_plan_of_a_step_that_is_no_more_is_told():
    gone = make(f.StepPlan, step="polish-{host}")
    assert raised("stepplan-unknown-step", gone)[0].at == gone.ref.at("step")
    assert not raised("stepplan-unknown-step", make(f.StepPlan, step="fix-host"), make(f.StepPlan))
    house = make(f.HouseStep, name="Photograph")
    of_house = make(f.StepPlan, step=f"house@ownstep-{house.id}")
    assert not raised("stepplan-unknown-step", house, of_house)
    assert raised("stepplan-unknown-step", of_house)  # the house asks for it no more


def test_two_plans_of_one_step_are_told_and_the_lower_counts():
    upper = make(f.StepPlan, step="fix-host", likely_minutes=10.0)
    lower = make(f.StepPlan, step="fix-host", likely_minutes=90.0)
    found = raised("stepplan-twice", upper, lower)
    assert [one.at for one in found] == [lower.ref.at("step")] and found[0].also == (
        upper.ref.at("step"),
    )
    assert "3.5" in found[0].title
    steps = plan_of(upper, lower, make(f.Host)).stages.steps.values()
    assert {one.minutes for one in steps if one.key.startswith("fix-host")} == {(90.0, 90.0, 90.0)}
    assert not raised("stepplan-twice", upper, make(f.StepPlan), make(f.StepPlan))
