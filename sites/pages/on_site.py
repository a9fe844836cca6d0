"""The on-site day as a page shows it: laid out by the plan, and anew from what has really happened."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.utils import timezone

from planner.engine.schedule import Real
from planner.plan import Plan
from planner.stages.day_results import Bar, Day
from sites.models import Site, StepDone


@dataclass(frozen=True, slots=True)
class Row:
    """One step of somebody's day, in words."""

    start: str
    finish: str
    number: str
    title: str
    state: str
    critical: bool
    key: str
    stage: int


def laid_out(site: Site, plan: Plan, lines: Mapping[str, StepDone]) -> tuple[Day, bool]:
    """The day, and whether real times are in it: on the day itself it is laid out anew from now."""
    day = plan.day
    calendar = day.calendar
    if calendar is None or day.date != plan.facts.today:
        return day, False
    zone = _zone(site)

    def minute(moment: dt.datetime) -> float:
        return calendar.minute(moment.astimezone(zone))

    names = {person.name.casefold(): person.key for person in day.people}
    real = {}
    for key, line in lines.items():
        if line.started_at or line.done_at:
            who = str(line.owner or line.by or "")
            start = minute(line.started_at or line.done_at)
            if line.done_at:
                finish = max(start, minute(line.done_at))
            else:
                finish = None
            real[key] = Real(start, finish, names.get(who.casefold(), who))
    return day.again(real, minute(timezone.now())), True


def _zone(site: Site) -> dt.tzinfo:
    try:
        if site.time_zone:
            return ZoneInfo(site.time_zone)
        return timezone.get_current_timezone()
    except (KeyError, ValueError, OSError):
        return timezone.get_current_timezone()


def lanes(plan: Plan, day: Day) -> list[tuple[str, list[Row]]]:
    """Each person's steps with their times, and what runs while nobody stands by."""
    found = [
        (lane.person.name if lane.person else "", [_row(plan, day, bar) for bar in lane.bars])
        for lane in day.lanes
    ]
    waits = [_row(plan, day, bar) for bar in day.waits.bars]
    if waits:
        return [*found, ("Nobody needs to stand by", waits)]
    return found


def _row(plan: Plan, day: Day, bar: Bar) -> Row:
    step = plan.stages.steps.get(bar.key)
    return Row(
        day.clock(bar.start),
        day.clock(bar.finish),
        bar.number,
        step.title if step else bar.key,
        bar.state,
        bar.critical,
        bar.key,
        bar.step.stage,
    )


def moved(plan: Plan, day: Day) -> list[tuple[str, str]]:
    """Steps that do not fit the day, by number and title: for the evening before."""
    return [
        (one.number, step.title if (step := plan.stages.steps.get(one.key)) else one.key)
        for one in day.moved
    ]
