"""Gates: what stands in the way of each, and whether a lead may sign.

A live gate opens when every check is proven or excused; a trial gate also accepts on trust. An open
or a failed check shuts either. Gates are signed in order: gate 5 opens only when gate 4 is signed and
stands, because a stage rests on the one before. A gate that reopens does not take the later ones with
it: each stands by its own checks, but none after it can be signed until it stands again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from planner.record.choices import AnswerState, Choice
from planner.record.facts import Signature, SiteFacts
from planner.stages.answers import moment
from planner.stages.results import Gate, GateState, SiteCheck


class Reopened(Choice):
    """What opened a signed gate again; the words are told of so many checks."""

    CAME = "came", "the plan brought {} that nobody signed for"
    MOVED = "moved", "{} answered for a value that the plan has changed since"
    TURNED = "turned", "{} held on trust while this was a trial"
    EXCUSED = "excused", "{} excused while this was a trial, and not by a lead"
    CHANGED = "changed", "{} changed answer since"


def stands_in_way(check: SiteCheck, live: bool) -> str:
    """Why a check keeps its gate shut, in words; "" when it does not."""
    if check.moved:
        return "answered for another value"
    if check.state == AnswerState.OPEN:
        if check.answer.reopened:
            return "open again since the site turned live"
        return "open"
    if check.state == AnswerState.FAILED:
        return "failed"
    if check.state == AnswerState.TRUST and live:
        return "on trust, on a live site"
    return ""


def work_out(facts: SiteFacts, checks: Sequence[Sequence[SiteCheck]]) -> tuple[Gate, ...]:
    """The gates, from each stage's checks in order."""
    signatures: dict[int, Signature] = {}
    for signature in sorted(facts.signatures, key=lambda one: moment(one.at)):
        signatures[signature.stage] = signature
    gates: list[Gate] = []
    for number, found in enumerate(checks, start=1):
        before = next((gate for gate in gates if gate.state != GateState.SIGNED), None)
        gates.append(_gate(number, found, signatures.get(number), before, facts.site.live))
    return tuple(gates)


def _gate(
    stage: int,
    checks: Sequence[SiteCheck],
    signature: Signature | None,
    before: Gate | None,
    live: bool,
) -> Gate:
    blocking = tuple(check for check in checks if stands_in_way(check, live))
    if signature and blocking:
        state, reason = GateState.REOPENED, _why_reopened(blocking, signature)
    elif signature:
        state, reason = GateState.SIGNED, _why_signed(checks, signature)
    elif blocking:
        state, reason = GateState.SHUT, _why_shut(blocking, live)
    elif before:
        state, reason = (
            GateState.SHUT,
            f"Gate {before.stage} comes first: it is not signed, or has reopened.",
        )
    else:
        state, reason = GateState.OPEN, "Nothing stands in the way: a lead may sign."
    return Gate(
        stage,
        state,
        blocking,
        tuple(check for check in checks if check.state == AnswerState.TRUST),
        tuple(check for check in checks if check.state == AnswerState.EXCUSED),
        signature,
        reason,
    )


def _why_shut(blocking: Sequence[SiteCheck], live: bool) -> str:
    counts: dict[str, int] = {}
    for check in blocking:
        why = stands_in_way(check, live)
        counts[why] = counts.get(why, 0) + 1
    return f"In the way: {'; '.join(f'{count} {why}' for why, count in counts.items())}."


def _why_reopened(blocking: Sequence[SiteCheck], signature: Signature) -> str:
    """What reopens a gate: a check that came, a value that moved, the turn to live, an answer that changed."""
    counts = Counter(_what_reopened(check, signature) for check in blocking)
    reasons = [why.words.format(_checks(counts[why])) for why in Reopened if counts[why]]
    return f"Signed by {signature.by or 'nobody named'}, and open again: {'; '.join(reasons)}."


def _what_reopened(check: SiteCheck, signature: Signature) -> Reopened:
    if check.key not in signature.checks:
        return Reopened.CAME
    if check.moved:
        return Reopened.MOVED
    if check.answer.reopened:
        if check.key in signature.excused:
            return Reopened.EXCUSED
        return Reopened.TURNED
    if check.state == AnswerState.TRUST and check.key in signature.on_trust:
        return Reopened.TURNED
    return Reopened.CHANGED


def _why_signed(checks: Sequence[SiteCheck], signature: Signature) -> str:
    """A signature holds while nothing is in its way; what it did not name is said beside it."""
    unnamed = [
        check
        for check in checks
        if check.key not in signature.checks
        or (check.state == AnswerState.TRUST and check.key not in signature.on_trust)
        or (check.state == AnswerState.EXCUSED and check.key not in signature.excused)
    ]
    if unnamed:
        since = f" {_checks(len(unnamed)).capitalize()} came or changed answer since."
    else:
        since = ""
    return f"Signed by {signature.by or 'nobody named'}.{since}"


def _checks(count: int) -> str:
    return f"{count} check{'s' if count != 1 else ''}"
