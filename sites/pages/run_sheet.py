"""What a run sheet shows, made ready from the plan, the answers and the steps: one line a step or check."""

from __future__ import annotations

import contextlib
import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Annotated

from django.urls import reverse
from django.utils import timezone

from planner.plan import Plan
from planner.record.choices import AnswerState
from planner.stages import SiteCheck, SiteStep, Stage, answers
from planner.stages.readiness import finished, unproven, waits_for
from planner.stages.results import SAID
from sites.actions.steps import lines_of
from sites.forms.stages import new_token
from sites.models import Answer, Proof, Site, StepDone
from sites.models.stages import StepState


@dataclass
class Line:
    """One step or check of a run sheet."""

    one: SiteCheck | SiteStep
    url: str
    state: Annotated[str, AnswerState] | StepState
    answer: Answer | None = None
    done: StepDone | None = None
    waits: tuple[SiteStep | SiteCheck, ...] = ()
    proofs: list[Proof] = field(default_factory=list)
    settled_by: list[SiteStep] = field(default_factory=list)
    place: int = 0
    live: bool = False

    @property
    def is_check(self) -> bool:
        return isinstance(self.one, SiteCheck)

    @property
    def over(self) -> bool:
        """Nothing is left to do here for now."""
        return self.state in (*SAID, StepState.DONE)

    @property
    def seen(self) -> int:
        """What a form on this line says it has seen."""
        if self.is_check:
            if self.answer:
                return self.answer.pk
            return 0
        if self.done:
            return self.done.edits
        return 0

    @property
    def hints(self) -> dict[str, str]:
        """What each answer takes here."""
        if isinstance(self.one, SiteCheck):
            return answers.hints(self.one.wants, self.live)
        return {}

    @property
    def lacks(self) -> str:
        """What is told to whoever calls it proven without proof."""
        if isinstance(self.one, SiteCheck):
            return answers.lacks(self.one)
        return ""

    @property
    def reopened_words(self) -> str:
        """Goes on after who answered when."""
        if self.answer and self.answer.reopened:
            return ", open again since the site turned live"
        return ""

    @property
    def step(self) -> str:
        """A step's state for people."""
        return StepState.words_of(self.state)

    @property
    def token(self) -> str:
        return new_token()


@dataclass
class RunSheet:
    """One stage's lines in their order."""

    stage: Stage
    lines: list[Line]

    @property
    def total(self) -> int:
        return len(self.lines)

    @property
    def over(self) -> int:
        return sum(line.over for line in self.lines)

    def line(self, kind: str, key: str) -> Line | None:
        return next(
            (one for one in self.lines if one.one.kind == kind and one.one.key == key), None
        )

    def beside(self, line: Line) -> tuple[Line | None, Line | None]:
        """The lines before and after."""
        at = line.place - 1
        return (self.lines[at - 1] if at else None), (
            self.lines[at + 1] if at + 1 < len(self.lines) else None
        )

    @property
    def next(self) -> Line | None:
        """The first line that somebody can do something about."""
        left = [line for line in self.lines if not line.over]
        return next(
            (line for line in left if line.state != StepState.BLOCKED), left[0] if left else None
        )


def make(site: Site, plan: Plan, stage: Stage) -> RunSheet:
    """The run sheet of a stage: three queries of its own, however long it is."""
    kept = lines_of(site)
    said = {key for key, line in kept.items() if line.done_at}
    over = finished(plan.stages, said)
    newest = {
        row.check_key: row
        for row in Answer.objects.filter(site=site, newest=True).select_related("by")
    }
    proofs: dict[int, list[Proof]] = {}
    for proof in Proof.objects.filter(site=site, answer__newest=True):
        proofs.setdefault(proof.answer_id, []).append(proof)
    settling: dict[str, list[SiteStep]] = {}
    for step in stage.steps:
        for key in step.settles:
            settling.setdefault(key, []).append(step)
    lines = []
    for place, one in enumerate(stage.sheet, start=1):
        url = reverse(
            "run-item", args=[site.customer.code, site.code, stage.number, one.kind, one.key]
        )
        if isinstance(one, SiteCheck):
            answer = newest.get(one.key)
            lines.append(
                Line(
                    one,
                    url,
                    one.state,
                    answer,
                    proofs=proofs.get(answer.pk, []) if answer else [],
                    settled_by=settling.get(one.key, []),
                    place=place,
                    live=plan.facts.site.live,
                )
            )
        else:
            waits = () if one.key in over else _waits(plan, one, over)
            lines.append(
                Line(
                    one,
                    url,
                    _state(kept.get(one.key), one.key in over, bool(waits)),
                    done=kept.get(one.key),
                    waits=waits,
                    place=place,
                )
            )
    return RunSheet(stage, lines)


def _waits(plan: Plan, step: SiteStep, over: set[str]) -> tuple[SiteStep | SiteCheck, ...]:
    """Why a step cannot start yet: steps that are not done, and proofs that whose steps are done still owe."""
    steps, checks = plan.stages.steps, plan.stages.checks
    first = waits_for(step, steps, over)
    told = {key for one in first for key in one.settles}
    owed = unproven(step, checks, plan.facts.site.live)
    return (*first, *(check for check in owed if check.key not in told))


def _state(line: StepDone | None, over: bool, waits: bool) -> StepState:
    if over:
        return StepState.DONE
    if line and line.started_at:
        return StepState.UNDER_WAY
    if waits:
        return StepState.BLOCKED
    return StepState.READY


def groups(sheet: RunSheet) -> list[tuple[Line | None, list[Line]]]:
    """Each step with the checks it settles, in the order of the numbers; checks that no step settles first."""
    found: dict[str, tuple[Line | None, list[Line]]] = {}
    alone: list[Line] = []
    for line in sheet.lines:
        if not line.is_check:
            found[line.one.key] = (line, [])
    for line in sheet.lines:
        if line.is_check:
            home = next((step.key for step in line.settled_by if step.key in found), None)
            (found[home][1] if home else alone).append(line)
    return [*([(None, alone)] if alone else []), *found.values()]


@contextlib.contextmanager
def local(site: Site) -> Iterator[str]:
    """Shows moments in the site's own time; gives the zone's name, as the page says it."""
    try:
        if site.time_zone:
            zone = zoneinfo.ZoneInfo(site.time_zone)
        else:
            zone = None
    except (KeyError, ValueError, OSError):
        zone = None
    with timezone.override(zone or zoneinfo.ZoneInfo("UTC")):
        yield site.time_zone if zone else "UTC"
