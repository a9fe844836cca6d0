"""Findings about the on-site day: it does not fit, it fits too narrowly, a step is longer than the day.

Once the day is over they are silent: what was left is told by its checks.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator

from planner.engine.placement.capacity import known
from planner.engine.schedule import Task
from planner.record import chapters
from planner.record.facts import Host, Ref
from planner.review.base import Hit, rule
from planner.review.words import and_list, chance_words
from planner.stages.day_results import Day
from planner.stages.day_words import count_words, length_words, number_words
from planner.stages.staged import Staged

CARRYING = "carry-host"  # the step for which nobody is alone
TOLD = 6  # runs of steps told by their numbers


def _ahead(plan: Staged) -> Day | None:
    """The on-site day, when it is set, not over yet, and could be laid out."""
    date = plan.facts.site.on_site_date
    if date is None or date < plan.facts.today or plan.day.layout is None:
        return None
    return plan.day


def _who(day: Day) -> str:
    if day.people_assumed:
        if len(day.people) == 1:
            return "One person needs"
        return f"{len(day.people)} people need"
    names = and_list([one.name for one in day.people])
    return f"{names} {'needs' if len(day.people) == 1 else 'need'}"


@rule("day-does-not-fit")
def does_not_fit(plan: Staged) -> Iterator[Hit]:
    """At mean times the day is too short, and what must be moved is more than was agreed for the evening."""
    day = _ahead(plan)
    if day is None or day.fits or day.evening_is_enough:
        return
    steps = (*day.steps, *day.moved)
    numbers = and_list(number_words({one.key for one in day.moved}, steps), TOLD)
    yield Hit(
        plan.facts.site.ref.at("on_site_date"),
        also=(plan.facts.site.ref.at("work_ends"),),
        over=length_words(day.over),
        who=_who(day),
        needs=length_words(day.needs),
        steps=count_words(len(steps)),
        has=length_words(day.length),
        starts=day.clock(0),
        ends=day.clock(day.length),
        numbers=numbers,
        moved=count_words(len(day.moved)),
        work=length_words(day.moved_work),
        help=_help(day),
    )


def _help(day: Day) -> str:
    """Whether more people would do."""
    if day.calendar:
        room = day.calendar.open_minutes()
    else:
        room = 0.0
    if not room or (day.longest or 0.0) > day.length:
        return f"More people alone do not help: one step after the other takes {length_words(day.longest)}."
    least = max(math.ceil((day.work or 0.0) / room), len(day.people) + 1)
    return f"It would take {least} people at least to do it in one day."


@rule("day-chance-low")
def chance_low(plan: Staged) -> Iterator[Hit]:
    day, least = _ahead(plan), known(plan.numbers["schedule.least-chance"])
    if day is None or not day.bars or least is None or not (day.fits or day.evening_is_enough):
        return
    chance = day.chance
    if chance is not None and chance < least:
        critical = set(day.critical)
        numbers = and_list(number_words(critical, (*day.steps, *day.moved)), TOLD)
        yield Hit(
            plan.facts.site.ref.at("work_ends"),
            also=(plan.facts.site.ref.at("on_site_date"),),
            chance=chance_words(chance),
            least=chance_words(least),
            ends=day.clock(day.length),
            finish=day.clock(day.finish or 0.0),
            numbers=numbers,
        )


@rule("day-step-too-long")
def step_too_long(plan: Staged) -> Iterator[Hit]:
    """One step alone is longer than the day; an attended one than the day without its break."""
    day = _ahead(plan)
    if day is None or day.calendar is None:
        return
    for one in (*day.steps, *day.moved):
        if one.attended:
            room = day.calendar.open_minutes()
        else:
            room = day.length
        mean = Task(one.key, *one.minutes).mean
        if mean > room:
            stage = plan.stages.stage(one.stage)
            if stage:
                title = next((step.title for step in stage.steps if step.key == one.key), one.key)
            else:
                title = one.key
            yield Hit(
                Ref("stage", one.stage),
                twin=one.key,
                number=one.number,
                step=title,
                time=length_words(mean),
                has=length_words(room),
                kind="work" if one.attended else "a wait",
            )


@rule("day-lift-alone")
def lift_alone(plan: Staged) -> Iterator[Hit]:
    """One technician is named, and a host that is heavier than one person lifts is carried on the day."""
    day, most = _ahead(plan), plan.facility.lift_limits.alone_kg
    if day is None or day.people_assumed or len(day.people) != 1:
        return
    heavy = [
        one.record
        for one in (*day.steps, *day.moved)
        if one.entry.key == CARRYING
        and isinstance(one.record, Host)
        and (known(one.record.weight_kg) or 0) > most
    ]
    if heavy:
        hosts = and_list([host.label for host in heavy])
        yield Hit(
            plan.facts.site.ref,
            also=tuple(host.ref for host in heavy),
            hosts=hosts,
            who=day.people[0].name,
        )


@rule("day-no-pilot-day")
def no_pilot_day(plan: Staged) -> Iterator[Hit]:
    """A step needs a working day of its own between the on-site day and go-live, and there is none."""
    day, site = _ahead(plan), plan.facts.site
    if day is None or not day.shares.own or site.go_live_date is None or day.date is None:
        return
    if site.go_live_date <= day.date or _free_day(day.date, site.go_live_date, site.work_days):
        return
    yield Hit(
        site.ref.at("go_live_date"),
        also=(site.ref.at("on_site_date"),),
        on_site=chapters.show_date(day.date),
        go_live=chapters.show_date(site.go_live_date),
        numbers=and_list([one.number for one in day.shares.own]),
    )


def _free_day(first: dt.date, last: dt.date, week: tuple[str, ...]) -> bool:
    """Whether a working day lies between two dates."""
    between = min((last - first).days, 15)
    open_days = set(week) & set("1234567")
    days = (str((first.isoweekday() + offset - 1) % 7 + 1) for offset in range(1, between))
    return any(not open_days or day in open_days for day in days)
