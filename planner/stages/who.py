"""Who does what: the steps of a site by the entry they come from, with owner, times and place on the day."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection
from dataclasses import dataclass

from planner.stages.day_results import Bar
from planner.stages.own import number_of_entry
from planner.stages.results import SiteStep, Stage
from planner.stages.staged import Staged


@dataclass(frozen=True, slots=True)
class Work:
    """One entry's steps here: ``count`` of them, all with the one owner. ``minutes`` are the least, the likely and
    the longest of them added up; ``title`` is the step's own where there is one, else without a record's values.
    ``times`` says where they come from, "" for the catalogue; ``asked_by`` who asks beyond it.
    ``on_day`` says when and by whom, ``before`` that it is done before the day by the plan."""

    key: str
    number: str
    title: str
    count: int
    minutes: tuple[float, float, float]
    attended: bool
    owner: str
    times: str
    done: int
    before: bool = False
    on_day: str = ""
    asked_by: str = ""


def by_stage(plan: Staged, done: Collection[str] = ()) -> list[tuple[Stage, list[Work]]]:
    """The work of each stage that has any, in the order of the numbers. ``done`` are keys of steps."""
    bars: dict[str, list[Bar]] = {}
    for bar in plan.day.bars:
        bars.setdefault(bar.step.entry.key, []).append(bar)
    early = {one.entry.key for one in plan.day.shares.before}
    found = []
    for stage in plan.stages.stages:
        steps: dict[str, list[SiteStep]] = {}
        for step in stage.steps:
            steps.setdefault(step.entry_key, []).append(step)
        if steps:
            found.append(
                (
                    stage,
                    [
                        dataclasses.replace(
                            _work(key, here, done),
                            before=key in early,
                            on_day=_when(plan, bars.get(key, [])),
                        )
                        for key, here in steps.items()
                    ],
                )
            )
    return found


def _work(key: str, steps: list[SiteStep], done: Collection[str]) -> Work:
    first = steps[0]
    low, likely, high = (
        sum(times) for times in zip(*(step.minutes for step in steps), strict=True)
    )
    return Work(
        key,
        first.number if len(steps) == 1 else number_of_entry(first.number),
        first.title if len(steps) == 1 else first.plain_title,
        len(steps),
        (low, likely, high),
        first.attended,
        first.owner,
        first.times_words,
        sum(step.key in done for step in steps),
        asked_by=first.asked_by,
    )


def _when(plan: Staged, bars: list[Bar]) -> str:
    """``07:30 to 09:10, Noor Marsh and one more``; "" for what is not on the day."""
    if not bars:
        return ""
    day = plan.day
    names = {person.key: person.name for person in day.people}
    who = list(dict.fromkeys(names[bar.person] for bar in bars if bar.person))
    told = f"{day.clock(min(bar.start for bar in bars))} to {day.clock(max(bar.finish for bar in bars))}"
    return ", ".join([told, *who[:2]]) + (f" and {len(who) - 2} more" if len(who) > 2 else "")
