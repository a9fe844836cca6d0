"""Findings about published ends of support: each raised by one image and not by another."""

from __future__ import annotations

import datetime as dt

import pytest

from planner.engine.upkeep.lifecycles import listed
from planner.record import facts as f
from tests.factories import TODAY, findings, make, raised
from tests.review.cases import Case, rules_of

ROWS = {row.key: row for row in listed()}
SYSTEM = f"{ROWS['desktop-11-24h2-enterprise'].name} Enterprise"  # until Tue 12 Oct 2027
BOTH = ROWS["desktop-11-24h2-enterprise"].name
ENDS = dt.date(2027, 10, 12)


def image(text=SYSTEM, ends=None):
    return make(f.Image, name="office", operating_system=text, support_ends=ends)


def live_on(day):
    return f.Site(id=1, purpose="live", go_live_date=day)


CASES = [
    Case(
        "image-support-published",
        [live_on(dt.date(2026, 6, 1)), image()],
        [live_on(dt.date(2026, 6, 1)), image(ends=ENDS), image("desktop system, 64 bit")],
        "support_ends",
        "mends it until Tue 12 Oct 2027",
    ),
    Case(
        "image-published-end-near",
        [live_on(dt.date(2026, 12, 1)), image()],
        [live_on(dt.date(2026, 10, 12)), image()],
        "support_ends",
        "until Tue 12 Oct 2027, 315 days after go-live",
    ),
    Case(
        "image-support-differs",
        [image(ends=dt.date(2027, 10, 13))],
        [image(ends=ENDS), image(), image("desktop system", ENDS)],
        "support_ends",
        "noted until Wed 13 Oct 2027, published until Tue 12 Oct 2027",
    ),
    Case(
        "image-edition-unsaid",
        [image(BOTH)],
        [image(), image(BOTH, ENDS), image("desktop system")],
        "operating_system",
        "Pro for Workstations: Tue 13 Oct 2026; Enterprise, Education: Tue 12 Oct 2027",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.key)
def test_a_rule_is_raised_and_not(case):
    case.check()
    assert raised(case.key, *case.yes)[0].chapter == 6


def test_every_rule_of_the_lifecycles_has_its_case():
    assert {case.key for case in CASES} == rules_of("lifecycles")


@pytest.mark.parametrize("case", CASES[:3], ids=lambda case: case.key)
def test_the_mend_sets_the_published_date(case):
    (found,) = raised(case.key, *case.yes)
    assert found.mend.record.kind == "image" and found.mend.record.field == ""
    assert found.mend.values == (("support_ends", "2027-10-12"),)
    assert found.mend.words == "Set it to Tue 12 Oct 2027"


@pytest.mark.parametrize(
    ("go_live", "when"),
    [
        (dt.date(2027, 10, 12), "on the day of go-live"),
        (dt.date(2027, 10, 13), "1 day before go-live"),
        (dt.date(2027, 10, 10), "2 days after go-live"),
    ],
)
def test_how_near(go_live, when):
    (found,) = raised("image-published-end-near", live_on(go_live), image())
    assert when in found.title


def test_after_go_live_it_is_counted_from_today():
    today = dt.date(2027, 10, 14)
    (found,) = raised("image-published-end-near", live_on(TODAY), image(), today=today)
    assert "2 days before today" in found.title


def test_a_date_from_memory_says_so():
    row = ROWS["rhel-10"]
    (found,) = raised("image-support-published", image(row.name))
    assert "from memory, read nowhere" in found.text
    assert "read on Wed 25 Nov 2026" in raised("image-support-published", image())[0].text


def test_an_image_is_told_once():
    """Never two of these rules about one image."""
    for ends in (None, ENDS, dt.date(2030, 1, 1)):
        for text in (SYSTEM, BOTH, "desktop system", ""):
            keys = {case.key for case in CASES} & findings(image(text, ends)).keys()
            assert len(keys) <= 1
