"""Which steps belong on the on-site day, and which are done by then or come after it.

- The day has the stages from ``schedule.first-stage`` to ``schedule.last-stage``.
- Done is a step whose gate is signed and stands, one whose checks are all answered *proven*, *on trust*
  or *excused*, and one without checks when a step that directly follows it is done.
- Done before the day is what was planned so, and what an image's sealing needs when the image is sealed on
  an earlier day: it cannot be sealed before the hosts and the service it is made on stand. What must come
  before such a step is done before the day too.
- A long wait that nothing else of the day waits for gets a day of its own, after.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from planner.engine.results import Results
from planner.engine.schedule import Task
from planner.stages.outline import Asked, Outline
from planner.stages.results import SAID, GateState, Stages

SEALING = ("seal-image", "seal-image-alone")


@dataclass(frozen=True)
class Shares:
    """The steps of the day's stages, each in one of four: to do on the ``day``, ``done`` already, done
    ``before`` the day by the plan, and those with a day of their ``own`` after it."""

    day: tuple[Outline, ...] = ()
    done: tuple[Outline, ...] = ()
    before: tuple[Outline, ...] = ()
    own: tuple[Outline, ...] = ()


def share_out(
    plan: Results, asked: Asked, stages: Stages, own_minutes: float, numbers: range
) -> Shares:
    """Shares the steps of the stages with these numbers out, each list in the order of the numbers."""
    found = {one.key: one for number in numbers for one in asked.outlines(number)}
    done = _done(plan, stages, asked, found)
    before = (_sealed(plan, found) | _planned_before(plan, found)) - done
    left = {key: one for key, one in found.items() if key not in done and key not in before}
    own = _own_day(left, own_minutes)
    return Shares(
        day=tuple(one for key, one in left.items() if key not in own),
        done=tuple(found[key] for key in found if key in done),
        before=tuple(found[key] for key in found if key in before),
        own=tuple(found[key] for key in found if key in own),
    )


def task_of(
    one: Outline, within: Mapping[str, object] | set[str], people: tuple[str, ...] = ()
) -> Task:
    """A step as a task for one of ``people`` that waits for those steps before it that are ``within``."""
    after = tuple(key for key in one.after if key in within)
    attended, alone = one.entry.attended, one.entry.alone
    return Task(one.key, *one.minutes, attended=attended, after=after, people=people, alone=alone)


def _done(plan: Results, stages: Stages, asked: Asked, found: Mapping[str, Outline]) -> set[str]:
    """The keys of the steps that are done, by the gates and the answers."""
    signed = {stage.number for stage in stages.stages if stage.gate.state == GateState.SIGNED}
    done = {key for key, one in found.items() if one.stage in signed}
    if not any(answer.state in SAID for answer in plan.facts.answers):
        return done
    checks = stages.checks
    silent: set[str] = set()
    for key, one in found.items():
        settled = [checks[name] for name in asked.settled(one) if name in checks]
        if not settled:
            silent.add(key)
        elif all(check.state in SAID for check in settled):
            done.add(key)
    left = list(done)
    while left:
        for key in found[left.pop()].after:
            if key in silent and key not in done:
                done.add(key)
                left.append(key)
    return done


def _sealed(plan: Results, found: Mapping[str, Outline]) -> set[str]:
    """The keys of the steps that must be done for the images that are sealed before the day."""
    day = plan.facts.site.on_site_date
    early = {
        image.id
        for image in plan.facts.images
        if image.sealed_on is not None and (day is None or image.sealed_on < day)
    }
    sealing = [
        key
        for key, one in found.items()
        if one.entry.key in SEALING and one.record is not None and one.record.id in early
    ]
    return with_before(sealing, found)


def _planned_before(plan: Results, found: Mapping[str, Outline]) -> set[str]:
    """The keys of the steps that the site's plans of steps put before the day."""
    early = {one.step for one in plan.facts.step_plans if one.before_day}
    if early:
        return with_before([key for key, one in found.items() if one.entry.key in early], found)
    return set()


def with_before(keys: Iterable[str], found: Mapping[str, Outline]) -> set[str]:
    """The keys and all that must come before them."""
    wanted: set[str] = set()
    left = [key for key in keys if key in found]
    while left:
        key = left.pop()
        if key not in wanted:
            wanted.add(key)
            left += [other for other in found[key].after if other in found]
    return wanted


def _own_day(left: Mapping[str, Outline], minutes: float) -> set[str]:
    """The keys of long waits that nothing of the day waits for but other such waits."""
    long = {key for key, one in left.items() if not one.attended and one.minutes[1] >= minutes}
    if long:
        return long - with_before((key for key in left if key not in long), left)
    return long
