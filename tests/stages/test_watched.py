"""Every check watches what it vouches for: when those facts change, its answer is open again."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from planner.plan import Plan
from planner.record import facts as f
from planner.stages.reading import read
from planner.stages.words import LONGEST_SCOPE
from tests.stages.examples import bench, clinic, empty

AT = dt.datetime(2026, 3, 1, 9, tzinfo=dt.UTC)


def answered(facts: f.SiteFacts, state: str = "proven", **kept) -> f.SiteFacts:
    """Every check of a site answered, each for its own value unless ``kept`` says what was kept."""
    checks = Plan(facts).stages.checks.values()
    answers = tuple(
        f.Answer(check=one.key, state=state, at=AT, **{"value": one.value, **kept})
        for one in checks
    )
    return dataclasses.replace(facts, answers=answers)


def moved(facts: f.SiteFacts) -> set[str]:
    return {key.partition("@")[0] for key, one in Plan(facts).stages.checks.items() if one.moved}


def test_every_check_names_what_it_watches_or_says_why_not():
    for key, one in read().checks.items():
        assert ("value" in one.texts) != bool(one.no_value), key
    assert sum(bool(one.no_value) for one in read().checks.values()) <= 6


def test_what_is_only_watched_is_never_empty():
    """So an answer that kept nothing is known to be from before the check watched anything."""
    for make_site in (clinic, bench, empty):
        for one in Plan(make_site()).stages.checks.values():
            entry = read().checks[one.key.partition("@")[0]]
            if "value" in entry.texts and not entry.shows_value:
                assert one.value and not one.shown_value, one.key


def site_with(facts: f.SiteFacts, **values) -> f.SiteFacts:
    return dataclasses.replace(facts, site=dataclasses.replace(facts.site, **values))


def contact_with(facts: f.SiteFacts, role: str, **values) -> f.SiteFacts:
    changed = tuple(
        dataclasses.replace(one, **values) if one.role == role else one for one in facts.contacts
    )
    return dataclasses.replace(facts, contacts=changed)


@pytest.mark.parametrize(
    ("change", "opened"),
    [
        (lambda facts: site_with(facts, scope="Everything, and the till"), {"scope-agreed"}),
        (lambda facts: site_with(facts, out_of_scope="Nothing"), {"scope-agreed"}),
        (lambda facts: site_with(facts, way_in="By the yard"), {"building-keys"}),
        (
            lambda facts: contact_with(facts, "keys", phone="+43 1 555 0199"),
            {"building-keys", "calls-agreed"},
        ),
        (
            lambda facts: contact_with(facts, "pilot", name="Somebody Else"),
            {"pilot-satisfied", "calls-agreed"},
        ),
        (
            lambda facts: dataclasses.replace(
                facts, service=dataclasses.replace(facts.service, backup_place="elsewhere")
            ),
            {"configuration-saved", "service-restored", "backup-runs"},
        ),
    ],
)
def test_a_change_opens_what_speaks_of_it_and_nothing_else(change, opened):
    facts = answered(clinic())
    assert moved(facts) == set()
    assert moved(change(facts)) == opened


def test_a_new_generation_of_the_image_opens_what_was_seen_in_the_old_one():
    facts = answered(clinic())
    images = tuple(dataclasses.replace(one, generation=99) for one in facts.images)
    found = moved(dataclasses.replace(facts, images=images))
    assert {"image-updated", "image-quiet", "image-saved", "sealed-copy-tried"} <= found


@pytest.mark.parametrize("kept", [None, ""])
def test_answers_from_before_stay_and_are_marked(kept):
    """They kept no value: nothing opens at once, and the page says what nobody has held against the plan."""
    facts = answered(clinic(), value=kept)
    checks = Plan(facts).stages.checks
    watched = [
        one
        for key, one in checks.items()
        if "value" in (entry := read().checks[key.partition("@")[0]]).texts
        and not entry.shows_value
    ]
    assert len(watched) > 60
    assert all(one.unwatched and not one.moved and one.state == "proven" for one in watched)
    later = Plan(site_with(facts, scope="Everything")).stages.checks["scope-agreed"]
    assert later.unwatched and later.state == "proven"


def test_an_answer_that_kept_its_value_is_not_marked():
    assert not any(one.unwatched for one in Plan(answered(clinic())).stages.checks.values())


def test_a_long_scope_is_kept_short_and_still_watched_to_its_end():
    long = "word " * 2000
    facts = answered(site_with(clinic(), scope=long))
    one = Plan(facts).stages.checks["scope-agreed"]
    assert len(one.value) < LONGEST_SCOPE + 200 and moved(facts) == set()
    assert moved(site_with(facts, scope=long + "more")) == {"scope-agreed"}
    told = Plan(site_with(facts, scope=long + "more")).stages.checks["scope-agreed"].moved_words
    assert len(told) < 800
