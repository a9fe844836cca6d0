"""Findings about the brief: each raised by one site and not by another."""

from __future__ import annotations

import datetime as dt

import pytest

from planner.plan import Plan
from planner.record import facts as f
from planner.record.facts import Ref
from tests.factories import TODAY, findings, make, plan_of, raised, site_facts
from tests.review.cases import Case, rules_of

THURSDAY, SATURDAY, MONDAY = dt.date(2026, 4, 9), dt.date(2026, 4, 11), dt.date(2026, 4, 13)
WEEK = ("1", "2", "3", "4", "5")


def site(**values) -> f.Site:
    return f.Site(**{"id": 1, "name": "Mill Street", "purpose": "live", **values})


def contact(role: str, **values) -> f.Contact:
    return make(
        f.Contact, **{"name": f"The {role}", "role": role, "phone": "+43 1 555 0100", **values}
    )


CASES = [
    Case("time-zone-missing", [site()], [site(time_zone="Europe/Vienna")], "time_zone"),
    Case(
        "time-zone-unknown",
        [site(time_zone="Europe/Larkfield")],
        [site(time_zone="Europe/Vienna")],
        "time_zone",
        "Larkfield",
    ),
    Case("people-not-counted", [site(people_count=0)], [site(people_count=36)], "people_count"),
    Case("scope-empty", [site(scope="  ")], [site(scope="Desktops for 36.")], "scope"),
    Case("on-site-missing", [site()], [site(on_site_date=THURSDAY)], "on_site_date"),
    Case(
        "on-site-past",
        [site(on_site_date=dt.date(2026, 2, 27))],
        [site(on_site_date=TODAY)],
        "on_site_date",
        "3 days ago",
    ),
    Case("go-live-missing", [site()], [site(go_live_date=MONDAY)], "go_live_date", trial=False),
    Case(
        "go-live-before-on-site",
        [site(on_site_date=MONDAY, go_live_date=THURSDAY)],
        [site(on_site_date=THURSDAY, go_live_date=MONDAY)],
        "go_live_date",
        "Thu 9 Apr 2026",
    ),
    Case(
        "go-live-same-day",
        [site(on_site_date=MONDAY, go_live_date=MONDAY)],
        [site(on_site_date=THURSDAY, go_live_date=MONDAY)],
        "go_live_date",
        "Mon 13 Apr 2026",
        trial=False,
    ),
    Case(
        "date-on-day-off",
        [site(on_site_date=SATURDAY, work_days=WEEK)],
        [site(on_site_date=THURSDAY, go_live_date=MONDAY, work_days=WEEK)],
        "on_site_date",
        "Sat 11 Apr 2026",
    ),
    Case(
        "working-hours-missing",
        [site(work_starts=dt.time(8), work_ends=dt.time(17))],
        [site(work_starts=dt.time(0), work_ends=dt.time(17), work_days=WEEK)],
        "work_days",
    ),
    Case(
        "working-hours-reversed",
        [site(work_starts=dt.time(17), work_ends=dt.time(8))],
        [site(work_starts=dt.time(8), work_ends=dt.time(17))],
        "work_ends",
        "08:00",
    ),
    Case("no-decision-maker", [contact("keys")], [contact("decision")]),
    Case("no-key-holder", [contact("decision")], [contact("keys")]),
    Case("no-directory-administrator", [contact("keys")], [contact("directory")]),
    Case("no-network-administrator", [contact("keys")], [contact("network")]),
    Case("no-pilot-user", [contact("keys")], [contact("pilot")], trial=False),
    Case("no-technician", [contact("keys")], [contact("technician")]),
    Case(
        "contact-unreachable",
        [contact("keys", phone=" ")],
        [contact("keys", phone="", email="a@larkfield.example")],
        "phone",
        "The keys",
    ),
    Case(
        "key-holder-no-telephone",
        [contact("keys", phone="", email="a@larkfield.example")],
        [contact("pilot", phone="", email="a@larkfield.example"), contact("keys")],
        "phone",
        "The keys",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.key)
def test_a_rule_is_raised_and_not(case):
    case.check()
    assert raised(case.key, *case.yes)[0].chapter == 1


def test_every_rule_of_the_group_has_its_case():
    assert {case.key for case in CASES} == rules_of("brief")


def test_a_time_zone_that_the_others_agree_on_can_be_set():
    both = [make(f.Image, time_zone="Europe/Vienna"), f.Directory(time_zone="Europe/Vienna")]
    mend = raised("time-zone-missing", *both)[0].mend
    assert (mend.record, mend.values, mend.words) == (
        Ref("site", 1),
        (("time_zone", "Europe/Vienna"),),
        "Set it to Europe/Vienna",
    )
    assert (
        raised("time-zone-missing", *both, make(f.Image, time_zone="Europe/Lisbon"))[0].mend is None
    )
    assert raised("time-zone-missing", make(f.Image, time_zone="Europe/Larkfield"))[0].mend is None


def test_both_days_may_be_on_a_day_off():
    found = raised(
        "date-on-day-off", site(on_site_date=SATURDAY, go_live_date=SATURDAY, work_days=WEEK)
    )
    assert [one.at.field for one in found] == ["on_site_date", "go_live_date"]
    assert not raised(
        "date-on-day-off", site(on_site_date=SATURDAY)
    )  # nobody said which days are off


def test_a_day_that_was_used_is_not_a_past_one():
    """The hosts' gate is signed: the day has done its work."""
    past = site(on_site_date=dt.date(2026, 2, 27))
    keys = [check.key for check in Plan(site_facts(past)).stages.stages[2].checks]
    at = dt.datetime(2026, 2, 27, tzinfo=dt.UTC)
    given = [f.Answer(check=key, state="proven", at=at) for key in keys]
    assert raised("on-site-past", past, *given)
    assert not raised(
        "on-site-past", past, *given, f.Signature(stage=3, by="L", at=at, checks=tuple(keys))
    )


def test_own_accounts_need_no_directory_administrator():
    assert not raised("no-directory-administrator", f.Directory(directory_kind="own-accounts"))


def test_a_go_live_before_the_on_site_day_stops_a_live_site_only():
    both = {"on_site_date": MONDAY, "go_live_date": THURSDAY}
    assert findings(site(**both))["go-live-before-on-site"][0].weight == "stopper"
    assert findings(site(**both, purpose="trial"))["go-live-before-on-site"][0].weight == "concern"
    assert plan_of(site(**both)).review.findings[0].weight == "stopper"
