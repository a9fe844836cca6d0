"""Gates: what stands in the way of each, and whether a lead may sign.

A live gate opens when every check is proven or excused; a trial gate also accepts on trust. An open
or a failed check shuts either. Gates are signed in order: gate 5 opens only when gate 4 is signed and
stands, because a stage rests on the one before. A gate that reopens does not take the later ones with
it: each stands by its own checks, but none after it can be signed until it stands again.
"""

from __future__ import annotations

from collections.abc import Sequence

from planner.record.facts import Signature, SiteFacts
from planner.stages.answers import moment
from planner.stages.results import Gate, SiteCheck


def stands_in_way(check: SiteCheck, live: bool) -> str:
    """Why a check keeps its gate shut, in words; "" when it does not."""
    if check.moved:
        return "answered for another value"
    if check.state == "open":
        return "open again since the site turned live" if check.answer.reopened else "open"
    if check.state == "failed":
        return "failed"
    return "on trust, on a live site" if check.state == "trust" and live else ""


def work_out(facts: SiteFacts, checks: Sequence[Sequence[SiteCheck]]) -> tuple[Gate, ...]:
    """The gates, from each stage's checks in order."""
    signatures: dict[int, Signature] = {}
    for signature in sorted(facts.signatures, key=lambda one: moment(one.at)):
        signatures[signature.stage] = signature
    gates: list[Gate] = []
    for number, found in enumerate(checks, start=1):
        before = next((gate for gate in gates if gate.state != "signed"), None)
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
        state, reason = "reopened", _why_reopened(blocking, signature)
    elif signature:
        state, reason = "signed", _why_signed(checks, signature)
    elif blocking:
        state, reason = "shut", _why_shut(blocking, live)
    elif before:
        state, reason = (
            "shut",
            f"Gate {before.stage} comes first: it is not signed, or has reopened.",
        )
    else:
        state, reason = "open", "Nothing stands in the way: a lead may sign."
    return Gate(
        stage,
        state,
        blocking,
        tuple(check for check in checks if check.state == "trust"),
        tuple(check for check in checks if check.state == "excused"),
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
    counts = dict.fromkeys(REOPENED, 0)
    for check in blocking:
        counts[_what_reopened(check, signature)] += 1
    reasons = [REOPENED[why].format(_checks(count)) for why, count in counts.items() if count]
    return f"Signed by {signature.by or 'nobody named'}, and open again: {'; '.join(reasons)}."


REOPENED = {
    "came": "the plan brought {} that nobody signed for",
    "moved": "{} answered for a value that the plan has changed since",
    "turned": "{} held on trust while this was a trial",
    "excused": "{} excused while this was a trial, and not by a lead",
    "changed": "{} changed answer since",
}


def _what_reopened(check: SiteCheck, signature: Signature) -> str:
    if check.key not in signature.checks:
        return "came"
    if check.moved:
        return "moved"
    if check.answer.reopened:
        return "excused" if check.key in signature.excused else "turned"
    return "turned" if check.state == "trust" and check.key in signature.on_trust else "changed"


def _why_signed(checks: Sequence[SiteCheck], signature: Signature) -> str:
    """A signature holds while nothing is in its way; what it did not name is said beside it."""
    unnamed = [
        check
        for check in checks
        if check.key not in signature.checks
        or (check.state == "trust" and check.key not in signature.on_trust)
        or (check.state == "excused" and check.key not in signature.excused)
    ]
    since = (
        f" {_checks(len(unnamed)).capitalize()} came or changed answer since." if unnamed else ""
    )
    return f"Signed by {signature.by or 'nobody named'}.{since}"


def _checks(count: int) -> str:
    return f"{count} check{'s' if count != 1 else ''}"
