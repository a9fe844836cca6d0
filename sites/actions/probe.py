"""Answers that come from the probe: all that were taken, or none."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Mapping, Sequence

from django.db import transaction

from planner.papers.probe import Preview, Probe, Run, Verdict
from planner.papers.probe.preview import VerdictState
from planner.record.choices import Answerer, AnswerState, Role, Wanted
from planner.stages import SiteCheck
from sites.actions import proofs
from sites.actions.locking import hold
from sites.actions.stages import Overtaken, Refused, answer_check
from sites.forms import guard
from sites.forms.secrets import without_secrets
from sites.models import Answer, Person, Site
from sites.models.stages import ProofKind

MOST_PROOF = 4000


@dataclasses.dataclass(frozen=True)
class Taking:
    """One verdict that somebody takes; ``rest`` is how they looked at what the probe could not tell."""

    verdict: Verdict
    rest: str = ""

    @property
    def state(self) -> AnswerState:
        if self.verdict.state == VerdictState.FAILED:
            return AnswerState.FAILED
        return AnswerState.PROVEN

    @property
    def proof(self) -> str:
        told = without_secrets(self.verdict.evidence)
        if self.rest.strip():
            return f"{told}\nThe rest: {self.rest.strip()}"[:MOST_PROOF]
        return told[:MOST_PROOF]

    @property
    def measured(self) -> str:
        read = without_secrets(self.verdict.measured)
        return read or (self.rest.strip()[:300] if self.verdict.check.wants == Wanted.VALUE else "")


def why_not(verdict: Verdict, role: str) -> str:
    """Why somebody may not take a verdict, whatever it says; "" when they may."""
    if verdict.check.who == Answerer.LEAD and role != Role.LEAD:
        return "Only a lead may answer this check."
    return ""


def newest_answers(site: Site, preview: Preview) -> dict[str, int]:
    """The key of the newest answer to each check of a preview, 0 for none."""
    rows = Answer.objects.filter(site=site, newest=True, check_key__in=list(preview.by_check))
    return {**dict.fromkeys(preview.by_check, 0), **dict(rows.values_list("check_key", "pk"))}


def take_verdicts(
    *,
    by: Person,
    role: str,
    site: Site,
    probe: Probe,
    taken: Sequence[Taking],
    seen: Mapping[str, int],
    token: str,
) -> list[Answer]:
    """Answers each check that was taken, with the probe's evidence as proof and what was read kept beside it.

    ``seen`` is what the preview showed as the newest answer of each check. Raises :class:`Refused`: then nothing
    was answered; :class:`sites.actions.proofs.Unfit` when what was read cannot be kept. Sent twice with one
    ``token``, it answers once.
    """
    if not taken:
        raise Refused("Choose at least one check.")
    kept: dict[int, proofs.Taken] = {}
    for one in taken:
        for run in one.verdict.runs:
            if id(run) not in kept:
                kept[id(run)] = _as_proof(run, probe)
    laid_down = proofs.lay_down(site, kept.values())
    try:
        return _take_all(by, role, site, taken, seen, token, kept)
    except (Refused, proofs.Unfit):
        proofs.let_go(site, laid_down)
        raise


@transaction.atomic
def _take_all(
    by: Person,
    role: str,
    site: Site,
    taken: Sequence[Taking],
    seen: Mapping[str, int],
    token: str,
    kept: dict[int, proofs.Taken],
) -> list[Answer]:
    hold(site)
    return [_take(by, role, site, one, seen, token, kept) for one in taken]


def _take(
    by: Person,
    role: str,
    site: Site,
    one: Taking,
    seen: Mapping[str, int],
    token: str,
    kept: dict[int, proofs.Taken],
) -> Answer:
    check = one.verdict.check
    if not one.verdict.answers and not (one.verdict.completable and one.rest.strip()):
        raise Refused(f"{check.number}: say how the rest was looked at, or leave it out.")
    files = [kept[id(run)] for run in one.verdict.runs]
    try:
        return answer_check(
            by=by,
            role=role,
            site=site,
            check=check,
            state=one.state,
            proof=one.proof,
            measured=one.measured,
            taken=files if check.wants != Wanted.PHOTO else (),
            seen=seen.get(check.key, 0),
            token=_token(token, check),
        )
    except Refused as error:
        raise Refused(f"{check.number}: {error}") from error
    except Overtaken as error:
        raise Refused(
            f"{guard.answered(check.number)}: look at it, then bring the results in again."
        ) from error


def _as_proof(run: Run, probe: Probe) -> proofs.Taken:
    seen = {
        id: dataclasses.replace(one, seen=without_secrets(one.seen)) for id, one in run.seen.items()
    }
    run = dataclasses.replace(run, seen=seen)
    name = f"probe-{run.network_name}-{run.ended:%Y%m%d-%H%M}.txt"
    return dataclasses.replace(proofs.take(run.kept(probe), name), kind=ProofKind.PROBE)


def _token(token: str, check: SiteCheck) -> str:
    if token:
        return hashlib.sha256(f"{token} {check.key}".encode()).hexdigest()[:40]
    return ""
