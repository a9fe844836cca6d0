"""The on-site day: which steps are on it, who does them, and what must be done before."""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools

import pytest
from hypothesis import HealthCheck, given, settings

from planner.engine import schedule
from planner.engine.schedule import Real
from planner.plan import Plan
from planner.record import facts as f
from planner.stages import read
from planner.stages.day_words import length_words, number_words
from tests.factories import make
from tests.papers.demo_facts import demo
from tests.stages.examples import clinic, empty
from tests.stages.odd import facts

AT = dt.datetime(2026, 3, 1, 9, tzinfo=dt.UTC)


def technicians(*names: str) -> tuple[f.Contact, ...]:
    return tuple(make(f.Contact, name=name, role="technician") for name in names)


def changed(found: f.SiteFacts, **site) -> f.SiteFacts:
    return dataclasses.replace(found, site=dataclasses.replace(found.site, **site))


def sealed(on: dt.date | None = dt.date(2026, 4, 6), *names: str, **values) -> f.SiteFacts:
    """The clinic with five technicians and its images sealed on a day; the on-site day is 9 April 2026."""
    found = clinic(**values)
    contacts = (
        *(one for one in found.contacts if one.role != "technician"),
        *technicians(*(names or "ABCDE")),
    )
    return dataclasses.replace(
        found,
        contacts=contacts,
        images=tuple(dataclasses.replace(image, sealed_on=on) for image in found.images),
    )


def of(found: f.SiteFacts):
    return Plan(found).day


def keys(steps) -> set[str]:
    return {one.key for one in steps}


def assume(key: str, value: float) -> f.Assumed:
    return f.Assumed(key=key, value=value)


# -- what is on the day --------------------------------------------------------------------------


def test_stages_three_to_seven_are_the_day():
    day = of(clinic())
    on = {one.stage for one in (*day.steps, *day.moved)}
    assert on == {3, 4, 5, 6, 7}
    assert {
        one.stage for one in of(clinic(assumed=(assume("schedule.last-stage", 6),))).shares.day
    } == {3, 4, 5, 6}


def test_times_are_those_of_the_steps():
    """Outlines leave the words away and nothing else."""
    plan = Plan(clinic())
    shares = plan.day.shares
    for one in (*shares.day, *shares.before, *shares.own):
        step = plan.stages.steps[one.key]
        assert (one.number, one.minutes, one.attended, one.after) == (
            step.number,
            step.minutes,
            step.attended,
            step.after,
        )


def test_the_pilots_day_of_work_is_a_day_of_its_own():
    assert keys(of(clinic()).shares.own) == {"pilot-day"}
    assert not of(clinic(assumed=(assume("schedule.own-day-minutes", 1440),))).shares.own
    # A long wait that others wait for stays on the day: it is a finding, not somebody else's problem.
    short = clinic(assumed=(assume("schedule.own-day-minutes", 30),))
    assert not any(one.entry.key == "copy-to-hosts" for one in of(short).shares.own)


def test_what_a_sealed_image_needed_is_done_before():
    day = of(sealed())
    before = {one.entry.key for one in day.shares.before}
    assert {
        "seal-image",
        "update-image",
        "create-service",
        "install-hypervisor",
        "power-hosts",
    } <= before
    assert not {"try-sealed-copy", "copy-to-hosts", "back-up-service", "test-power-cut"} & before
    assert not of(sealed(dt.date(2026, 4, 9))).shares.before  # on the day itself
    assert not of(sealed(None)).shares.before


def test_one_sealed_image_says_nothing_of_the_others():
    found = sealed(None)
    first = dataclasses.replace(found.images[0], sealed_on=dt.date(2026, 4, 6))
    day = of(dataclasses.replace(found, images=(first, *found.images[1:])))
    assert f"seal-image@{first.ref.anchor}" in keys(day.shares.before)
    assert f"seal-image@{found.images[1].ref.anchor}" in keys(day.shares.day)


@pytest.mark.parametrize(
    ("state", "done"), [("proven", True), ("trust", True), ("excused", True), ("failed", False)]
)
def test_a_step_is_done_when_its_checks_are_answered(state, done):
    plan = Plan(clinic())
    step = plan.stages.steps["create-service"]
    assert step.settles
    answers = tuple(f.Answer(check=key, state=state, at=AT, proof="seen") for key in step.settles)
    assert ("create-service" in keys(of(clinic(answers=answers)).shares.done)) is done


def test_a_step_without_checks_is_done_when_the_next_one_is():
    plan = Plan(clinic())
    steps = plan.stages.steps.values()
    silent, after = next(
        (one, other)
        for one in steps
        for other in steps
        if 3 <= one.stage <= 7 and not one.settles and one.key in other.after and other.settles
    )
    answers = tuple(
        f.Answer(check=key, state="proven", at=AT, proof="seen") for key in after.settles
    )
    done = keys(of(dataclasses.replace(plan.facts, answers=answers)).shares.done)
    assert {silent.key, after.key} <= done


def test_a_signed_gate_ends_its_stage():
    found = clinic()
    checks = [check for number in (1, 2, 3) for check in Plan(found).stages.stage(number).checks]
    answers = tuple(
        f.Answer(check=check.key, state="proven", at=AT, proof="seen") for check in checks
    )
    signatures = tuple(
        f.Signature(stage=number, by="L. Reed", at=AT, checks=tuple(check.key for check in checks))
        for number in (1, 2, 3)
    )
    day = of(dataclasses.replace(found, answers=answers, signatures=signatures))
    assert {one.stage for one in day.shares.done} >= {3} and 3 not in {
        one.stage for one in day.shares.day
    }


# -- who and when --------------------------------------------------------------------------------


def test_the_day_is_laid_out_for_the_technicians_each_once():
    day = of(sealed(dt.date(2026, 4, 6), "A. Marsh", "B. Reed", " a. marsh "))
    assert [one.name for one in day.people] == ["A. Marsh", "B. Reed"] and not day.people_assumed
    nobody = dataclasses.replace(clinic(), contacts=())
    assert [one.name for one in of(nobody).people] == ["Person 1"] and of(nobody).people_assumed
    three = dataclasses.replace(nobody, assumed=(assume("schedule.people", 3),))
    assert len(of(three).people) == 3


def beside(day, bar) -> list[str]:
    """The keys of what runs at any moment at which this bar does."""
    return [
        one.key
        for one in day.bars
        if one is not bar and one.start < bar.finish - 1e-6 and bar.start < one.finish - 1e-6
    ]


def assert_sound(plan: Plan) -> None:
    """Order, one thing at a time, hours and lunch; what is moved is all that comes before."""
    day = plan.day
    bars = {bar.key: bar for bar in day.bars}
    assert set(bars) == keys(day.steps)
    for bar in bars.values():
        assert all(bars[key].finish <= bar.start + 1e-6 for key in bar.step.after if key in bars)
        assert bar.step.attended == bool(bar.person)
        assert bar.start >= 0
    for lane in day.lanes:
        assert all(one.finish <= other.start + 1e-6 for one, other in itertools.pairwise(lane.bars))
    for bar in bars.values():
        assert not bar.step.entry.alone or not beside(day, bar)
    moved = keys(day.moved)
    for one in day.moved:  # nothing on the day comes before what must be done before the day
        assert not set(one.after) & set(bars)
    assert not moved & set(bars) and moved | set(bars) == keys(day.shares.day)
    pause = day.calendar.pause
    for bar in day.bars:
        if bar.step.attended and pause:
            assert not pause[0] <= bar.start < pause[1] or bar.start == bar.finish
            worked = day.hours.open_between(bar.start, bar.finish)
            assert worked == pytest.approx(
                next(task for task in day.tasks if task.key == bar.key).mean
            )


@pytest.mark.parametrize("names", ["A", "AB", "ABCD", "ABCDEFG"])
@pytest.mark.parametrize("on", [None, dt.date(2026, 4, 6)])
def test_every_day_is_sound(names, on):
    plan = Plan(sealed(on, *names))
    assert_sound(plan)
    day = plan.day
    assert day.finish <= day.length or not day.moved
    assert day.lower_bound <= day.finish + 1e-6
    if not day.fits:
        assert day.moved and day.over > 0 and day.chance >= 0.8


def test_a_day_that_fits():
    day = of(sealed())
    assert day.fits and not day.moved and day.over == 0
    assert day.clock(0) == "07:30" and day.clock(day.length) == "17:00"
    assert (day.calendar.pause, day.calendar.open_minutes()) == (
        (270, 300),
        540,
    )  # lunch from 12:00 to 12:30
    assert day.moment(day.finish).date() == dt.date(2026, 4, 9)
    assert 0.8 <= day.chance <= 1 and day.simulated.chance(day.length) <= day.chance + 0.02
    assert set(day.critical) <= keys(day.steps)
    assert [bar.key for bar in day.bars if bar.critical] == sorted(
        day.critical, key=lambda key: day.layout.of[key].start
    )


def test_what_does_not_fit_is_told():
    """One technician, nothing sealed: far too much for nine and a half hours."""
    day = of(sealed(None, "A. Marsh"))
    every = of(sealed(None, *"ABCDEFGHIJKLMNOPQRSTUVWXYZ")).shares.day
    assert day.work == pytest.approx(
        sum(
            (one.minutes[0] + 4 * one.minutes[1] + one.minutes[2]) / 6
            for one in every
            if one.attended
        )
    )
    assert (
        not day.fits
        and day.needs >= day.work > day.length
        and day.over == pytest.approx(day.needs - day.length)
    )
    left = sum(
        day.hours.open_between(bar.start, bar.finish) for lane in day.lanes for bar in lane.bars
    )
    assert day.moved_work + left == pytest.approx(day.work)


def test_an_evening_that_was_agreed():
    found = sealed(dt.date(2026, 4, 6), "A. Marsh", "B. Reed")
    day = of(found)
    assert day.moved and not day.evening_is_enough
    enough = dataclasses.replace(
        found, assumed=(assume("schedule.evening-minutes", round(day.moved_minutes) + 1),)
    )
    assert of(enough).evening_is_enough and keys(of(enough).moved) == keys(day.moved)


def test_a_short_day_has_no_lunch():
    assert of(changed(sealed(), work_ends=dt.time(13, 30))).calendar.pause is None
    assert of(changed(sealed(), work_ends=dt.time(13, 31))).calendar.pause == (270, 300)
    none = sealed(dt.date(2026, 4, 6), "A", assumed=(assume("schedule.pause-minutes", 0),))
    assert of(none).calendar.pause is None


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"work_starts": None}, ("when work starts (1.2)",)),
        (
            {"work_starts": None, "work_ends": None},
            ("when work starts (1.2)", "when work ends (1.2)"),
        ),
        ({"work_ends": dt.time(7, 30)}, ("working hours that end after they start (1.2)",)),
    ],
)
def test_without_hours_there_is_no_day(values, words):
    day = of(changed(sealed(), **values))
    assert day.missing == words
    assert (day.layout, day.finish, day.chance, day.lower_bound, day.bars, day.clock(0)) == (
        None,
        None,
        None,
        None,
        (),
        "",
    )
    assert day.steps  # what is to be done is known all the same


def test_without_a_date_the_clock_still_runs():
    day = of(changed(sealed(), on_site_date=None))
    assert day.date is None and day.bars and day.clock(60) == "08:30"


def test_nothing_runs_beside_the_power_cut():
    """Five people and long waits: there would be something to do beside it, and in the demo too."""
    for found in (sealed(), demo("mill")):
        plan = Plan(found)
        day = plan.day
        alone = [bar for bar in day.bars if bar.step.entry.alone]
        assert {bar.key for bar in alone} >= {"test-power-cut", "take-host-down"}
        assert all(not beside(day, bar) for bar in alone)
        tasks = [dataclasses.replace(one, alone=False) for one in day.tasks]
        free = schedule.lay_out(tasks, [one.key for one in day.people], day.hours)
        assert free.finish < day.finish  # it costs time, for they did lie side by side


def test_what_is_under_way_is_waited_for_by_the_power_cut_and_the_other_way_round():
    day = of(sealed())
    cut = next(bar for bar in day.bars if bar.key == "test-power-cut")
    again = day.again({"test-power-cut": Real(10, None, day.people[0].key)}, now=20)
    bars = {bar.key: bar for bar in again.bars}
    assert bars["test-power-cut"].state == "under way" and not beside(again, bars["test-power-cut"])
    wait = next(bar for bar in day.bars if not bar.step.attended)
    late = day.again({wait.key: Real(cut.start - 1)}, now=cut.start)
    bars = {bar.key: bar for bar in late.bars}
    assert (
        bars[wait.key].state == "under way"
        and bars["test-power-cut"].start >= bars[wait.key].finish - 1e-6
    )


# -- while it happens ----------------------------------------------------------------------------


def test_the_day_laid_out_anew():
    day = of(sealed())
    first = next(bar for bar in day.bars if bar.step.attended)
    again = day.again({first.key: Real(10, None, first.person)}, now=40)
    bars = {bar.key: bar for bar in again.bars}
    assert bars[first.key].state == "under way" and bars[first.key].start == 10
    assert all(bar.start >= 40 for bar in again.bars if bar.state == "planned")
    assert again.finish > day.finish - 1 and again.chance <= day.chance
    assert again.simulated.chance(again.length) <= 1


def test_a_moved_step_that_is_done_on_the_day_after_all():
    day = of(sealed(dt.date(2026, 4, 6), "A. Marsh"))
    late = day.moved[0]
    again = day.again({late.key: Real(0, 30, "guest")}, now=30)
    assert late.key not in keys(again.moved) and late.key in {bar.key for bar in again.bars}
    assert [one.name for one in again.people] == ["A. Marsh", "guest"] or not late.attended


def test_a_day_that_cannot_be_laid_out_stays_as_it_is():
    day = of(changed(sealed(), work_starts=None))
    assert day.again({}, now=30) is day


# -- words ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0, "0 min"),
        (45.4, "45 min"),
        (59.6, "1 h"),
        (60, "1 h"),
        (495, "8 h 15 min"),
        (65000, "1,083 h 20 min"),
        (None, ""),
    ],
)
def test_lengths_in_words(minutes, words):
    assert length_words(minutes) == words


def test_runs_of_steps_are_shortened():
    steps = of(clinic()).shares.day
    every = keys(steps)
    [run] = number_words(every, steps)
    assert run.startswith("3.") and " to 7." in run
    third = sorted(steps, key=lambda one: (one.stage, one.entry.number))
    gap = {one.key for one in third if one.stage != 5}
    told = number_words(gap, steps)
    assert (
        len(told) == 2
        and told[0].startswith("3.")
        and " to 4." in told[0]
        and told[1].startswith("6.")
    )
    assert number_words({third[0].key, third[1].key}, steps) == [third[0].number, third[1].number]


# -- whatever the facts --------------------------------------------------------------------------


def test_an_empty_site():
    assert of(empty()).missing and of(empty()).steps


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(facts(list(read().checks)[:40]))
def test_nothing_is_ever_raised(odd):
    plan = Plan(odd)
    day = plan.day
    assert day.missing or {bar.key for bar in day.bars} == keys(day.steps)
    if not day.missing:
        assert_sound(plan)
        assert day.over >= 0 and day.path.length >= 0
        assert (day.lower_bound or 0) <= (day.finish or 0) + 1e-6
        assert day.simulated is None or 0 <= day.simulated.chance(day.length) <= 1
