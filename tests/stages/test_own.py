"""Own checks and steps, the house's, and the times that a site and the house give."""

from __future__ import annotations

import graphlib
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.catalogue.assumptions import Numbers
from planner.engine.placement.capacity import known
from planner.record import facts as f
from planner.stages import conditions, own
from planner.stages.entries import STAGES
from planner.stages.reading import read
from tests.engine.recovery_cases import desk
from tests.factories import make, plan_of, site_facts
from tests.stages.test_waiting import OFFICE, SITE

NUMBERS = Numbers()


def sheet(*records, stage: int = 3) -> list[tuple[str, str, str]]:
    """Number, key and title of what is asked beyond the catalogue in a stage, in the order of the sheet."""
    lines = plan_of(*records).stages.stage(stage).sheet
    return [(one.number, one.key, one.title) for one in lines if one.origin]


def step(key: str, *records, **values):
    return next(
        one
        for one in plan_of(*records, **values).stages.steps.values()
        if one.key.partition("@")[0] == key
    )


# -- numbers -------------------------------------------------------------------------------------


def test_the_houses_numbers_begin_at_101_a_sites_own_at_201_and_the_catalogues_stay():
    records = [
        make(f.HouseStep, id=7, name="House step", stage=3),
        make(f.HouseCheck, id=8, name="House check", stage=3),
        make(f.HouseCheck, id=9, name="After it", stage=3, ownstep_id=7),
        make(f.OwnStep, id=7, name="Own step", stage=3),
        make(f.OwnCheck, id=8, name="Own check", stage=3),
    ]
    assert sheet(*records) == [
        ("3.101", "house@owncheck-8", "House check"),
        ("3.102", "house@ownstep-7", "House step"),
        ("3.103", "house@owncheck-9", "After it"),
        ("3.201", "own@owncheck-8", "Own check"),
        ("3.202", "own@ownstep-7", "Own step"),
    ]
    without = {key: one.number for key, one in plan_of().stages.steps.items()}
    beside = plan_of(*records).stages.steps
    assert all(beside[key].number == number for key, number in without.items())


def test_each_stage_counts_for_itself_and_a_check_settles_only_in_its_own_stage():
    doing = make(f.HouseStep, name="S", stage=3)
    checks = [make(f.HouseCheck, name=f"C{n}", stage=n, ownstep_id=doing.id) for n in (3, 4)]
    assert [number for number, _, _ in sheet(doing, *checks, stage=4)] == ["4.101"]
    found = plan_of(doing, *checks).stages.steps[own.key_of(doing, "house")]
    assert found.settles == (own.key_of(checks[0], "house"),)


@pytest.mark.parametrize(("stage", "shown"), [(0, 1), (-5, 1), (9, 8), (10**9, 8)])
def test_a_stage_that_is_none_is_the_nearest(stage, shown):
    assert sheet(make(f.OwnStep, name="Odd", stage=stage), stage=shown)


def test_the_catalogue_alone_is_the_catalogue_itself():
    assert own.book_for(site_facts(), NUMBERS) is read()


# -- words ---------------------------------------------------------------------------------------


def test_what_a_person_typed_is_a_text_and_never_a_template():
    braces = "Ring {contacts.phone}, then {nobody} and {{both}} {0}"
    texts = dict.fromkeys(("name", "do", "expect", "otherwise", "back", "caution"), braces)
    doing = make(f.HouseStep, stage=3, **texts)
    found = plan_of(doing, make(f.Contact, phone="+44 20 7946 0001")).stages.steps[
        own.key_of(doing, "house")
    ]
    said = {found.title, found.do, found.expect, found.otherwise, found.back, found.caution}
    assert said == {braces}
    check = make(f.OwnCheck, name=braces, why=braces, how=braces, proof=braces)
    seen = plan_of(check).stages.checks[own.key_of(check, "own")]
    assert {seen.title, seen.why, seen.how, seen.proof} == {braces}


def test_what_nobody_wrote_is_said():
    found = plan_of(bare := make(f.OwnStep, stage=3)).stages.steps[own.key_of(bare, "own")]
    assert (
        found.title == found.do == "unnamed own step"
        and found.back == own.NOT_SAID
        and not found.caution
    )


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"wants": "value", "unit": "°C", "low": 18.0, "high": 27.0}, "18 to 27 °C"),
        ({"wants": "value", "unit": "°C", "low": 27.0, "high": 18.0}, "18 to 27 °C"),
        ({"wants": "value", "unit": "s", "high": 300.0}, "at most 300 s"),
        ({"wants": "value", "unit": "V", "low": 220.0}, "at least 220 V"),
        ({"wants": "value", "low": 1.0, "high": 2.0}, ""),  # without a unit it is no number
        ({"wants": "photo", "unit": "°C", "low": 18.0}, ""),
        ({"wants": "smoke signals"}, ""),
    ],
)
def test_ranges(values, words):
    check = make(f.HouseCheck, name="Cool", **values)
    found = plan_of(check).stages.checks[own.key_of(check, "house")]
    assert found.range_words == words and found.wants in ("note", "value", "photo")


# -- where the house asks ------------------------------------------------------------------------


def test_every_condition_has_plain_words_of_its_own():
    assert set(conditions.WHERE) == {"", *conditions.OF_SITE}
    assert all(
        words and "-" not in words and words == words.strip(" .")
        for words in conditions.WHERE.values()
    )
    assert len(set(conditions.WHERE.values())) == len(conditions.WHERE)


@pytest.mark.parametrize("name", ["", *conditions.OF_SITE])
def test_the_house_asks_where_its_condition_holds(name):
    plan = plan_of(
        doing := make(f.HouseStep, name="S", when=name),
        check := make(f.HouseCheck, name="C", when=name),
    )
    holds = not name or conditions.OF_SITE[name](plan)
    assert (own.key_of(doing, "house") in plan.stages.steps) is holds
    assert (own.key_of(check, "house") in plan.stages.checks) is holds


# -- order ---------------------------------------------------------------------------------------


def test_wishes_that_hold_are_kept():
    doing = make(
        f.HouseStep, name="Photograph", stage=3, after=("fix-host",), before=("power-hosts",)
    )
    mine = make(f.OwnStep, name="Tank", stage=3, before=(own.key_of(doing, "house"),))
    plan = plan_of(doing, mine, make(f.Host))
    steps, key = plan.stages.steps, own.key_of(doing, "house")
    assert own.key_of(mine, "own") in steps[key].after and key in steps["power-hosts"].after
    assert any(one.startswith("fix-host@") for one in steps[key].after)
    assert not own.impossible(plan.facts)


def test_a_wish_for_a_later_stage_or_a_circle_is_passed_over_and_told():
    late = make(f.OwnStep, name="Late", stage=3, after=("seal-image",))
    circle = make(f.OwnStep, name="Circle", stage=3, after=("power-hosts",), before=("fix-host",))
    itself = make(f.OwnStep, name="Itself", stage=3)
    itself = make(f.OwnStep, id=itself.id, name="Itself", stage=3, after_own=(itself.id,))
    found = own.impossible(site_facts(late, circle, itself))
    assert {wish[2].name for wish in found} == {"Late", "Circle", "Itself"}
    told = {wish[2].name: own.told(wish, site_facts(late, circle, itself)) for wish in found}
    assert told["Late"][2] == "that one is of a later stage"
    assert told["Circle"][2] == told["Itself"][2] == "that one waits for it already"
    assert "Seal the image" in told["Late"][1] and told["Late"][0] == "3.201 Late"


def test_a_wish_for_a_step_that_is_no_more_is_no_fault():
    gone = make(
        f.OwnStep, name="S", stage=3, after=("polish-host", "house@ownstep-99"), after_own=(10**6,)
    )
    assert not own.impossible(site_facts(gone))


KEYS = sorted(read().steps)
WISHES = st.lists(
    st.tuples(
        st.integers(-1, 10),
        st.lists(st.sampled_from([*KEYS, "house@ownstep-1", "house@ownstep-3"]), max_size=3),
        st.lists(st.sampled_from(KEYS), max_size=3),
        st.lists(st.integers(1, 6), max_size=2),
    ),
    max_size=5,
)


@settings(max_examples=60, deadline=None)
@given(WISHES, WISHES)
def test_no_wish_closes_a_circle(of_house, of_site):
    """Source: Python's graphlib, which refuses a graph with a circle."""
    house = [
        make(f.HouseStep, id=n, name=f"h{n}", stage=stage, after=tuple(after), before=tuple(before))
        for n, (stage, after, before, _) in enumerate(of_house, 1)
    ]
    mine = [
        make(
            f.OwnStep,
            id=n,
            name=f"o{n}",
            stage=stage,
            after=tuple(after),
            before=tuple(before),
            after_own=tuple(others),
        )
        for n, (stage, after, before, others) in enumerate(of_site, 1)
    ]
    facts = site_facts(*house, *mine)
    book = own.book_for(facts, NUMBERS)
    list(
        graphlib.TopologicalSorter(
            {key: one.after for key, one in book.steps.items()}
        ).static_order()
    )
    for one in book.steps.values():
        assert all(book.steps[other].stage <= one.stage for other in one.after)
    for wish in own.impossible(facts):
        assert all(own.told(wish, facts))
        assert wish[1] not in book.steps[wish[0]].after or wish[1] in read().steps


def test_steps_are_known_by_number_key_and_words():
    facts = site_facts(make(f.HouseStep, id=4, name="Photograph the rack", stage=3))
    assert (
        own.key_named("3.101", facts)
        == own.key_named(" photograph the RACK ", facts)
        == "house@ownstep-4"
    )
    assert own.key_named("3.5", facts) == own.key_named("fix-host", facts) == "fix-host"
    assert own.words_of("house@ownstep-4", facts) == "3.101 Photograph the rack"
    assert (
        own.words_of("polish-host", facts) == own.number_of("polish-host", facts) == "polish-host"
    )
    with pytest.raises(ValueError, match="not the number of a step"):
        own.key_named("9.9", facts)


# -- times ---------------------------------------------------------------------------------------

TIME = st.one_of(st.none(), st.floats(allow_nan=True, allow_infinity=True), st.floats(0.1, 1e4))


@settings(max_examples=300)
@given(TIME, TIME, TIME)
def test_three_times_are_in_order_whatever_was_given(least, likely, longest):
    found = own.three_of(
        f.StepPlan(least_minutes=least, likely_minutes=likely, longest_minutes=longest)
    )
    usable = [time for time in (least, likely, longest) if known(time) is not None]
    middling = (
        known(likely) if known(likely) is not None else (sum(usable) / len(usable) if usable else 0)
    )
    assert (found is None) is (middling <= 0)
    if found is not None:
        assert list(found) == sorted(found) and found[0] >= 0 and math.isfinite(found[2])
        assert {*usable, middling} == {*found}


@pytest.mark.parametrize(
    ("given_times", "three"),
    [
        ((5, 10, 20), (5, 10, 20)),
        ((None, 10, None), (10, 10, 10)),
        ((5, None, None), (5, 5, 5)),
        ((None, None, 20), (20, 20, 20)),
        ((5, None, 20), (5, 12.5, 20)),
        ((None, None, None), None),
        ((0, 0, 0), None),
        ((30, 10, 20), (10, 20, 30)),
    ],
)
def test_of_three_times_the_unknown_ones_are_as_the_nearest_known(given_times, three):
    names = ("least_minutes", "likely_minutes", "longest_minutes")
    assert own.three_of(f.StepPlan(**dict(zip(names, given_times, strict=True)))) == three


def test_a_step_without_times_takes_the_usual_ones():
    """Source: the assumption stages.own-step-minutes (common practice, no source)."""
    bare = make(f.HouseStep, name="S", stage=3)
    assert plan_of(bare).stages.steps[own.key_of(bare, "house")].minutes == (15.0, 15.0, 15.0)


def test_the_sites_times_come_before_the_houses_and_these_before_the_catalogues():
    host = make(f.Host)
    house = f.Estimate(step="fix-host", least_minutes=1.0, likely_minutes=2.0, longest_minutes=3.0)
    here = make(f.StepPlan, step="fix-host", likely_minutes=7.0)
    catalogue = step("fix-host", host)
    assert (catalogue.minutes, catalogue.times_words) == (read().steps["fix-host"].minutes, "")
    of_house = step("fix-host", host, house)
    assert (of_house.minutes, of_house.times_words) == ((1.0, 2.0, 3.0), "by your house")
    of_site = step("fix-host", host, house, here)
    assert (of_site.minutes, of_site.times_words) == ((7.0, 7.0, 7.0), "set here")


def test_beside_a_wait_the_house_gives_the_hands_time_only():
    """40 GiB over 1 Gbit/s are 6.03 minutes; a copy likely takes 1.25 times as long, at the longest twice.

    Source: IEEE Std 802.3, Ethernet's overhead of 1538 octets for 1500; RFC 9293 and RFC 791, headers of 40 octets
    less: 1460 are the file's.
    """
    house = f.Estimate(
        step="copy-to-hosts", least_minutes=20.0, likely_minutes=50.0, longest_minutes=100.0
    )
    here = make(
        f.StepPlan, step="copy-to-hosts", least_minutes=1.0, likely_minutes=1.0, longest_minutes=2.0
    )
    site = [*SITE, desk(most=4)]
    key = f"copy-to-hosts@image-{OFFICE.id}"
    wait = 40 * 2**30 * 8 / (1e9 * 1460 / 1538) / 60
    catalogue = plan_of(*site).stages.steps[key]
    assert catalogue.times_words == "worked out from the sizes and the line"
    of_house = plan_of(*site, house).stages.steps[key]
    assert of_house.minutes == pytest.approx((20 + wait, 50 + 1.25 * wait, 100 + 2 * wait))
    assert of_house.times_from == "house" and of_house.wait_minutes == pytest.approx(wait)
    of_site = plan_of(*site, house, here).stages.steps[key]
    assert (of_site.minutes, of_site.times_from) == (
        (1.0, 1.0, 2.0),
        "site",
    )  # the site's own word is the whole


def test_where_nobody_can_tell_the_wait_the_catalogues_time_stands():
    house = f.Estimate(
        step="save-image", least_minutes=20.0, likely_minutes=50.0, longest_minutes=100.0
    )
    found = step("save-image", make(f.Image), house)
    assert found.wait_minutes is None and found.times_from == ""
    assert found.minutes == read().steps["save-image"].minutes


def test_every_stage_may_have_some():
    records = [make(f.HouseStep, name="S", stage=one.number) for one in STAGES]
    assert all(sheet(*records, stage=one.number) for one in STAGES)
