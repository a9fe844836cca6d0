"""Revisions, and findings that a lead accepts."""

from __future__ import annotations

import dataclasses
import datetime as dt

from django.db import transaction
from django.utils import timezone

from planner.record import facts as f
from planner.review import Finding
from sites.actions.counter import touch
from sites.actions.locking import hold
from sites.actions.moments import happened
from sites.loading import read_site
from sites.models import Acceptance, Person, Printed, Revision, Site


def letter_of(number: int) -> str:
    """1 → A, 26 → Z, 27 → AA: revisions are lettered as drawings are."""
    letters = ""
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


@transaction.atomic
def freeze(*, by: Person, site: Site, reason: str, at: dt.datetime | None = None) -> Revision:
    """Freezes the plan as it stands under the next letter."""
    hold(site)
    last = Revision.objects.filter(site=site).order_by("-number").first()
    if last:
        number = last.number + 1
    else:
        number = 1
    facts = read_site(site)
    if at is not None:
        facts = dataclasses.replace(facts, today=at.date())
    revision = Revision.objects.create(
        site=site,
        number=number,
        letter=letter_of(number),
        reason=reason,
        fingerprint=f.fingerprint(facts),
        content=f.to_json(facts),
        by=by,
    )
    happened(revision, at)
    touch(site)
    return revision


@transaction.atomic
def note_printed(
    *,
    by: Person,
    site: Site,
    paper: str,
    fingerprint: str,
    letter: str = "",
    at: dt.datetime | None = None,
) -> Printed:
    """A paper left the tool; ``letter`` is the revision it was printed from, "" for a draft."""
    hold(site)
    made = Printed.objects.create(
        site=site, paper=paper, letter=letter, fingerprint=fingerprint, by=by
    )
    happened(made, at)
    return made


@transaction.atomic
def accept(
    *,
    by: Person,
    site: Site,
    finding: Finding,
    reason: str,
    look_again: dt.date,
    at: dt.datetime | None = None,
) -> Acceptance:
    """A lead accepts a finding; an older acceptance of it gives way."""
    hold(site)
    withdraw(site=site, token=finding.token)
    made = Acceptance.objects.create(
        site=site,
        finding=finding.token,
        title=finding.title[:400],
        reason=reason,
        look_again=look_again,
        by=by,
    )
    happened(made, at)
    touch(site)
    return made


@transaction.atomic
def withdraw(*, site: Site, token: str) -> None:
    """The acceptance no longer holds; it stays in the history."""
    hold(site)
    standing = Acceptance.objects.filter(site=site, finding=token, withdrawn_at=None)
    if standing.update(withdrawn_at=timezone.now()):
        touch(site)
