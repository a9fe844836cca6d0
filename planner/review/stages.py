"""Findings about the stages: answers that keep a gate shut, gates that opened again, days that come near; own
steps and plans of steps that cannot be as they are written.

They point at the stage (``stage-4``), a check in the finding's twin, or at the record of 10.9 or 10.10.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner.record import chapters
from planner.record.choices import AnswerState
from planner.record.facts import HouseStep, Ref
from planner.review.base import Hit, rule
from planner.stages import own
from planner.stages.day_words import length_words
from planner.stages.gates import stands_in_way
from planner.stages.reading import read
from planner.stages.results import AskedBy, GateState
from planner.stages.staged import Staged
from planner.stages.states import listed

GROUND = 2  # the last stage that is others' work and must be done before the on-site day
PILOT = 7  # the last stage before people depend on it


def _at(stage: int) -> Ref:
    return Ref("stage", stage)


def _checks(count: int) -> str:
    if count == 1:
        return f"{count} check is"
    return f"{count} checks are"


@rule("checks-on-trust")
def on_trust(plan: Staged) -> Iterator[Hit]:
    for stage in plan.stages.stages:
        count = stage.counts[AnswerState.TRUST]
        if count:
            first = next(check for check in stage.checks if check.state == AnswerState.TRUST)
            name = f"{stage.number} {stage.name}"
            yield Hit(
                _at(stage.number),
                stage=name,
                checks=_checks(count),
                number=first.number,
                check=first.title,
            )


@rule("check-failed")
def failed(plan: Staged) -> Iterator[Hit]:
    for check in plan.stages.checks.values():
        if check.state == AnswerState.FAILED:
            at, seen = (
                _at(check.stage),
                check.answer.proof.strip() or "Nobody wrote down what was seen.",
            )
            yield Hit(at, twin=check.key, number=check.number, check=check.title, seen=seen)


@rule("gate-reopened")
def reopened(plan: Staged) -> Iterator[Hit]:
    for stage in plan.stages.stages:
        if stage.gate.state == GateState.REOPENED:
            yield Hit(
                _at(stage.number), stage=f"{stage.number} {stage.name}", reason=stage.gate.reason
            )


@rule("ground-not-ready")
def ground_not_ready(plan: Staged) -> Iterator[Hit]:
    """The on-site day is near, and survey or ground still has checks nobody answered or that failed."""
    day, today = plan.facts.site.on_site_date, plan.facts.today
    if day is None or not 0 <= (day - today).days <= plan.numbers["stages.days-before-on-site"]:
        return
    for stage in plan.stages.stages[:GROUND]:
        count = stage.counts[AnswerState.OPEN] + stage.counts[AnswerState.FAILED]
        if count:
            when = {0: "today", 1: "tomorrow"}.get(
                (day - today).days, f"in {(day - today).days} days"
            )
            yield Hit(
                _at(stage.number),
                stage=f"{stage.number} {stage.name}",
                checks=_checks(count),
                day=chapters.show_date(day),
                when=when,
            )


@rule("live-before-gates")
def live_before_gates(plan: Staged) -> Iterator[Hit]:
    """Go-live has come, and a gate up to the pilot's is not signed."""
    day = plan.facts.site.go_live_date
    current = plan.stages.current
    if day and day <= plan.facts.today and current and current.number <= PILOT:
        yield Hit(
            _at(current.number),
            day=chapters.show_date(day),
            stage=f"{current.number} {current.name}",
        )


@rule("live-not-ready")
def live_not_ready(plan: Staged) -> Iterator[Hit]:
    """Go-live has come, and what must be so before anybody depends on the site is not."""
    day = plan.facts.site.go_live_date
    if not day or day > plan.facts.today:
        return
    wanted = {one.key for one in read().checks.values() if one.shows and listed()[one.shows].live}
    asked = (check for key, check in plan.stages.checks.items() if key.partition("@")[0] in wanted)
    missing = [check for check in asked if stands_in_way(check, plan.facts.site.live)]
    for check in missing[:1]:
        yield Hit(
            _at(check.stage),
            day=chapters.show_date(day),
            number=check.number,
            check=check.title,
            checks=_checks(len(missing)),
        )


# -- own steps and plans of steps ----------------------------------------------------------------


@rule("own-step-order")
def own_step_order(plan: Staged) -> Iterator[Hit]:
    """An own step of this site wants an order that cannot hold. The house's are told on the house's page."""
    for wish in own.impossible(plan.facts):
        key, other, one = wish
        if isinstance(one, HouseStep):
            continue
        mine = own.key_of(one, AskedBy.OWN)
        if key != mine:
            field = "before"
        elif other in one.after:
            field = "after"
        else:
            field = "after_own"
        if key == mine:
            twin = other
        else:
            twin = key
        waits, first, why = own.told(wish, plan.facts)
        yield Hit(one.ref.at(field), twin=twin, step=one.label, waits=waits, first=first, why=why)


@rule("own-step-untimed")
def own_step_untimed(plan: Staged) -> Iterator[Hit]:
    """An own step is laid out on the on-site day, and nobody gave it a time."""
    date = plan.facts.site.on_site_date
    if date is not None and date < plan.facts.today:
        return
    untimed = {one.ref: one for one in plan.facts.own_steps if own.three_of(one) is None}
    if not untimed:
        return
    for outline in plan.day.shares.day:
        if outline.entry.ref:
            one = untimed.get(outline.entry.ref)
        else:
            one = None
        if one is not None:
            usual = length_words(outline.minutes[1])
            yield Hit(
                one.ref.at("likely_minutes"), number=outline.number, step=one.label, usual=usual
            )


@rule("stepplan-unknown-step")
def stepplan_unknown_step(plan: Staged) -> Iterator[Hit]:
    """A plan of a step names a step that neither the catalogue nor the house has any more."""
    for one in plan.facts.step_plans:
        if one.step and one.step not in own.named(plan.facts):
            yield Hit(one.ref.at("step"), step=one.step)


@rule("stepplan-twice")
def stepplan_twice(plan: Staged) -> Iterator[Hit]:
    """Two plans for one step: told once at each but the first."""
    first: dict[str, Ref] = {}
    for one in plan.facts.step_plans:
        if one.step and first.setdefault(one.step, one.ref) != one.ref:
            words = own.words_of(one.step, plan.facts)
            yield Hit(one.ref.at("step"), also=(first[one.step].at("step"),), step=words)
