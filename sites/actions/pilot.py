"""The acceptance sheet: links to it, what pilot people write, and taking that as answers."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from planner.plan import Plan
from planner.stages import pilot
from sites.actions.counter import touch
from sites.actions.locking import hold
from sites.actions.once import GONE
from sites.actions.stages import Refused, answer_check
from sites.forms.pilot import NOTE
from sites.forms.secrets import ask
from sites.models import Person, Site
from sites.models.pilot import PilotLink, PilotResult


def hash_of(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


@transaction.atomic
def make_link(
    *, by: Person, site: Site, person: str, days: int, token: str = ""
) -> tuple[PilotLink, str]:
    """A link for one pilot person; its token is given here once and kept nowhere.

    Raises :class:`Refused` for a token that was used."""
    hold(site)
    token = token or secrets.token_urlsafe(24)
    if PilotLink.objects.filter(token_hash=hash_of(token)).exists():  # of a form kept for long
        raise Refused(GONE)
    ends = timezone.now() + dt.timedelta(days=days)
    made = PilotLink.objects.create(
        site=site, person=person, token_hash=hash_of(token), made_by=by, ends_at=ends
    )
    return made, token


def open_link(token: str) -> PilotLink | None:
    """The link a token opens, while it is open and its site is there."""
    links = PilotLink.objects.select_related("site__customer").filter(
        token_hash=hash_of(token), site__removal=None
    )
    return links.filter(ends_at__gt=timezone.now()).first()


@transaction.atomic
def end_link(*, link: PilotLink) -> None:
    hold(link.site)
    PilotLink.objects.filter(pk=link.pk, ends_at__gt=timezone.now()).update(ends_at=timezone.now())


@transaction.atomic
def write(*, link: PilotLink, asked: list[str], results: Mapping[str, tuple[str, str]]) -> int:
    """Keeps what a pilot person found, by check: (works or fails, note). Only what was ``asked`` counts."""
    hold(link.site)
    count = 0
    for key, (state, note) in results.items():
        if key in asked and state in pilot.STATES:
            PilotResult.objects.update_or_create(
                link=link, check_key=key, defaults={"state": state, "note": note[:1000]}
            )
            count += 1
    if count:
        PilotLink.objects.filter(pk=link.pk).update(taken_at=None)
        touch(link.site)
    return count


@transaction.atomic
def take(
    *, by: Person, role: str, site: Site, link: PilotLink, plan: Plan
) -> tuple[int, list[str]]:
    """Answers the checks by what the person wrote; gives how many, and why others could not be."""
    hold(site)
    taken, refused = 0, []
    for result in link.results.all():
        check = plan.stages.checks.get(result.check_key)
        if check is None:
            refused.append(f"{result.check_key.partition('@')[0]}: no longer asked here")
            continue
        if ask(result.note, NOTE).refused:
            refused.append(f"{check.number}: the note looks like it holds a secret")
            continue
        proof = f"{link.person or 'A pilot person'}, on the acceptance sheet: {result.state}. {result.note}".strip()
        try:
            answer_check(
                by=by,
                role=role,
                site=site,
                check=check,
                state=pilot.STATES[result.state],
                proof=proof,
            )
            taken += 1
        except Refused as error:
            refused.append(f"{check.number}: {error}")
    PilotLink.objects.filter(pk=link.pk).update(taken_at=timezone.now())
    return taken, refused
