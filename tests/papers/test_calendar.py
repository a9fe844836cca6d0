"""The calendar: what stands in it, read back by a parser and checked octet by octet."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import icalendar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.papers.calendar import build_calendar, uid
from planner.plan import Plan
from planner.record import facts as f
from tests.factories import site_facts
from tests.papers.demo_facts import PLANNED, SITES, demo
from tests.papers.test_configs_text import NASTY

STAMP = dt.datetime(2027, 1, 4, 8, 30, tzinfo=dt.UTC)
SITE = f.Site(
    id=3,
    name="Mill Street",
    code="mill",
    time_zone="Europe/Vienna",
    on_site_date=dt.date(2027, 1, 14),
    work_starts=dt.time(7, 30),
    work_ends=dt.time(17),
    go_live_date=dt.date(2027, 1, 18),
    purpose="live",
)


def made(*records: f.Record, **values) -> bytes:
    return build_calendar(Plan(site_facts(*records, **values)), stamp=STAMP, revision="B")


def events(content: bytes) -> dict[str, icalendar.Event]:
    """Every event by its UID, as a calendar program reads the file."""
    found = icalendar.Calendar.from_ical(content).walk("VEVENT")
    by_uid = {str(event["UID"]): event for event in found}
    assert len(by_uid) == len(found)
    return by_uid


def by_title(*records: f.Record, **values) -> dict[str, icalendar.Event]:
    return {str(event["SUMMARY"]): event for event in events(made(*records, **values)).values()}


def whole(content: bytes) -> None:
    """What RFC 5545 asks of the raw octets."""
    assert content.endswith(b"\r\n")
    for line in content.split(b"\r\n"):
        assert len(line) <= 75  # Source: RFC 5545 section 3.1: without the line break
        line.decode()  # no letter is cut in two
        assert not re.search(
            rb"[\x00-\x08\x0a-\x1f\x7f]", line
        )  # Source: RFC 5545 section 3.1: no controls
    unfolded = content.replace(b"\r\n ", b"")
    for line in unfolded.split(b"\r\n")[:-1]:
        assert re.match(rb"[A-Z-]+[;:]", line), line
    assert unfolded.count(b"BEGIN:VEVENT") == unfolded.count(b"END:VEVENT")
    for name in (
        b"UID:",
        b"DTSTAMP:",
        b"DTSTART",
    ):  # Source: RFC 5545 section 3.6.1: once in each event
        assert len(re.findall(rb"\r\n" + name, unfolded)) == unfolded.count(b"BEGIN:VEVENT")
    assert unfolded.startswith(b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:")


@pytest.mark.parametrize("name", SITES)
def test_the_demo_sites_calendars_are_whole(name):
    content = build_calendar(Plan(demo(name)), stamp=STAMP)
    whole(content)
    assert len(events(content)) > 1 or name not in PLANNED


def test_the_on_site_day_stands_in_the_sites_time():
    event = by_title(SITE)["Mill Street: On site"]
    # Source: Directive 2000/84/EC: central European time is an hour ahead of UTC in winter, two in summer
    assert event["DTSTART"].dt == dt.datetime(2027, 1, 14, 6, 30, tzinfo=dt.UTC)
    assert event["DTEND"].dt == dt.datetime(2027, 1, 14, 16, tzinfo=dt.UTC)
    assert event["DTSTAMP"].dt == STAMP
    assert "07:30 to 17:00 at the site." in event["DESCRIPTION"]
    summer = dataclasses.replace(SITE, on_site_date=dt.date(2027, 7, 14))
    assert by_title(summer)["Mill Street: On site"]["DTSTART"].dt == dt.datetime(
        2027, 7, 14, 5, 30, tzinfo=dt.UTC
    )


@pytest.mark.parametrize(
    "changes",
    [
        {"time_zone": ""},
        {"time_zone": "Nowhere/Else"},
        {"work_ends": None},
        {"work_ends": dt.time(7)},
    ],
)
def test_without_hours_or_time_zone_it_is_a_whole_day(changes):
    event = by_title(dataclasses.replace(SITE, **changes))["Mill Street: On site"]
    assert event["DTSTART"].dt == dt.date(2027, 1, 14)
    assert not isinstance(event["DTSTART"].dt, dt.datetime)
    assert "DTEND" not in event  # Source: RFC 5545 section 3.6.1: then it ends with that day


def test_every_day_that_matters_is_there():
    found = by_title(
        SITE,
        f.Service(
            id=1,
            name="desks",
            certificate_expires=dt.date(2027, 11, 30),
            certificate_names=("desk.example",),
        ),
        f.Image(
            id=7, name="practice", operating_system="release 2", support_ends=dt.date(2028, 10, 10)
        ),
        f.Credential(
            id=4, name="hypervisor", last_changed=dt.date(2026, 11, 2), who_can_fetch="Tom Reed"
        ),
    )
    days = {
        title.removeprefix("Mill Street: "): event["DTSTART"].dt for title, event in found.items()
    }
    assert days.pop("On site")
    assert days == {
        "Go-live": dt.date(2027, 1, 18),
        "Certificate of desks expires": dt.date(2027, 11, 30),
        "Support ends: release 2 of practice": dt.date(2028, 10, 10),
        "Change: hypervisor": dt.date(2027, 11, 2),  # 365 days on, the catalogue's own number
    }


def test_the_house_says_how_long_a_credential_may_stand():
    credential = f.Credential(id=4, name="hypervisor", last_changed=dt.date(2026, 11, 2))
    ninety = f.Assumed(key="credential.days-unchanged", value=90)
    assert by_title(SITE, credential, ninety)["Mill Street: Change: hypervisor"][
        "DTSTART"
    ].dt == dt.date(2027, 1, 31)


def accepted_finding(**changes) -> tuple[f.Record, f.Acceptance]:
    """A record with a finding, and somebody who lives with it until a day."""
    network = f.Network(id=5, name="core", cidr="10.44.1.0/24", gateway="10.44.2.1")
    [finding] = [
        one
        for one in Plan(site_facts(network)).review.findings
        if one.at == network.ref.at("gateway")
    ]
    standard = {
        "reason": "moves in May",
        "look_again": dt.date(2027, 5, 3),
        "by": "Noor Marsh",
        "at": STAMP,
    }
    return network, f.Acceptance(finding=finding.token, **{**standard, **changes})


def test_accepted_findings_are_looked_at_again():
    network, acceptance = accepted_finding()
    [event] = [
        one for title, one in by_title(network, acceptance).items() if "Look again: " in title
    ]
    assert event["DTSTART"].dt == dt.date(2027, 5, 3)
    assert "Noor Marsh accepted it: moves in May" in event["DESCRIPTION"]
    mended = dataclasses.replace(network, gateway="10.44.1.1")
    assert not any("Look again" in title for title in by_title(mended, acceptance))
    assert not any("Look again" in title for title in by_title(*accepted_finding(look_again=None)))


def test_events_keep_their_names_when_the_plan_changes():
    moved = dataclasses.replace(SITE, name="New Mill", on_site_date=dt.date(2027, 2, 1))
    assert set(events(made(SITE))) == set(events(made(moved)))
    assert set(events(made(SITE))) == {
        "site-3-on_site_date@mill.larkfield",
        "site-3-go_live_date@mill.larkfield",
    }
    other = dataclasses.replace(SITE, code="yard")
    assert not set(events(made(SITE))) & set(events(made(other)))


def test_names_of_odd_codes_stay_apart():
    odd = [
        Plan(site_facts(f.Site(code=code), customer_code=""))
        for code in ("a b", "a-b", "a\nb", "a/b")
    ]
    found = [uid(plan, "site-1-x") for plan in odd]
    assert len(set(found)) == 4
    assert all(re.fullmatch(r"[A-Za-z0-9_.@-]+", one) for one in found)


def test_a_stamp_without_a_zone_is_utc():
    content = build_calendar(Plan(site_facts(SITE)), stamp=dt.datetime(2027, 1, 4, 8, 30))
    assert b"DTSTAMP:20270104T083000Z" in content
    elsewhere = STAMP.astimezone(dt.timezone(dt.timedelta(hours=5)))
    assert b"DTSTAMP:20270104T083000Z" in build_calendar(Plan(site_facts(SITE)), stamp=elsewhere)


DAYS = st.none() | st.dates() | st.sampled_from([dt.date.min, dt.date.max])
TIMES = st.none() | st.times()
ZONES = (
    st.sampled_from(
        ["Europe/Vienna", "Pacific/Kiritimati", "America/Los_Angeles", "UTC", "Europe", "../x"]
    )
    | NASTY
)


@settings(max_examples=60, deadline=None)
@given(NASTY, NASTY, ZONES, st.lists(DAYS, min_size=5, max_size=5), TIMES, TIMES)
def test_any_facts_give_a_whole_calendar(text, code, zone, days, starts, ends):
    facts = site_facts(
        f.Site(
            id=3,
            name=text,
            code=code,
            time_zone=zone,
            on_site_date=days[0],
            go_live_date=days[1],
            scope=text,
            work_starts=starts,
            work_ends=ends,
            street_address=text,
        ),
        f.Service(id=1, name=text, certificate_expires=days[2], certificate_names=(text,)),
        f.Image(id=1, name=text, operating_system=text, support_ends=days[3]),
        f.Credential(id=1, name=text, last_changed=days[4], who_can_fetch=text),
        customer=text,
        customer_code=code,
    )
    content = build_calendar(Plan(facts), stamp=STAMP, revision=code)
    whole(content)
    told = [day for day in days[:4] if day]
    found = [event["DTSTART"].dt for event in events(content).values()]
    assert len(told) <= len(found) <= len(told) + 1
    for event in events(content).values():
        assert all(
            letter.isprintable() or letter == "\n"
            for letter in str(event["DESCRIPTION"]) + str(event["SUMMARY"])
        )
