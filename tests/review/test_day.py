"""Findings about the on-site day: each raised by one site and not by another."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest
from hypothesis import HealthCheck, given, settings

from planner.plan import Plan
from planner.record import facts as f
from planner.record.facts import Ref
from planner.review import base
from planner.stages import read
from planner.stages.day_words import length_words
from tests.review.cases import rules_of
from tests.stages.odd import facts
from tests.stages.test_day import assume, changed, of, sealed

EARLY = dt.date(2026, 4, 6)  # three days before the on-site day of the clinic


def raised(key: str, found: f.SiteFacts) -> list[base.Finding]:
    return [finding for finding in Plan(found).review.findings if finding.key == key]


def bench(found: f.SiteFacts) -> f.SiteFacts:
    return changed(found, purpose="trial")


def test_every_rule_of_the_group_is_tried_here():
    tried = {
        "day-does-not-fit",
        "day-chance-low",
        "day-step-too-long",
        "day-lift-alone",
        "day-no-pilot-day",
    }
    assert rules_of("day") == tried


def test_a_day_that_fits_says_nothing():
    found = sealed()
    assert not [one.key for one in Plan(found).review.findings if one.key.startswith("day-")]


def test_a_day_that_is_too_short():
    found = sealed(None, "A. Marsh")
    [one] = raised("day-does-not-fit", found)
    day = of(found)
    assert (one.at.field, one.chapter, one.weight) == ("on_site_date", 1, "concern")
    assert length_words(day.over) in one.title and length_words(day.needs) in one.text
    assert f"{len(day.moved)} steps, {length_words(day.moved_work)} of work: 3." in one.text
    assert (
        "A. Marsh needs at least" in one.text
        and "from 07:30 to 17:00 there are 9 h 30 min" in one.text
    )
    assert "More people alone do not help" in one.text  # the image alone takes longer than the day
    assert raised("day-does-not-fit", bench(found))[0].weight == "remark"


def test_more_people_help_where_no_chain_is_too_long():
    """The work of the sealed clinic is more than one technician's day, and no chain is."""
    found = sealed(EARLY, "A. Marsh")
    day = of(found)
    assert day.longest < day.length < day.work
    [one] = raised("day-does-not-fit", found)
    least = int(-(-day.work // 540))  # nine and a half hours less lunch
    assert f"It would take {least} people at least" in one.text
    assert not raised("day-does-not-fit", sealed(EARLY, *"ABCD"))


def test_an_evening_that_was_agreed_settles_it():
    found = sealed(EARLY, "A. Marsh", "B. Reed")
    assert raised("day-does-not-fit", found)
    agreed = dataclasses.replace(found, assumed=(assume("schedule.evening-minutes", 720),))
    assert not raised("day-does-not-fit", agreed)


@pytest.mark.parametrize(
    "values",
    [
        {"on_site_date": None},
        {"on_site_date": dt.date(2026, 3, 1)},
        {"work_starts": None},
        {"work_ends": None},
    ],
)
def test_without_a_day_ahead_the_rules_are_silent(values):
    found = changed(sealed(None, "A. Marsh"), **values)
    assert not [one for one in Plan(found).review.findings if one.key.startswith("day-")]


def test_a_day_that_just_fits():
    """The hours end just after the mean time does: the chance is about a half."""
    full = sealed()
    finish = of(full).moment(of(full).finish + 5)
    found = changed(full, work_ends=finish.time())
    day = of(found)
    assert day.fits and day.chance < 0.8
    [one] = raised("day-chance-low", found)
    assert (one.at.field, one.chapter) == ("work_ends", 1)
    assert (
        f"on {100 * day.chance:.0f} % of such days" in one.title
        and day.clock(day.finish) in one.text
    )
    assert not raised("day-chance-low", full) and not raised("day-chance-low", bench(found))
    lax = dataclasses.replace(found, assumed=(assume("schedule.least-chance", 0.5),))
    assert bool(raised("day-chance-low", lax)) is (day.chance < 0.5)


def test_a_step_longer_than_the_day():
    """Seventy minutes of working hours: an hour of pilot's work and the host taken down are shorter, the array is."""
    found = changed(sealed(None), work_ends=dt.time(8, 40))
    told = raised("day-step-too-long", found)
    assert told and all(one.chapter == 10 and one.at.kind == "stage" for one in told)
    plan = Plan(found)
    long = {
        step.key
        for step in plan.stages.steps.values()
        if 3 <= step.stage <= 7
        and step.key != "pilot-day"
        and (step.minutes[0] + 4 * step.minutes[1] + step.minutes[2]) / 6 > 70
    }
    assert {one.twin for one in told} == long
    one = next(one for one in told if one.twin.startswith("install-applications"))
    step = plan.stages.steps[one.twin]
    assert (
        one.title == f"{step.number} alone takes 1 h 45 min: {step.title}"
        and "has 1 h 10 min for work" in one.text
    )
    assert one.at == Ref("stage", 5)
    assert not raised("day-step-too-long", sealed())


def test_a_heavy_host_and_one_technician():
    """The clinic's second host is to buy, the third is a spare; each weighs 28 kg."""
    [one] = raised("day-lift-alone", sealed(None, "A. Marsh"))
    assert one.title == "A. Marsh is alone, and mill-h2 and mill-h3 must be lifted by two"
    assert not raised("day-lift-alone", sealed(None, "A. Marsh", "B. Reed"))
    [one] = raised("day-lift-alone", sealed(EARLY, "A. Marsh"))
    assert (
        one.title == "A. Marsh is alone, and mill-h3 must be lifted by two"
    )  # the other one stands by then
    light = sealed(None, "A. Marsh")
    light = dataclasses.replace(
        light, hosts=tuple(dataclasses.replace(host, weight_kg=8.0) for host in light.hosts)
    )
    assert not raised("day-lift-alone", light)
    nobody = dataclasses.replace(light, contacts=())
    assert not raised("day-lift-alone", nobody)


@pytest.mark.parametrize(
    ("go_live", "speaks"),
    [
        (dt.date(2026, 4, 10), True),
        (dt.date(2026, 4, 11), False),
        (dt.date(2026, 4, 13), False),
        (dt.date(2026, 4, 9), False),
        (dt.date(2026, 4, 8), False),
        (None, False),
        (dt.date.max, False),
    ],
)
def test_a_working_day_for_the_pilot(go_live, speaks):
    """On site on Thursday 9 April 2026. Friday is a working day, the weekend is not."""
    found = changed(sealed(), go_live_date=go_live)
    told = raised("day-no-pilot-day", found)
    assert bool(told) is speaks
    if speaks:
        assert told[0].at.field == "go_live_date" and "Thu 9 Apr 2026" in told[0].text
        assert not raised("day-no-pilot-day", bench(found))


def test_a_weekend_between_is_no_pilot_day():
    friday = changed(sealed(), on_site_date=dt.date(2026, 4, 10), go_live_date=dt.date(2026, 4, 13))
    assert raised("day-no-pilot-day", friday)
    assert not raised(
        "day-no-pilot-day", changed(friday, work_days=())
    )  # nobody said that it is free


@settings(max_examples=50, deadline=None, suppress_health_check=list(HealthCheck))
@given(facts(list(read().checks)[:40]))
def test_no_finding_of_this_group_ever_fails(odd):
    plan = Plan(odd)
    for key in rules_of("day"):
        entry = base.entries()[key]
        for hit in base.RULES[key](plan):
            for words in (entry.title, entry.text):
                assert isinstance(words.format(**hit.words), str)
