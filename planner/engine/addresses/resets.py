"""Resets: when the desktops of one network are rebuilt, by their reset rules and the seats' hours.

- *nightly*: all of them in one night, every night; *weekly*: all in one. A burst takes as long as the hosts
  need for these desktops (:mod:`planner.engine.recovery.building`); where that cannot be told they come at once.
  Nobody says at what hour, so each burst may fall on the worst one.
- *each sign-out*: as many a day as people sign in, rounded up. A group's day begins when it arrives, or when
  work does, and is parted evenly into as many sessions as its sign-outs need with no more desktops than
  there are; at the end of each all leave within the last hour of it (an assumption), or more slowly where
  the hosts cannot rebuild so fast. On the site's working days; on all seven where nobody wrote them down.

Source: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction

from planner.catalogue.assumptions import Numbers
from planner.engine.addresses.rhythms import DAY, INSTANT, WEEK, Burst, Rhythm
from planner.engine.people.hours import day_minutes
from planner.engine.recovery.building import Building, Course
from planner.record.choices import ResetRule, Weekday
from planner.record.facts import Id, SeatGroup, Site, SiteFacts, Template

ABSURD = 10**15
SESSIONS_MOST = 24  # a day; beyond them people come and go all day long
PERIODS = {ResetRule.NIGHTLY: DAY, ResetRule.WEEKLY: WEEK}


def exact(number: float | None) -> Fraction | None:
    """A number as it was typed, in decimal: 0.1 is a tenth. None for what counts nothing on earth."""
    if number is None or not 0 <= number <= ABSURD:  # what is no number (nan) compares as False
        return None
    if isinstance(number, int):
        return Fraction(number)
    return Fraction(repr(number))


def rebuilds_a_day(template: Template, groups: Iterable[SeatGroup]) -> Fraction | None:
    """How many desktops of a template are rebuilt a day on average; None when it is not known."""
    match template.reset_rule:
        case ResetRule.KEPT:
            return Fraction(0)
        case ResetRule.NIGHTLY:
            return exact(template.most)
        case ResetRule.WEEKLY:
            most = exact(template.most)
            if most is None:
                return None
            return most / 7
        case ResetRule.SIGN_OUT:
            counts = [_sign_outs(group) for group in groups]
            if not counts or None in counts:
                return None
            return sum((count for count in counts if count), Fraction(0))
    return None


def rhythms(
    facts: SiteFacts,
    templates: Sequence[Template],
    groups: Mapping[Id | None, list[SeatGroup]],
    numbers: Numbers,
    building: Building | None,
) -> list[Rhythm]:
    """How the desktops of these templates are rebuilt, as far as it is known."""
    found = []
    for rule, period in PERIODS.items():
        own = [one for one in templates if one.reset_rule == rule and exact(one.most)]
        if own:
            found.append(_all_in_one(own, period, building))
    leaving = [one for one in templates if one.reset_rule == ResetRule.SIGN_OUT]
    return found + list(_leaving(facts.site, leaving, groups, numbers, building))


def _all_in_one(templates: list[Template], period: float, building: Building | None) -> Rhythm:
    """All desktops of these templates once in each period, one burst after the other."""
    count = float(sum(exact(template.most) or 0 for template in templates))
    if building:
        course = building.course(templates)
    else:
        course = None
    if course is None:
        return Rhythm(period, (Burst(0, INSTANT, count),), count)
    # Those that found no host count as if they were rebuilt beside the others.
    share = count / course.count
    bursts = tuple(
        Burst(piece.starts / 60, piece.length / 60, share * piece.count) for piece in course.pieces
    )
    return Rhythm(period, bursts, course.together * share)


def _leaving(
    site: Site,
    templates: list[Template],
    groups: Mapping[Id | None, list[SeatGroup]],
    numbers: Numbers,
    building: Building | None,
) -> Iterator[Rhythm]:
    """The sign-outs: of all groups whose hours are known together, of each other one by itself."""
    length = day_minutes(site, numbers)
    days = sorted({int(day) - 1 for day in site.work_days if Weekday.holds(day)}) or list(range(7))
    period, days = (DAY, [0]) if len(days) == 7 else (WEEK, days)
    by_the_clock: list[Burst] = []
    together = 0.0
    for template in templates:
        if building:
            course = building.course([template])
        else:
            course = None
        for group in groups.get(template.id, []):
            bursts, at_one_moment = _day(group, template, length, numbers, course)
            begins = _begins(site, group)
            through = tuple(
                Burst(day * DAY + (begins or 0) + burst.starts, burst.length, burst.count)
                for day in days
                for burst in bursts
            )
            if begins is None and through:
                yield Rhythm(period, through, at_one_moment)
            elif through:
                by_the_clock += through
                together += at_one_moment
    if by_the_clock:
        yield Rhythm(period, tuple(by_the_clock), together)


def _day(
    group: SeatGroup,
    template: Template,
    length: float,
    numbers: Numbers,
    course: Course | None,
) -> tuple[list[Burst], float]:
    """A day's sign-outs of one group, from the beginning of its day on, and how many come at one moment.

    No more leave at once than there are desktops, so that people in shifts leave shift by shift. What does not
    fill a session leaves after the first.
    """
    count = math.ceil(_sign_outs(group) or 0)
    at_once = _seats(group, template)
    if not count or not at_once:
        return [], 0.0
    sessions = -(-count // at_once)
    pace = 60 * course.pace if course else math.inf  # desktops a minute
    if sessions > SESSIONS_MOST:
        return [Burst(0, max(length, count / pace), float(count))], float(at_once)
    first = count - (sessions - 1) * at_once
    each = length / sessions
    last_part = min(numbers["seats.leaving-minutes"], each)
    found = []
    for number in range(1, sessions + 1):
        leaving = float(first if number == 1 else at_once)
        found.append(Burst(number * each - last_part, max(last_part, leaving / pace), leaving))
    return found, _at_one_moment(found, course)


def _seats(group: SeatGroup, template: Template) -> int:
    """How many of a group leave at once at most: no more than there are desktops."""
    return math.ceil(min(exact(group.people) or 0, exact(template.most) or ABSURD))


def _at_one_moment(bursts: list[Burst], course: Course | None) -> float:
    """How many of a group's desktops are rebuilt at one moment: those of whom people sign out while their hosts
    work on the ones before, and no more than hosts build together."""
    if course is None:
        return 1.0
    meanwhile = max(burst.count / burst.length for burst in bursts) * course.wave / 60
    return float(max(1, min(course.together, math.ceil(meanwhile))))


def _begins(site: Site, group: SeatGroup) -> float | None:
    """When a group's day begins, in minutes after midnight; None when nobody knows."""
    starts = group.arrive_around or site.work_starts
    if starts is None:
        return None
    return starts.hour * 60.0 + starts.minute


def _sign_outs(group: SeatGroup) -> Fraction | None:
    """A group's sign-outs a day: of all its people, not only of those who sit there at once."""
    people, each = exact(group.people), exact(group.sign_ins_a_day)
    if people is None or each is None:
        return None
    return people * each
