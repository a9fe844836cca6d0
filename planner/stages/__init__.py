"""Stages: which checks and steps a site needs, chosen by its facts, with their answers and gates."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping

from planner.record.facts import Answer, SiteFacts
from planner.stages import answers, gates
from planner.stages.choosing import Chooser
from planner.stages.entries import STAGES
from planner.stages.reading import read, validate
from planner.stages.results import Gate, SiteCheck, SiteStep, Stage, Stages


def work_out(facts: SiteFacts, asked: Chooser) -> Stages:
    """The eight stages of a site: checks with answers, steps in order, gates. Never raises on facts."""
    given = answers.newest(facts.answers)
    checks = [_answered(asked.checks(stage.number), given) for stage in STAGES]
    of_gates = gates.work_out(facts, checks)
    found = tuple(
        Stage(one.number, one.key, one.name, one.purpose, of_stage, gate, asked.steps)
        for one, of_stage, gate in zip(STAGES, checks, of_gates, strict=True)
    )
    applying = {check.key for of_stage in checks for check in of_stage}
    return Stages(found, tuple(asked.gone(given, applying)))


def _answered(checks: tuple[SiteCheck, ...], given: Mapping[str, Answer]) -> tuple[SiteCheck, ...]:
    """The checks with the answers that were given to them."""
    return tuple(
        dataclasses.replace(check, answer=given[check.key]) if check.key in given else check
        for check in checks
    )


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
