"""Answers to checks, and signatures under gates."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils import timezone

from planner.stages import Gate, answers
from sites.actions.counter import touch
from sites.actions.moments import happened
from sites.models import Answer, Person, Signature, Site


class Refused(Exception):
    """This may not be done; the message says why and what to do."""


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
) -> Answer:
    """Adds an answer; it is the newest one now, and the older ones stay. ``at`` is when it was found, if not now."""
    Site.objects.select_for_update().get(pk=site.pk)
    Answer.objects.filter(site=site, check_key=key, newest=True).update(newest=False)
    made = Answer.objects.create(site=site, check_key=key, state=state, proof=proof, reopened=reopened, by=by)
    happened(made, at)
    touch(site)
    return made


def answer_check(
    *, by: Person, role: str, site: Site, check, state: str, proof: str, seen: str, at: dt.datetime | None = None
) -> Answer:
    """Answers a check, if the rules of answering allow it and nobody answered meanwhile.

    ``seen`` is the state the page showed. Raises :class:`Refused`.
    """
    why = answers.refusal(check, state, proof, role, site.purpose == "live")
    if why:
        raise Refused(why)
    if seen and seen != check.state:
        raise Refused(
            f"{check.answer.by or 'Somebody'} answered this meanwhile: {check.state}. Look at it, then answer again."
        )
    return give_answer(by=by, site=site, key=check.key, state=state, proof=proof.strip(), at=at)


@transaction.atomic
def sign_gate(
    *, by: Person, site: Site, gate: Gate, checks: list[str], fingerprint: str, at: dt.datetime | None = None
) -> Signature:
    """A lead signs an open gate; what was on trust or excused is kept under the name.

    Raises :class:`Refused` when the gate is not open.
    """
    if gate.state not in ("open", "reopened") or gate.blocking:
        raise Refused(gate.reason)
    Signature.objects.filter(site=site, stage=gate.stage, withdrawn_at=None).update(withdrawn_at=timezone.now())
    made = Signature.objects.create(
        site=site, stage=gate.stage, by=by, checks=checks, fingerprint=fingerprint,
        on_trust=[check.key for check in gate.on_trust], excused=[check.key for check in gate.excused],
    )  # fmt: skip
    happened(made, at)
    touch(site)
    return made


def turned_live(*, by: Person, site: Site) -> int:
    """A trial became live: what was on trust is open again, with its history kept. How many."""
    on_trust = list(Answer.objects.filter(site=site, newest=True, state="trust"))
    for answer in on_trust:
        give_answer(by=by, site=site, key=answer.check_key, state="open", proof=answer.proof, reopened=True)
    return len(on_trust)
