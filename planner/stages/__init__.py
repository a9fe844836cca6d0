"""Stages: which checks and steps a site needs, chosen by its facts, with their answers and gates."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.stages import answers, gates
from planner.stages.choosing import Chooser
from planner.stages.entries import STAGES
from planner.stages.reading import read, validate
from planner.stages.results import STATES, Gate, SiteCheck, SiteStep, Stage, Stages

if TYPE_CHECKING:
    from planner.plan import Plan


def work_out(plan: Plan) -> Stages:
    """The eight stages of a site: checks with answers, steps in order, gates. Never raises on facts."""
    given = answers.newest(plan.facts.answers)
    chooser = Chooser(plan, read(), given)
    checks = [tuple(chooser.checks(stage.number)) for stage in STAGES]
    found = []
    for stage, of_stage, gate in zip(STAGES, checks, gates.work_out(plan.facts, checks), strict=True):
        steps = tuple(chooser.steps(stage.number))
        found.append(
            Stage(stage.number, stage.key, stage.name, stage.purpose, of_stage, steps, gate, _sheet(of_stage, steps))
        )
    applying = {check.key for of_stage in checks for check in of_stage}
    return Stages(tuple(found), tuple(chooser.gone(applying)))


def _sheet(checks: tuple[SiteCheck, ...], steps: tuple[SiteStep, ...]) -> tuple[SiteCheck | SiteStep, ...]:
    """The run sheet: each step, then the checks it settles, in the order of their numbers."""
    return tuple(sorted((*steps, *checks), key=lambda one: _place(one.number)))


def _place(number: str) -> tuple[int, int, str]:
    digits = number.partition(".")[2].rstrip("abcdefghijklmnopqrstuvwxyz")
    letters = number.partition(".")[2][len(digits) :]
    return int(digits), len(letters), letters


__all__ = ["STATES", "Gate", "SiteCheck", "SiteStep", "Stage", "Stages", "read", "validate", "work_out"]
