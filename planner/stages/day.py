"""The on-site day: its steps laid out for the people who are there, and what must be done before it.

Decisions where the facts leave room
- Each step takes one person: its owner, where one is named (10.9, 10.10), else any technician of 1.4. An owner
  who is no technician is there for what is theirs alone.
- Steps take their mean time, (shortest + 4 likely + longest) / 6. The clock shows when each would begin
  if all did.
- Lunch is at one time for all; work begun before it goes on after it, waits run on.
- What does not fit is found by laying the day out from its end: a step with no room left goes before the
  day, and with it all that must come before it.

Times are minutes from the start of work on the on-site day; see :class:`Day` for the clock.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
import statistics
from collections.abc import Sequence

from planner.catalogue.assumptions import Numbers
from planner.engine import schedule
from planner.engine.placement.capacity import known
from planner.engine.results import Results
from planner.engine.schedule import Calendar, Layout, laying, path, turning
from planner.record.choices import ContactRole
from planner.record.facts import Id, SiteFacts
from planner.stages.day_results import NEAR, Bar, Day, Lane, Person
from planner.stages.day_steps import share_out
from planner.stages.entries import STAGES
from planner.stages.outline import Asked, Outline
from planner.stages.results import Stages

MOST_PEOPLE = 40  # more would be in each other's way; they get no lane
FEW_STEPS = 150  # up to so many, the layout is tried in more than one way
MARGINS = 6  # times a day is laid out again with more time left at its end


def work_out(plan: Results, asked: Asked, stages: Stages) -> Day:
    """The on-site day of a plan. Never raises; bounded by the number of steps and people."""
    facts, numbers = plan.facts, plan.numbers
    carried_out = range(
        _stage(numbers, "schedule.first-stage"), _stage(numbers, "schedule.last-stage") + 1
    )
    own_day = _number(numbers, "schedule.own-day-minutes")
    shares = share_out(plan, asked, stages, own_day, carried_out)
    technicians, assumed = _people(facts, numbers)
    people, owned = _with_owners(technicians, shares.day)
    if len(people) > len(technicians):
        anybody = tuple(one.key for one in technicians)
    else:
        anybody = ()
    day = Day(
        date=facts.site.on_site_date,
        people=people,
        people_assumed=assumed,
        owned=owned,
        anybody=anybody,
        shares=shares,
        evening=_number(numbers, "schedule.evening-minutes"),
        steps=shares.day,
        missing=_missing(facts),
    )
    if day.missing:
        return day
    calendar = _calendar(facts, numbers)
    day = dataclasses.replace(day, calendar=calendar, hours=calendar.hours(overtime=True))
    return _laid_out(day, min(max(_number(numbers, "schedule.least-chance"), 0.0), 0.999))


def _number(numbers: Numbers, key: str) -> float:
    return known(numbers[key]) or 0.0


def _stage(numbers: Numbers, key: str) -> int:
    return min(max(round(_number(numbers, key)), 1), len(STAGES))


def _missing(facts: SiteFacts) -> tuple[str, ...]:
    site = facts.site
    found = []
    if site.work_starts is None:
        found.append("when work starts (1.2)")
    if site.work_ends is None:
        found.append("when work ends (1.2)")
    if site.work_starts and site.work_ends and _naive(site.work_ends) <= _naive(site.work_starts):
        found.append("working hours that end after they start (1.2)")
    return tuple(found)


def _naive(time: dt.time) -> dt.time:
    return time.replace(tzinfo=None)


def _calendar(facts: SiteFacts, numbers: Numbers) -> Calendar:
    """The site's working hours, with lunch where the day is long enough for one."""
    site = facts.site
    starts, ends = site.work_starts or dt.time(), site.work_ends or dt.time(23, 59)
    first = site.on_site_date or facts.today
    plain = Calendar(first, starts, ends, week=site.work_days)
    length = _number(numbers, "schedule.pause-minutes")
    if not length or plain.length <= 60 * _number(numbers, "schedule.pause-after-hours"):
        return plain
    begin = round(60 * _number(numbers, "schedule.pause-starts"))
    pause = (_time(begin), _time(begin + round(length)))
    return Calendar(first, starts, ends, week=site.work_days, pause=pause)


def _time(minute: int) -> dt.time:
    minute = min(max(minute, 0), 1439)
    return dt.time(minute // 60, minute % 60)


def _people(facts: SiteFacts, numbers: Numbers) -> tuple[tuple[Person, ...], bool]:
    """The technicians, each name once; so many nameless ones as assumed when there are none."""
    found: dict[str, Person] = {}
    for contact in facts.contacts:
        if contact.role == ContactRole.TECHNICIAN:
            name = contact.name.strip()
            found.setdefault(
                name.casefold() or contact.ref.anchor,
                Person(contact.ref.anchor, contact.label, contact.id),
            )
    if found:
        return tuple({one.key: one for one in found.values()}.values())[:MOST_PEOPLE], False
    count = min(max(round(_number(numbers, "schedule.people")), 1), MOST_PEOPLE)
    return tuple(
        Person(f"person-{number}", f"Person {number}") for number in range(1, count + 1)
    ), True


def _with_owners(
    technicians: tuple[Person, ...], steps: Sequence[Outline]
) -> tuple[tuple[Person, ...], dict[Id, str]]:
    """Everybody of the day, the technicians first, and each owner's key by the contact's id."""
    people = list(technicians)
    keys = {one.key: one.key for one in technicians} | {
        one.name.strip().casefold(): one.key for one in technicians
    }
    owned: dict[Id, str] = {}
    for owner in dict.fromkeys(one.owner for one in steps if one.owner and one.attended):
        anchor = owner.ref.anchor
        name = owner.name.strip().casefold() or anchor
        if name not in keys and len(people) < MOST_PEOPLE:
            people.append(Person(anchor, owner.label, owner.id))
            keys[name] = anchor
        if name in keys:
            owned[owner.id] = keys[name]
    return tuple(people), owned


# -- Laying out ----------------------------------------------------------------------------------


def _laid_out(day: Day, least: float) -> Day:
    """The day with its layout: of all its steps when they fit, otherwise of those that do."""
    names = [one.key for one in day.people]
    web = schedule.net(day.tasks)
    day = _needs(day, web)
    needs = day.needs or 0.0
    if needs <= day.length + NEAR:
        layout = _lay(web, names, day)
        needs = max(needs, layout.finish or 0.0)
        if needs <= day.length + NEAR:
            return dataclasses.replace(day, layout=layout, needs=needs)
    order = turning.in_turn(web.turned())
    if day.calendar:
        hours = day.calendar.hours()
    else:
        hours = schedule.ALWAYS
    left = 0.0
    for turn in range(MARGINS):
        kept = laying.with_room(web, names, hours, max(day.length - left, 0.0), order)
        steps = tuple(one for one in day.steps if one.key in kept)
        moved = tuple(one for one in day.steps if one.key not in kept)
        trial = dataclasses.replace(day, steps=steps, moved=moved, needs=needs)
        layout = _lay(schedule.net(trial.tasks), names, trial)
        trial = dataclasses.replace(trial, layout=layout)
        if not steps or (trial.chance or 0.0) >= least:
            break
        if 0 < least < 1:
            wanted = statistics.NormalDist().inv_cdf(least) * math.sqrt(layout.variance)
        else:
            wanted = 0.0
        left += max(
            (layout.finish or 0.0) + wanted - day.length, 2.0**turn
        )  # a little more may leave out nothing
    return trial


def _needs(day: Day, web: schedule.Net) -> Day:
    """The day with what its steps need at least: the longest chain, or all work shared evenly, with lunch."""
    work = sum(length for task, length in zip(web.tasks, web.lengths, strict=True) if task.attended)
    longest = max(path.early(web)[1], default=0.0)
    if day.hours and work:
        shared = day.hours.after(0.0, work / max(len(day.people), 1))
    else:
        shared = 0.0
    return dataclasses.replace(day, needs=max(longest, shared), longest=longest, work=work)


def _lay(web: schedule.Net, names: Sequence[str], day: Day) -> Layout:
    if len(web.tasks) <= FEW_STEPS:
        tries = 2
    else:
        tries = 0
    return laying.of_net(web, names, day.hours or schedule.ALWAYS, tries=tries)


__all__ = ["Bar", "Day", "Lane", "Person", "work_out"]
