"""Findings about the brief: place, dates, hours, and the people one has to ring."""

from __future__ import annotations

import functools
import zoneinfo
from collections.abc import Iterator

from planner.record import chapters
from planner.record.choices import ContactRole, DirectoryKind
from planner.review.base import Hit, Mend, rule
from planner.stages.results import GateState
from planner.stages.staged import Staged


@functools.cache
def zones() -> frozenset[str]:
    """Every time zone name that the zone data on this machine knows."""
    return frozenset(zoneinfo.available_timezones())


@rule("time-zone-missing")
def time_zone_missing(plan: Staged) -> Iterator[Hit]:
    site = plan.facts.site
    if site.time_zone:
        return
    told = {
        plan.facts.directory.time_zone,
        *(image.time_zone for image in plan.facts.images),
    } & zones()
    if len(told) == 1:
        (zone,) = told
        yield Hit(site.ref.at("time_zone"), mend=Mend(site.ref, (("time_zone", zone),)), zone=zone)
    else:
        yield Hit(site.ref.at("time_zone"), zone="")


@rule("time-zone-unknown")
def time_zone_unknown(plan: Staged) -> Iterator[Hit]:
    site = plan.facts.site
    if site.time_zone and site.time_zone not in zones():
        yield Hit(site.ref.at("time_zone"), zone=site.time_zone)


@rule("people-not-counted")
def people_not_counted(plan: Staged) -> Iterator[Hit]:
    site = plan.facts.site
    if not site.people_count:
        yield Hit(site.ref.at("people_count"))


@rule("scope-empty")
def scope_empty(plan: Staged) -> Iterator[Hit]:
    site = plan.facts.site
    if not site.scope.strip():
        yield Hit(site.ref.at("scope"))


# -- Dates and hours -----------------------------------------------------------------------------


@rule("on-site-missing")
def on_site_missing(plan: Staged) -> Iterator[Hit]:
    site = plan.facts.site
    if site.on_site_date is None:
        yield Hit(site.ref.at("on_site_date"))


@rule("on-site-past")
def on_site_past(plan: Staged) -> Iterator[Hit]:
    """The day is over and the hosts are not: a signed third gate says that it was used."""
    site, today = plan.facts.site, plan.facts.today
    if site.on_site_date and site.on_site_date < today:
        gate = plan.stages.stages[2].gate
        if gate.state != GateState.SIGNED:
            days = (today - site.on_site_date).days
            yield Hit(
                site.ref.at("on_site_date"),
                day=chapters.show_date(site.on_site_date),
                days=_days(days),
            )


@rule("go-live-missing")
def go_live_missing(plan: Staged) -> Iterator[Hit]:
    site = plan.facts.site
    if site.go_live_date is None:
        yield Hit(site.ref.at("go_live_date"))


@rule("go-live-before-on-site")
def go_live_before_on_site(plan: Staged) -> Iterator[Hit]:
    site = plan.facts.site
    if site.on_site_date and site.go_live_date and site.go_live_date < site.on_site_date:
        yield Hit(
            site.ref.at("go_live_date"),
            also=(site.ref.at("on_site_date"),),
            go_live=chapters.show_date(site.go_live_date),
            on_site=chapters.show_date(site.on_site_date),
        )


@rule("go-live-same-day")
def go_live_same_day(plan: Staged) -> Iterator[Hit]:
    site = plan.facts.site
    if site.go_live_date and site.go_live_date == site.on_site_date:
        at = site.ref.at("go_live_date")
        yield Hit(
            at, also=(site.ref.at("on_site_date"),), day=chapters.show_date(site.go_live_date)
        )


@rule("date-on-day-off")
def date_on_day_off(plan: Staged) -> Iterator[Hit]:
    site = plan.facts.site
    for field, what in (("on_site_date", "on-site day"), ("go_live_date", "go-live")):
        day = getattr(site, field)
        if day and site.work_days and str(day.isoweekday()) not in site.work_days:
            yield Hit(site.ref.at(field), what=what, day=chapters.show_date(day))


@rule("working-hours-missing")
def working_hours_missing(plan: Staged) -> Iterator[Hit]:
    site = plan.facts.site
    for field in ("work_starts", "work_ends", "work_days"):
        if getattr(site, field) in (None, ()):
            yield Hit(site.ref.at(field))
            return


@rule("working-hours-reversed")
def working_hours_reversed(plan: Staged) -> Iterator[Hit]:
    site = plan.facts.site
    if site.work_starts and site.work_ends and site.work_ends <= site.work_starts:
        starts, ends = f"{site.work_starts:%H:%M}", f"{site.work_ends:%H:%M}"
        yield Hit(
            site.ref.at("work_ends"), also=(site.ref.at("work_starts"),), starts=starts, ends=ends
        )


def _days(count: int) -> str:
    return f"{count} day{'s' if count != 1 else ''}"


# -- Contacts ------------------------------------------------------------------------------------


def _nobody(plan: Staged, role: ContactRole) -> Iterator[Hit]:
    if not any(contact.role == role for contact in plan.facts.contacts):
        yield Hit(plan.facts.site.ref)


@rule("no-decision-maker")
def no_decision_maker(plan: Staged) -> Iterator[Hit]:
    yield from _nobody(plan, ContactRole.DECISION)


@rule("no-key-holder")
def no_key_holder(plan: Staged) -> Iterator[Hit]:
    yield from _nobody(plan, ContactRole.KEYS)


@rule("no-directory-administrator")
def no_directory_administrator(plan: Staged) -> Iterator[Hit]:
    if plan.facts.directory.directory_kind != DirectoryKind.OWN_ACCOUNTS:
        yield from _nobody(plan, ContactRole.DIRECTORY)


@rule("no-network-administrator")
def no_network_administrator(plan: Staged) -> Iterator[Hit]:
    yield from _nobody(plan, ContactRole.NETWORK)


@rule("no-pilot-user")
def no_pilot_user(plan: Staged) -> Iterator[Hit]:
    yield from _nobody(plan, ContactRole.PILOT)


@rule("no-technician")
def no_technician(plan: Staged) -> Iterator[Hit]:
    yield from _nobody(plan, ContactRole.TECHNICIAN)


@rule("contact-unreachable")
def contact_unreachable(plan: Staged) -> Iterator[Hit]:
    for contact in plan.facts.contacts:
        if not contact.phone.strip() and not contact.email.strip():
            yield Hit(contact.ref.at("phone"), contact=contact.label)


@rule("key-holder-no-telephone")
def key_holder_no_telephone(plan: Staged) -> Iterator[Hit]:
    for contact in plan.facts.contacts:
        if contact.role == ContactRole.KEYS and contact.email.strip() and not contact.phone.strip():
            yield Hit(contact.ref.at("phone"), contact=contact.label)
