"""Stages: which checks and steps a site needs, chosen by its facts, with their answers and gates."""

from __future__ import annotations

from planner.engine.results import Results
from planner.stages import answers, gates
from planner.stages.choosing import Chooser
from planner.stages.entries import STAGES
from planner.stages.own import book_for
from planner.stages.reading import read, validate
from planner.stages.results import Gate, SiteCheck, SiteStep, Stage, Stages


def work_out(plan: Results) -> Stages:
    """The eight stages of a site: checks with answers, steps in order, gates. Never raises on facts."""
    given = answers.newest(plan.facts.answers)
    chooser = Chooser(plan, book_for(plan.facts, plan.numbers), given)
    checks = [tuple(chooser.checks(stage.number)) for stage in STAGES]
    of_gates = gates.work_out(plan.facts, checks)
    found = tuple(
        Stage(one.number, one.key, one.name, one.purpose, of_stage, gate, chooser.steps)
        for one, of_stage, gate in zip(STAGES, checks, of_gates, strict=True)
    )
    applying = {check.key for of_stage in checks for check in of_stage}
    return Stages(found, tuple(chooser.gone(applying)))


__all__ = [
    "Gate",
    "SiteCheck",
    "SiteStep",
    "Stage",
    "Stages",
    "read",
    "validate",
    "work_out",
]
