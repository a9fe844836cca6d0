"""Findings about the morning: people who wait although standby could be larger, or do not and it could be smaller.

They rest on the simulation of :mod:`planner.engine.surge`, not on the formula: it knows of build slots, of
hosts that slow down and of the most that may run. So that every page can afford it they take a *glance*:
fewer mornings on a large site (all of them on a small one), kept until one of its numbers changes.
What few mornings leave in doubt is not raised: a share counts as too large when it is so by two standard errors.

A template that keeps its desktops is not spoken of: only its first morning would be like this.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from planner.engine.placement.capacity import known
from planner.engine.surge import Course, TemplateMorning, Waits
from planner.record import units
from planner.record.choices import REBUILT
from planner.record.facts import Ref, Template
from planner.review.base import Hit, Mend, rule
from planner.review.words import and_list, chance_words
from planner.stages.staged import Staged

SURE = 2.0  # standard errors
MANY = 2.0  # times the share that may wait: from here on many do
GENEROUS, SPARE = 2.0, 2  # standby over so many times what is needed, and so many more, is far more


def _courses(plan: Staged) -> tuple[Course | None, Course | None]:
    found = plan.surge.glance
    return (found[0] if found else None), (found[1] if len(found) > 1 else None)


def _mornings(
    plan: Staged,
) -> Iterator[tuple[Template, TemplateMorning, Waits, TemplateMorning | None]]:
    """Templates that give back their desktops and whose standby is known: the morning, and it with a host down."""
    there, down = _courses(plan)
    for template in plan.facts.templates:
        if there:
            one = there.of(template.id)
        else:
            one = None
        if one and one.waits and template.reset_rule in REBUILT:
            yield template, one, one.waits, down.of(template.id) if down else None


def _waits_too_long(plan: Staged, waits: Waits, times: float = 1.0) -> bool:
    """Whether surely more than the allowed share waits too long, or so many ``times`` that share."""
    return waits.over_share - SURE * waits.over_error > times * (1 - plan.surge.target_share)


def _words(plan: Staged, waits: Waits) -> dict[str, Any]:
    return {
        "over": units.show(waits.over, 0 if waits.over >= 9.5 else 1),
        "sign_ins": units.show(waits.sign_ins, 0),
        "share": chance_words(waits.over_share),
        "target": units.show_seconds(plan.surge.target_seconds),
        "aim": units.show(100 * plan.surge.target_share),
        "late": "finds no desktop at all"
        if math.isinf(waits.p95)
        else f"waits {units.show_seconds(waits.p95)} or more",
    }


@rule("morning-standby-small")
def standby_small(plan: Staged) -> Iterator[Hit]:
    """A standby of nought has a finding of its own where desktops are rebuilt."""
    for template, one, waits, down in _mornings(plan):
        if not one.standby or one.smallest is None or not _waits_too_long(plan, waits):
            continue
        if down:
            with_down = down.smallest
        else:
            with_down = None
        if plan.surge.down and with_down and with_down > one.smallest:
            more = f" With {plan.surge.down.name} down it takes {with_down}."
        else:
            more = ""
        yield Hit(
            template.ref.at("standby"),
            mend=Mend(template.ref, (("standby", str(one.smallest)),)),
            template=template.label,
            standby=one.standby,
            smallest=one.smallest,
            more=more,
            **_words(plan, waits),
        )


@rule("morning-standby-not-enough")
def standby_not_enough(plan: Staged) -> Iterator[Hit]:
    """Not even all of them on standby help, though no more people come at once than may run: desktops that
    come back are not rebuilt in time."""
    for template, one, waits, _ in _mornings(plan):
        need = plan.concurrency.of(template.id)
        if one.smallest is not None or (need and need.short) or not _waits_too_long(plan, waits):
            continue
        yield Hit(
            template.ref.at("most"),
            also=(template.ref.at("standby"),),
            template=template.label,
            most=one.most,
            build=units.show_seconds(plan.numbers["desktop.build-seconds"]),
            **_words(plan, waits),
        )


@rule("morning-host-down")
def host_down(plan: Staged) -> Iterator[Hit]:
    """Many wait with a host down though its desktops find room elsewhere, and few wait with every host there."""
    host = plan.surge.down
    if host:
        without = plan.placement.down(host.host_id)
    else:
        without = None
    if host is None or without is None or not without.fits:
        return
    worse = [
        (template, down)
        for template, _, waits, down in _mornings(plan)
        if not _waits_too_long(plan, waits)
        and down
        and down.waits
        and _waits_too_long(plan, down.waits, MANY)
    ]
    if worse:
        needed = [
            f"{down.smallest} of {template.label}"
            for template, down in worse
            if down.smallest is not None
        ]
        over = sum(down.waits.over for _, down in worse if down.waits)
        yield Hit(
            Ref("host", host.host_id),
            also=tuple(template.ref.at("standby") for template, _ in worse),
            host=host.name,
            over=units.show(over, 0 if over >= 9.5 else 1),
            who=and_list([template.label for template, _ in worse]),
            target=units.show_seconds(plan.surge.target_seconds),
            needed=f"With a standby of {and_list(needed)} they would not."
            if needed
            else "No standby helps.",
        )


@rule("morning-standby-generous")
def standby_generous(plan: Staged) -> Iterator[Hit]:
    """Far more stand by than the target takes, even with a host down; one more is left where that is an estimate."""
    for template, one, _, down in _mornings(plan):
        needed = [
            None if case.smallest is None else case.smallest + (not case.sure)
            for case in (one, down)
            if case
        ]
        if None in needed or one.standby is None:
            continue
        enough = max(1, *(count or 0 for count in needed))
        idle = one.standby - enough
        if one.standby <= GENEROUS * enough or idle < SPARE:
            continue
        gib = known(template.memory_gib)
        yield Hit(
            template.ref.at("standby"),
            mend=Mend(template.ref, (("standby", str(enough)),)),
            template=template.label,
            standby=one.standby,
            enough=enough,
            aim=units.show(100 * plan.surge.target_share),
            target=units.show_seconds(plan.surge.target_seconds),
            holds=" also with a host down" if down else "",
            memory=f", and hold {units.show(idle * gib)} GiB of memory" if gib else "",
            idle=idle,
        )
