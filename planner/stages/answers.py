"""Answers: which one counts, and the rules about giving one."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated

from planner.record import units
from planner.record.choices import Answerer, AnswerState, Role, Wanted
from planner.record.facts import Answer
from planner.stages.results import SiteCheck

_EARLIEST = dt.datetime.min.replace(tzinfo=dt.UTC)


def moment(at: dt.datetime | None) -> dt.datetime:
    """A moment that can be compared with any other: unknown is earliest, one without a zone is UTC."""
    if at is None:
        return _EARLIEST
    if at.tzinfo:
        return at
    return at.replace(tzinfo=dt.UTC)


def newest(answers: Iterable[Answer]) -> dict[str, Answer]:
    """The newest answer to each check, by the check's key; of equal moments the later in the list.

    An answer in a state that is not one of the five counts as open.
    """
    found: dict[str, Answer] = {}
    for answer in answers:
        if not AnswerState.holds(answer.state):
            answer = dataclasses.replace(answer, state=AnswerState.OPEN)
        before = found.get(answer.check)
        if before is None or moment(answer.at) >= moment(before.at):
            found[answer.check] = answer
    return found


@dataclass(frozen=True, slots=True)
class Given:
    """What somebody gives with an answer: a note, a value as it was typed, how many photos or files, and
    how many results of probes."""

    note: str = ""
    measured: str = ""
    files: int = 0
    probes: int = 0

    @property
    def anything(self) -> bool:
        return bool(self.note.strip() or self.measured.strip() or self.files or self.probes)


def refusal(
    check: SiteCheck, state: str, given: Given, role: Annotated[str, Role], live: bool
) -> str:
    """Why this answer may not be given, or "".

    ``role`` is the member's at this customer: reader, editor, lead. A reader answers nothing. Proven
    needs the proof that the check wants, failed what was seen, excused a reason and on a live site a lead.
    On trust may always be said: on a live site it opens no gate.
    """
    if not AnswerState.holds(state):
        return "That is not one of the five answers."
    if role not in (Role.EDITOR, Role.LEAD):
        return "A reader may look, but not answer."
    if check.who == Answerer.LEAD and role != Role.LEAD:
        return "Only a lead may answer this check."
    if state == AnswerState.EXCUSED and live and role != Role.LEAD:
        return "On a live site only a lead may excuse a check."
    if state == AnswerState.PROVEN:
        return _unproven(check, given)
    if state == AnswerState.FAILED and not given.anything:
        return "Say what you saw: the next person has to start from it."
    if state == AnswerState.EXCUSED and not given.note.strip():
        return "Give the reason: why it does not apply here, or why it will be done without."
    return ""


def hints(wants: str, live: bool) -> dict[str, str]:
    """What each of the five answers takes, or comes to, in a few words; ``wants`` is the proof that the check wants."""
    takes: dict[str, str] = {
        Wanted.PHOTO: "add a photo or a file",
        Wanted.VALUE: "give the value read",
        Wanted.PROBE: "say what answered",
    }
    return {
        AnswerState.PROVEN: takes.get(wants, "say what you looked at"),
        AnswerState.TRUST: "not enough for a live gate" if live else "good enough for a trial",
        AnswerState.FAILED: "say what you saw",
        AnswerState.EXCUSED: "a lead's reason" if live else "a reason",
        AnswerState.OPEN: "take the answer back",
    }


def lacks(check: SiteCheck) -> str:
    """What somebody is told who calls a check proven without the proof that it wants."""
    if check.wants == Wanted.PHOTO:
        return "Add a photo or a file: proven needs one here."
    if check.wants == Wanted.VALUE:
        if check.unit:
            unit = f", in {check.unit}"
        else:
            unit = ""
        return f"Give the value that you read{unit}: proven needs it."
    if check.wants == Wanted.PROBE:
        return (
            "Say what answered and what did not: proven needs what was read, or a probe's result."
        )
    return "Say what you looked at and what it showed: proven needs a proof."


def _unproven(check: SiteCheck, given: Given) -> str:
    """What is missing to call it proven. A probe's result may also be read by a person and written down."""
    measured = given.measured.strip()
    enough: dict[str, bool] = {
        Wanted.PHOTO: given.files > 0,
        Wanted.VALUE: bool(measured),
        Wanted.PROBE: given.anything,
        Wanted.NOTE: bool(given.note.strip()),
    }
    if not enough[check.wants]:
        return lacks(check)
    if check.wants != Wanted.VALUE:
        return ""
    if check.unit and number_in(check, measured) is None:
        return f"“{measured[:60]}” is not a number in {check.unit}. Give the number; the rest belongs into the note."
    if outside(check, measured):
        return f"“{measured[:60]}” is not {check.range_words}: that is failed, not proven."
    return ""


def number_in(check: SiteCheck, measured: str) -> float | None:
    """What was typed as a number in the check's unit, which may stand behind it; ``None`` when it is none."""
    text = measured.strip().casefold().removesuffix(check.unit.casefold()).strip().replace("−", "-")
    try:
        number, unit = units.parse_number(text.removeprefix("-"))
    except ValueError:
        return None
    if unit or not math.isfinite(number):
        return None
    if text.startswith("-"):
        return -number
    return number


def outside(check: SiteCheck, measured: str) -> bool:
    """A number that the check's range does not allow."""
    if check.unit:
        number = number_in(check, measured)
    else:
        number = None
    if number is None:
        return False
    return (check.low is not None and number < check.low) or (
        check.high is not None and number > check.high
    )


def opens_again_when_live(state: str, by_lead: bool) -> bool:
    """Whether a newest answer is open again once a trial turns live: on trust is not enough there, and an
    excusal takes a lead (``by_lead``: whoever gave it leads at this customer now)."""
    return state == AnswerState.TRUST or (state == AnswerState.EXCUSED and not by_lead)
