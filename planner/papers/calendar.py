"""The site's calendar: the on-site day and the dates that matter afterwards, as iCalendar (RFC 5545).

The icalendar package folds lines at 75 octets, ends them with CRLF and escapes texts. A person's calendar
keeps an event by its UID, so that a later calendar of the same site moves events and does not double them.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass

import icalendar

from planner.papers.configs.words import one_line
from planner.plan import Plan
from planner.record.chapters import show_date
from planner.record.facts import Credential, Ref

PRODUCT = "-//Deskwright//site calendar//EN"
MEDIA_TYPE = "text/calendar; charset=utf-8"
TITLE, TEXT = 200, 2000  # letters
A_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Date:
    """One day that matters: ``anchor`` tells the event from every other of its site, for good.

    ``starts`` and ``ends`` are times of that day at the site; None for a whole day.
    """

    anchor: str
    day: dt.date
    title: str
    text: str
    starts: dt.time | None = None
    ends: dt.time | None = None


def build_calendar(plan: Plan, *, stamp: dt.datetime, revision: str = "") -> bytes:
    """The calendar file of a site.

    ``stamp`` is the moment it is made (DTSTAMP); one without a time zone is taken as UTC. The on-site
    day's hours are the site's own, written in UTC; without its time zone or its working hours it is a
    whole day like all the others. Never raises, whatever the facts.
    """
    facts = plan.facts
    made = icalendar.Calendar()
    made.add("prodid", PRODUCT)
    made.add("version", "2.0")
    made.add("calscale", "GREGORIAN")
    made.add("method", "PUBLISH")
    made.add("name", one_line(f"{facts.customer}, {facts.site.name}"))
    if revision:
        letter = f"revision {one_line(revision, 12)}"
    else:
        letter = "the plan as it stood"
    state = f"From {letter}, fingerprint {plan.fingerprint}."
    zone = _zone(facts.site.time_zone)
    if stamp.tzinfo:
        at = stamp.astimezone(dt.UTC)
    else:
        at = stamp.replace(tzinfo=dt.UTC)
    for date in dates(plan):
        made.add_component(_event(plan, date, zone, at, state))
    written: bytes = made.to_ical()
    return written


def dates(plan: Plan) -> Iterator[Date]:
    """Every day of the plan that matters, chapter by chapter."""
    facts, site = plan.facts, plan.facts.site
    if site.on_site_date:
        if site.scope:
            words = f"The on-site day. {site.scope}"
        else:
            words = "The on-site day."
        timed = site.work_starts and site.work_ends and site.work_starts < site.work_ends
        if timed:
            hours = (site.work_starts, site.work_ends)
        else:
            hours = (None, None)
        yield _date(site.ref, "on_site_date", site.on_site_date, "On site", words, *hours)
    if site.go_live_date:
        yield _date(
            site.ref,
            "go_live_date",
            site.go_live_date,
            "Go-live",
            "From this day people depend on it.",
        )
    service = facts.service
    if service.certificate_expires:
        title = f"Certificate of {service.label} expires"
        words = f"It covers {', '.join(service.certificate_names) or 'names nobody wrote down'}."
        yield _date(service.ref, "certificate_expires", service.certificate_expires, title, words)
    for credential in facts.credentials:
        yield from _of_credential(plan, credential)
    for image in facts.images:
        if image.support_ends:
            title = f"Support ends: {image.operating_system or 'operating system'} of {image.label}"
            words = "After this day nobody mends its faults: plan the next image well before."
            yield _date(image.ref, "support_ends", image.support_ends, title, words)
    yield from _to_look_again(plan)


def _of_credential(plan: Plan, credential: Credential) -> Iterator[Date]:
    """When a credential will have stood unchanged for as long as the house allows."""
    changed = credential.last_changed
    if changed is None:
        return
    try:
        due = changed + plan.numbers["credential.days-unchanged"] * A_DAY
    except (OverflowError, ValueError):
        return
    words = f"Unchanged since {show_date(changed)}. Who can fetch it: {credential.who_can_fetch or 'not recorded'}."
    yield _date(credential.ref, "change_due", due, f"Change: {credential.label}", words)


def _to_look_again(plan: Plan) -> Iterator[Date]:
    """Findings that stand and that somebody lives with until a day."""
    if not plan.facts.acceptances:
        return  # and nothing is reviewed for it
    for finding in plan.review.findings:
        accepted = finding.acceptance
        if accepted and accepted.look_again:
            words = f"{accepted.by} accepted it: {accepted.reason}"
            yield Date(
                f"acceptance-{finding.token}",
                accepted.look_again,
                f"Look again: {finding.title}",
                words,
            )


def _date(
    ref: Ref,
    field: str,
    day: dt.date,
    title: str,
    text: str,
    starts: dt.time | None = None,
    ends: dt.time | None = None,
) -> Date:
    return Date(f"{ref.anchor}-{field}", day, title, text, starts, ends)


# -- iCalendar -----------------------------------------------------------------------------------


def _event(
    plan: Plan, date: Date, zone: zoneinfo.ZoneInfo | None, at: dt.datetime, state: str
) -> icalendar.Event:
    site = plan.facts.site
    event = icalendar.Event()
    event.add("uid", uid(plan, date.anchor))
    event.add("dtstamp", at)
    if zone:
        hours = _hours(date, zone)
    else:
        hours = None
    if hours:
        event.add("dtstart", hours[0])
        event.add("dtend", hours[1])
    else:
        event.add("dtstart", date.day)  # without an end it is that one day (RFC 5545 section 3.6.1)
        event.add("transp", "TRANSPARENT")
    event.add("summary", one_line(f"{site.name}: {date.title}" if site.name else date.title, TITLE))
    if date.starts and date.ends:
        local = f"{date.starts:%H:%M} to {date.ends:%H:%M} at the site."
    else:
        local = ""
    told = (one_line(text, TEXT) for text in (date.text, local, state))
    event.add("description", "\n".join(text for text in told if text))
    if site.street_address:
        event.add("location", one_line(site.street_address, TITLE))
    return event


def _hours(date: Date, zone: zoneinfo.ZoneInfo) -> tuple[dt.datetime, dt.datetime] | None:
    """When an event begins and ends, in UTC; None for a whole day."""
    if date.starts is None or date.ends is None:
        return None
    local = (
        dt.datetime.combine(date.day, time.replace(tzinfo=None), zone)
        for time in (date.starts, date.ends)
    )
    try:
        first, last = (moment.astimezone(dt.UTC) for moment in local)
    except OverflowError:  # at the very ends of the calendar
        return None
    return first, last


def uid(plan: Plan, anchor: str) -> str:
    """An event's name for all time and everywhere: ``site-3-go_live_date@mill.larkfield``."""
    place = ".".join(filter(None, (plan.facts.site.code, plan.facts.customer_code))) or "site"
    return f"{_token(anchor)}@{_token(place)}"


def _token(text: str) -> str:
    """A text of plain letters; one that had others keeps itself apart by a few letters of its digest."""
    plain = re.sub(r"[^A-Za-z0-9_.-]+", "-", text)[:100]
    if plain == text:
        return plain
    return f"{plain}-{hashlib.sha256(text.encode('utf-8', 'replace')).hexdigest()[:10]}"


def _zone(name: str) -> zoneinfo.ZoneInfo | None:
    try:
        if name:
            return zoneinfo.ZoneInfo(name)
        return None
    except (ValueError, OSError, zoneinfo.ZoneInfoNotFoundError):
        return None
