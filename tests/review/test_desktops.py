"""Findings about desktop templates and seat groups: each raised once and once not."""

from __future__ import annotations

import datetime as dt

import pytest

from planner.record import facts as f
from planner.review import base
from planner.review.words import chance_words
from tests.factories import make, raised


def desk(**values):
    return make(
        f.Template, **{"name": "front desk", "memory_gib": 4, "vcpu": 2, "most": 5, **values}
    )


def seats(template=None, **values):
    return make(
        f.SeatGroup,
        **{
            "name": "Reception",
            "people": 10,
            "share_at_once": 0.7,
            "template_id": template and template.id,
            **values,
        },
    )


VETS = {"name": "Vets", "people": 3, "share_at_once": 0.5}


def seated(most, *groups, **template_values):
    template = desk(most=most, **template_values)
    return [template, *(seats(template, **values) for values in groups)]


def with_image(bits, memory):
    image = make(f.Image, name="old image", bits=bits)
    return [image, desk(image_id=image.id, memory_gib=memory)]


# what raises it, what does not, where, words of its title or text, and what the mend types in
CASES = {
    "template-none": (list, lambda: [desk()], "", "No desktop template", None),
    "template-no-image": (
        lambda: [desk()],
        lambda: [desk(image_id=4)],
        "image_id",
        "front desk has no image",
        None,
    ),
    "template-no-network": (
        lambda: [desk()],
        lambda: [desk(network_id=4)],
        "network_id",
        "front desk has no",
        None,
    ),
    "template-most-zero": (
        lambda: [desk(most=0)],
        lambda: [desk(most=1)],
        "most",
        "front desk",
        None,
    ),
    "template-standby-over-most": (
        lambda: [desk(standby=6)],
        lambda: [desk(standby=5)],
        "standby",
        "keeps 6 on standby, but may run only 5",
        (("standby", "5"),),
    ),
    "template-standby-zero": (
        lambda: [desk(standby=0, reset_rule="sign-out")],
        lambda: [desk(standby=0, reset_rule="kept")],
        "standby",
        "rebuilds at each sign-out",
        None,
    ),
    "template-standby-unknown": (
        lambda: [desk()],
        lambda: [desk(standby=0)],
        "standby",
        "front desk",
        None,
    ),
    # 10 × 0.7 + 3 × 0.5 = 8.5 at once on average. P(more than 9) = 28.4 %, P(more than 11) = 2.9 %, P(more than 12)
    # = 0.35 %: Source: scipy.stats.binom, numpy.convolve
    "template-most-below-seats": (
        lambda: seated(8, {}, VETS),
        lambda: seated(9, {}, VETS),
        "most",
        "may run 8, but its seats need 12 at once Of 13 people (Reception and Vets) 8.5 are there",
        (("most", "12"),),
    ),
    "template-most-tight": (
        lambda: seated(9, {}, VETS),
        lambda: seated(12, {}, VETS),
        "most",
        "may run 9; the chance that somebody finds no desktop is 28 %",
        (("most", "12"),),
    ),
    "template-most-beyond-seats": (
        lambda: seated(16, {}, VETS, standby=2),
        lambda: seated(16, {}, VETS, standby=3),
        "most",
        "may run 16 desktops, for 13 people 1 would be for nobody",
        None,
    ),
    "template-reset-unknown": (
        lambda: [desk()],
        lambda: [desk(reset_rule="kept")],
        "reset_rule",
        "front desk",
        None,
    ),
    "template-no-profile-place": (
        lambda: [desk(reset_rule="nightly")],
        lambda: [desk(reset_rule="nightly", profile_place="files-1")],
        "profile_place",
        "rebuilt every night",
        None,
    ),
    "template-no-seats": (
        lambda: [desk()],
        lambda: seated(9, {}),
        "",
        "Nobody gets desktops from front desk",
        None,
    ),
    "template-name-twice": (
        lambda: [desk(), desk(name="Front Desk ")],
        lambda: [desk(), desk(name="back desk")],
        "name",
        "Two templates are named Front Desk",
        None,
    ),
    "template-passes-devices": (
        lambda: [desk(passes=("clipboard", "usb", "drives"))],
        lambda: [desk(passes=("clipboard",))],
        "passes",
        "lets drives and USB devices through",
        None,
    ),
    "template-no-protocol": (
        lambda: [desk()],
        lambda: [desk(protocol_id=3)],
        "protocol_id",
        "front desk",
        None,
    ),
    "template-growth-unknown": (
        lambda: [desk()],
        lambda: [desk(growth_gib=6)],
        "growth_gib",
        "front desk",
        None,
    ),
    "template-over-32-bit": (
        # 2³² bytes = 4 × 2³⁰ bytes
        lambda: with_image(32, 8),
        lambda: with_image(32, 4),
        "memory_gib",
        "gives 8 GiB to a 32-bit system",
        (("memory_gib", "4"),),
    ),
    "seats-no-template": (
        lambda: [seats()],
        lambda: seated(9, {}),
        "template_id",
        "Reception",
        None,
    ),
    "seats-share-over-one": (
        lambda: [seats(share_at_once=70)],
        lambda: [seats(share_at_once=1)],
        "share_at_once",
        "7,000 % of the people cannot be there at once",
        (("share_at_once", "70"),),
    ),
    "seats-arrivals-unknown": (
        lambda: [seats(arrive_around=dt.time(7, 45))],
        lambda: [seats(arrive_around=dt.time(7, 45), arrive_spread_minutes=15)],
        "arrive_spread_minutes",
        "how spread",
        None,
    ),
    "seats-name-twice": (
        lambda: [seats(), seats(name="reception")],
        lambda: [seats(), seats(name="Vets")],
        "name",
        "Two seat groups are named reception",
        None,
    ),
    "seats-person-many": (
        lambda: [seats(seat_kind="person")],
        lambda: [seats(seat_kind="person", people=1)],
        "people",
        "10 people are counted",
        (("people", "1"),),
    ),
    "seats-people-apart": (
        lambda: [f.Site(id=1, purpose="live", people_count=12), seats()],
        lambda: [f.Site(id=1, purpose="live", people_count=10), seats()],
        "people_count",
        "That is 2 fewer",
        None,
    ),
}


@pytest.mark.parametrize("key", CASES)
def test_raised_and_not_raised(key):
    bad, good, field, words, mend = CASES[key]
    found = raised(key, *bad())
    assert found and found[0].at.field == field
    assert words in f"{found[0].title} {found[0].text}"
    assert (found[0].mend and found[0].mend.values) == mend
    assert raised(key, *good()) == []


def test_every_rule_of_the_chapter_has_a_case():
    own = {"template-size-unknown", "seats-number-unknown"}
    modules = ("planner.review.desktops", "planner.review.seats")
    assert {
        key for key, rule in base.RULES.items() if rule.__module__ in modules
    } == CASES.keys() | own


def test_each_size_that_is_missing_is_a_finding_at_its_field():
    found = raised("template-size-unknown", desk(memory_gib=None, vcpu=None, most=None))
    assert [one.at.field for one in found] == ["memory_gib", "vcpu", "most"]
    assert len({one.token for one in found}) == 3
    assert raised("template-size-unknown", desk()) == []
    assert raised("template-size-unknown", desk(memory_gib=None, vcpu=None, most=0)) == []


def test_people_and_share_are_asked_for_one_by_one():
    found = raised("seats-number-unknown", seats(people=None, share_at_once=None))
    assert [one.at.field for one in found] == ["people", "share_at_once"]
    assert raised("seats-number-unknown", seats()) == []


def test_no_guess_where_a_group_of_the_template_is_not_counted():
    for key in ("template-most-below-seats", "template-most-tight", "template-most-beyond-seats"):
        assert raised(key, *seated(1, {}, {"people": None}, standby=0)) == []


def test_below_the_average_and_merely_tight_are_never_told_together():
    for most in range(14):
        both = ("template-most-below-seats", "template-most-tight")
        found = [key for key in both if raised(key, *seated(most, {}, VETS))]
        assert found == ([both[0]] if most < 8.5 else [both[1]] if most < 12 else [])


def test_the_most_follows_the_risk_the_site_takes():
    (found,) = raised(
        "template-most-tight", *seated(9, {}, VETS), f.Assumed(key="seats.risk", value=0.2)
    )
    assert (
        found.mend.values == (("most", "10"),) and "20 %" in found.text
    )  # P(more than 10) = 11.4 %
    assert (
        raised("template-most-tight", *seated(9, {}, VETS), f.Assumed(key="seats.risk", value=0.3))
        == []
    )


def test_a_share_beyond_all_sense_has_no_mend():
    (found,) = raised("seats-share-over-one", seats(share_at_once=5000))
    assert found.mend is None


def test_people_in_more_than_one_group_are_told_too():
    site = f.Site(id=1, purpose="live", people_count=8)
    (found,) = raised("seats-people-apart", site, seats())
    assert "2 more" in found.text and found.chapter == 1


@pytest.mark.parametrize(
    ("key", "weight"), [("template-no-profile-place", "remark"), ("template-passes-devices", "")]
)
def test_a_trial_is_a_bench(key, weight):
    found = raised(key, desk(reset_rule="weekly", passes=("usb",)), purpose="trial")
    assert [one.weight for one in found] == ([weight] if weight else [])


@pytest.mark.parametrize(
    ("chance", "told"),
    [
        (None, "not known"),
        (1.0, "nearly always"),
        (0.284, "28 %"),
        (0.0152, "1.5 %"),
        (0.0052, "0.52 %"),
        (0.0, "less than 0.01 %"),
    ],
)
def test_a_chance_in_words(chance, told):
    assert chance_words(chance) == told
