"""Answers to checks, and signatures under gates."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db import transaction
from django.utils import timezone

from planner import work_out
from planner.plan import Plan
from planner.record.choices import AnswerState, SitePurpose
from planner.stages import Gate, SiteCheck, answers
from planner.stages.results import GateState
from sites.access.door import LEAD, role_at
from sites.actions.counter import touch
from sites.actions.locking import hold
from sites.actions.moments import happened
from sites.actions.proofs import Taken, Unfit, keep, lay_down, let_go
from sites.forms import guard
from sites.forms.guard import Guard
from sites.loading import read_site
from sites.models import Answer, Person, Signature, Site
from sites.models.stages import ProofKind

SENT_LATE = dt.timedelta(days=14)  # what a device may have kept before it is sent


class Refused(Exception):
    """This may not be done; the message says why and what to do."""


class Overtaken(Exception):
    """Somebody else was there meanwhile. ``theirs`` is what stands now; nothing was changed."""

    def __init__(self, theirs):
        super().__init__(guard.HERE)
        self.theirs = theirs


def newest_answer(site: Site, key: str) -> Answer | None:
    return Answer.objects.filter(site=site, check_key=key, newest=True).select_related("by").first()


@transaction.atomic
def give_answer(
    *,
    by: Person,
    site: Site,
    key: str,
    state: str,
    proof: str = "",
    reopened: bool = False,
    at: dt.datetime | None = None,
    **more,
) -> Answer:
    """Adds an answer; it is the newest one now, and the older ones stay. ``at`` is when it was found, if not
    now; ``more`` are further columns of :class:`Answer`."""
    hold(site)
    Answer.objects.filter(site=site, check_key=key, newest=True).update(newest=False)
    made = Answer.objects.create(
        site=site, check_key=key, state=state, proof=proof, reopened=reopened, by=by, **more
    )
    happened(made, at)
    touch(site)
    return made


def answer_check(
    *,
    by: Person,
    role: str,
    site: Site,
    check: SiteCheck,
    state: str,
    proof: str = "",
    measured: str = "",
    taken: Sequence[Taken] = (),
    value: str | None = None,
    seen: int | None = None,
    token: str = "",
    at: dt.datetime | None = None,
) -> Answer:
    """Answers a check, if the rules of answering allow it and nobody answered meanwhile.

    ``value`` is the plan's value that whoever answers had before them, ``None`` for the one that stands now.
    ``seen`` is the key of the newest answer they had before them, 0 for none; ``None`` asks nothing. A ``token``
    that the same person used before gives that answer back and changes nothing. Raises :class:`Refused`,
    :class:`Overtaken` and, of photos and files, :class:`sites.actions.proofs.Unfit`.
    """
    laid_down = lay_down(site, taken)  # the disk takes its time: before anybody waits for us
    try:
        with transaction.atomic():
            live = hold(site).purpose == SitePurpose.LIVE
            before = sent_before(by=by, site=site, token=token)
            if before is not None:
                return before
            newest = newest_answer(site, check.key)
            if Guard(seen, newest.pk if newest else 0).moved:
                raise Overtaken(newest)
            probes = sum(one.kind == ProofKind.PROBE for one in taken)
            given = answers.Given(proof, measured, len(taken) - probes, probes)
            why = answers.refusal(check, state, given, role, live)
            if why:
                raise Refused(why)
            if value is None:
                shown = check.value
            else:
                shown = value
            made = give_answer(
                by=by,
                site=site,
                key=check.key,
                state=state,
                proof=proof.strip(),
                at=_not_before(at, newest),
                value=shown,
                measured=measured.strip(),
                unit=check.unit,
                low=check.low,
                high=check.high,
                token=token,
            )
            keep(made, taken, laid_down)
    except (Refused, Overtaken, Unfit):
        if laid_down:
            let_go(site, laid_down)
        raise
    return made


def sent_before(*, by: Person, site: Site, token: str) -> Answer | None:
    """The answer that this person has sent with this token already."""
    if not token:
        return None
    return Answer.objects.filter(site=site, by=by, token=token).select_related("by").first()


def moment_of(age_seconds: float) -> dt.datetime | None:
    """When something was found that a device kept for so long; ``None`` for just now."""
    if age_seconds < 60:
        return None
    return timezone.now() - min(dt.timedelta(seconds=min(age_seconds, 1e7)), SENT_LATE)


def _not_before(at: dt.datetime | None, newest: Answer | None) -> dt.datetime | None:
    """An answer is never older than the one it follows."""
    if at is None or newest is None:
        return at
    return max(at, newest.at)


@transaction.atomic
def excuse_many(
    *,
    by: Person,
    role: str,
    site: Site,
    checks: Iterable[SiteCheck],
    reason: str,
    seen: dict[str, int],
) -> tuple[list[Answer], list[str]]:
    """Excuses several checks for one reason; nothing else can be said of several at once.

    Gives the answers, and what was passed over and why. Raises :class:`Refused` when none may be.
    """
    hold(site)
    made, passed, reasons = [], [], []
    for check in checks:
        try:
            made.append(
                answer_check(
                    by=by,
                    role=role,
                    site=site,
                    check=check,
                    state=AnswerState.EXCUSED,
                    proof=reason,
                    seen=seen.get(check.key, 0),
                )
            )
        except Overtaken:
            reasons.append(guard.ALL_ANSWERED)
            passed.append(guard.answered(check.number))
        except Refused as error:
            reasons.append(str(error))
            passed.append(f"{check.number}: {error}")
    if not made:
        raise Refused(" ".join(dict.fromkeys(reasons)) or "Choose at least one check.")
    return made, passed


@transaction.atomic
def sign_gate(
    *,
    by: Person,
    site: Site,
    gate: Gate,
    checks: list[str],
    fingerprint: str,
    at: dt.datetime | None = None,
) -> Signature:
    """A lead signs an open gate; what was on trust or excused is kept under the name.

    ``site`` is the site at the moment its ``gate`` was worked out. What was saved there since is looked at once more:
    a gate that reads otherwise now is not signed. Pressed twice, it is signed once. Raises :class:`Refused` when the
    gate is not open, or is another.
    """
    now = hold(site)
    before = _signed_just_so(by, gate, site, checks, fingerprint)
    if before is not None:
        return before
    if now.counter != site.counter:
        _same_gate(gate, checks, work_out(read_site(now)))
    if gate.state not in (GateState.OPEN, GateState.REOPENED) or gate.blocking:
        raise Refused(gate.reason)
    Signature.objects.filter(site=site, stage=gate.stage, withdrawn_at=None).update(
        withdrawn_at=timezone.now()
    )
    made = Signature.objects.create(
        site=site,
        stage=gate.stage,
        by=by,
        checks=checks,
        fingerprint=fingerprint,
        on_trust=[check.key for check in gate.on_trust],
        excused=[check.key for check in gate.excused],
    )
    happened(made, at)
    touch(site)
    return made


def _signed_just_so(
    by: Person, gate: Gate, site: Site, checks: list[str], fingerprint: str
) -> Signature | None:
    """The signature that another press of the same person has put there since this gate was worked out."""
    standing = Signature.objects.filter(site=site, stage=gate.stage, withdrawn_at=None).first()
    if standing is None or standing.by_id != by.pk:
        return None
    if gate.signature is not None and gate.signature.at == standing.at:
        return None  # it stood there before
    same = standing.checks == checks and standing.fingerprint == fingerprint
    if same:
        return standing
    return None


def _same_gate(gate: Gate, checks: list[str], plan: Plan) -> None:
    """Raises :class:`Refused` unless the gate still says what it said when it was shown."""
    stage = plan.stages.stage(gate.stage)
    if stage is not None:
        now = stage.gate
        keys = [check.key for check in stage.checks]
        if (_told(now), keys) == (_told(gate), checks):
            return
    raise Refused("Meanwhile somebody changed what it rests on. Look at it again, then sign.")


def _told(gate: Gate) -> tuple:
    """What somebody puts their name to."""
    rests_on = (gate.blocking, gate.on_trust, gate.excused)
    return gate.state, *[[check.key for check in checks] for checks in rests_on]


@transaction.atomic
def turned_live(*, by: Person, site: Site) -> int:
    """A trial became live: what was on trust is open again, and what somebody excused who is no lead now.
    The history is kept. How many."""
    hold(site)
    rows = Answer.objects.filter(
        site=site, newest=True, state__in=(AnswerState.TRUST, AnswerState.EXCUSED)
    ).select_related("by")
    leads: dict[int | None, bool] = {None: False}
    opened = 0
    for answer in rows.order_by("pk"):
        if answer.by_id not in leads:
            leads[answer.by_id] = bool(answer.by) and role_at(answer.by, site.customer) == LEAD
        if answers.opens_again_when_live(answer.state, leads[answer.by_id]):
            give_answer(
                by=by,
                site=site,
                key=answer.check_key,
                state=AnswerState.OPEN,
                proof=answer.proof,
                reopened=True,
            )
            opened += 1
    return opened
