"""Answers: which one counts, and the rules about giving one."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterable

from planner.facts import Answer
from planner.stages.results import STATES, SiteCheck

_EARLIEST = dt.datetime.min.replace(tzinfo=dt.UTC)


def moment(at: dt.datetime | None) -> dt.datetime:
    """A moment that can be compared with any other: unknown is earliest, one without a zone is UTC."""
    if at is None:
        return _EARLIEST
    return at if at.tzinfo else at.replace(tzinfo=dt.UTC)


def newest(answers: Iterable[Answer]) -> dict[str, Answer]:
    """The newest answer to each check, by the check's key; of equal moments the later in the list.

    An answer in a state that is not one of the five counts as open.
    """
    found: dict[str, Answer] = {}
    for answer in answers:
        if answer.state not in STATES:
            answer = dataclasses.replace(answer, state="open")
        before = found.get(answer.check)
        if before is None or moment(answer.at) >= moment(before.at):
            found[answer.check] = answer
    return found


def refusal(check: SiteCheck, state: str, proof: str, role: str, live: bool) -> str:
    """Why this answer may not be given, or "".

    ``role`` is the member's at this customer: reader, editor, lead. A reader answers nothing. Proven
    needs what was looked at, failed what was seen, excused a reason and on a live site a lead. On
    trust may always be said: on a live site it opens no gate.
    """
    if state not in STATES:
        return "That is not one of the five answers."
    if role not in ("editor", "lead"):
        return "A reader may look, but not answer."
    if check.who == "lead" and role != "lead":
        return "Only a lead may answer this check."
    if state == "excused" and live and role != "lead":
        return "On a live site only a lead may excuse a check."
    missing = {
        "proven": "Say what you looked at and what it showed: proven needs a proof.",
        "failed": "Say what you saw: the next person has to start from it.",
        "excused": "Give the reason: why it does not apply here, or why it will be done without.",
    }
    return "" if proof.strip() else missing.get(state, "")


def after_purpose_change(answers: Iterable[Answer]) -> tuple[Answer, ...]:
    """The answers that are open again once a trial turns live: every newest one that was on trust."""
    return tuple(answer for answer in newest(answers).values() if answer.state == "trust")
