"""Findings about desktop templates and seat groups: each raised once and once not."""

from __future__ import annotations

import datetime as dt

import pytest

from planner import facts as f
from planner.review import base
from tests.factories import make, raised


def desk(**values):
    return make(f.Template, **{"name": "front desk", "memory_gib": 4, "vcpu": 2, "most": 5, **values})


def seats(template=None, **values):
    return make(
        f.SeatGroup,
        **{"name": "Reception", "people": 10, "share_at_once": 0.7, "template_id": template and template.id, **values},
    )


def seated(most, *groups):
    template = desk(most=most)
    return [template, *(seats(template, **values) for values in groups)]


def with_image(bits, memory):
    image = make(f.Image, name="old image", bits=bits)
    return [image, desk(image_id=image.id, memory_gib=memory)]


# what raises it, what does not, where, words of its title or text, and what the mend types in
CASES = {
    "template-none": (list, lambda: [desk()], "", "No desktop template", None),
    "template-no-image": (lambda: [desk()], lambda: [desk(image_id=4)], "image_id", "front desk has no image", None),
    "template-no-network": (lambda: [desk()], lambda: [desk(network_id=4)], "network_id", "front desk has no", None),
    "template-most-zero": (lambda: [desk(most=0)], lambda: [desk(most=1)], "most", "front desk", None),
    "template-standby-over-most": (
        lambda: [desk(standby=6)], lambda: [desk(standby=5)], "standby", "keeps 6 on standby, but may run only 5",
        (("standby", "5"),),
    ),
    "template-standby-zero": (
        lambda: [desk(standby=0, reset_rule="sign-out")], lambda: [desk(standby=0, reset_rule="kept")], "standby",
        "rebuilds at each sign-out", None,
    ),
    "template-standby-unknown": (lambda: [desk()], lambda: [desk(standby=0)], "standby", "front desk", None),
    "template-most-below-seats": (
        # 10 × 0.7 = 7 and 3 × 0.5 = 1.5, rounded up 2
        lambda: seated(8, {}, {"name": "Vets", "people": 3, "share_at_once": 0.5}),
        lambda: seated(9, {}, {"name": "Vets", "people": 3, "share_at_once": 0.5}),
        "most", "may run 8, but its seats need 9 at once", (("most", "9"),),
    ),
    "template-reset-unknown": (lambda: [desk()], lambda: [desk(reset_rule="kept")], "reset_rule", "front desk", None),
    "template-no-profile-place": (
        lambda: [desk(reset_rule="nightly")], lambda: [desk(reset_rule="nightly", profile_place="files-1")],
        "profile_place", "rebuilt every night", None,
    ),
    "template-no-seats": (lambda: [desk()], lambda: seated(9, {}), "", "Nobody gets desktops from front desk", None),
    "template-name-twice": (
        lambda: [desk(), desk(name="Front Desk ")], lambda: [desk(), desk(name="back desk")], "name",
        "Two templates are named Front Desk", None,
    ),
    "template-passes-devices": (
        lambda: [desk(passes=("clipboard", "usb", "drives"))], lambda: [desk(passes=("clipboard",))], "passes",
        "lets drives and USB devices through", None,
    ),
    "template-no-protocol": (lambda: [desk()], lambda: [desk(protocol_id=3)], "protocol_id", "front desk", None),
    "template-growth-unknown": (lambda: [desk()], lambda: [desk(growth_gib=6)], "growth_gib", "front desk", None),
    "template-over-32-bit": (
        # 2³² bytes = 4 × 2³⁰ bytes
        lambda: with_image(32, 8), lambda: with_image(32, 4), "memory_gib", "gives 8 GiB to a 32-bit system",
        (("memory_gib", "4"),),
    ),
    "seats-no-template": (lambda: [seats()], lambda: seated(9, {}), "template_id", "Reception", None),
    "seats-share-over-one": (
        lambda: [seats(share_at_once=70)], lambda: [seats(share_at_once=1)], "share_at_once",
        "7,000 % of the people cannot be there at once", (("share_at_once", "70"),),
    ),
    "seats-arrivals-unknown": (
        lambda: [seats(arrive_around=dt.time(7, 45))],
        lambda: [seats(arrive_around=dt.time(7, 45), arrive_spread_minutes=15)], "arrive_spread_minutes",
        "how spread", None,
    ),
    "seats-name-twice": (
        lambda: [seats(), seats(name="reception")], lambda: [seats(), seats(name="Vets")], "name",
        "Two seat groups are named reception", None,
    ),
    "seats-person-many": (
        lambda: [seats(seat_kind="person")], lambda: [seats(seat_kind="person", people=1)], "people",
        "10 people are counted",
        (("people", "1"),),
    ),
    "seats-people-apart": (
        lambda: [f.Site(id=1, purpose="live", people_count=12), seats()],
        lambda: [f.Site(id=1, purpose="live", people_count=10), seats()], "people_count",
        "That is 2 fewer", None,
    ),
}  # fmt: skip


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
    assert {key for key, rule in base.RULES.items() if rule.__module__ in modules} == CASES.keys() | own


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
    assert raised("template-most-below-seats", *seated(1, {}, {"people": None})) == []


def test_a_share_beyond_all_sense_has_no_mend():
    (found,) = raised("seats-share-over-one", seats(share_at_once=5000))
    assert found.mend is None


def test_people_in_more_than_one_group_are_told_too():
    site = f.Site(id=1, purpose="live", people_count=8)
    (found,) = raised("seats-people-apart", site, seats())
    assert "2 more" in found.text and found.chapter == 1


@pytest.mark.parametrize(("key", "weight"), [("template-no-profile-place", "remark"), ("template-passes-devices", "")])
def test_a_trial_is_a_bench(key, weight):
    found = raised(key, desk(reset_rule="weekly", passes=("usb",)), purpose="trial")
    assert [one.weight for one in found] == ([weight] if weight else [])
