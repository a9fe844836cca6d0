"""The acceptance sheet for pilot people: what they are asked, in plain words, and which check that answers."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from planner.catalogue import files as catalogue
from planner.catalogue.files import CatalogueError
from planner.record.choices import AnswerState, Choice
from planner.record.facts import ref_of
from planner.stages.reading import read
from planner.stages.results import AskedBy
from planner.stages.staged import Staged

STAGE = 7


class PilotState(Choice):
    """What a pilot person found of one thing."""

    WORKS = "works"
    FAILS = "fails"


# What a person's result says of the check.
STATES: dict[str, AnswerState] = {
    PilotState.WORKS: AnswerState.PROVEN,
    PilotState.FAILS: AnswerState.FAILED,
}


@dataclass(frozen=True, slots=True)
class Question:
    """``check`` is the full key of the check it answers; ``about`` names whose it is where there are several."""

    check: str
    number: str
    about: str
    ask: str
    good: str


@functools.cache
def listed() -> dict[str, dict[str, str]]:
    """The questions by the key of their check. Raises CatalogueError when one is not whole."""
    found = catalogue.load("pilot")
    for key, entry in found.items():
        check = read().checks.get(key)
        if check is None or check.stage != STAGE or set(entry) != {"ask", "good"}:
            raise CatalogueError(
                f"pilot: {key}: no such check of stage {STAGE}, or not just ask and good"
            )
    return found


def questions(plan: Staged) -> list[Question]:
    """What pilot people of this site are asked, in the order of its checks."""
    stage = plan.stages.stage(STAGE)
    entry = plan.facts.service.entry_name or "the name you were told"
    found = []
    for check in stage.checks if stage else ():
        words = listed().get(check.key.partition("@")[0])
        if words and check.origin != AskedBy.OWN:
            ask = words["ask"].replace("{entry}", entry)
            found.append(
                Question(check.key, check.number, _about(plan, check.key), ask, words["good"])
            )
    return found


def _about(plan: Staged, key: str) -> str:
    """The name of the record a check is asked for each of, "" where there is none."""
    ref = ref_of(key.partition("@")[2])
    if ref:
        record = plan.facts.find(ref)
    else:
        record = None
    if record:
        return record.label
    return ""
