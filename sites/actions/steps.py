"""Steps of a run sheet: begun, done, undone, handed over."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from planner.stages import SiteStep
from sites.access.door import EDIT, LEAD, role_at
from sites.actions.counter import touch
from sites.actions.locking import hold
from sites.actions.stages import Overtaken, Refused
from sites.forms.guard import Guard
from sites.models import Person, Site, StepDone
from sites.models.stages import StepMove


@transaction.atomic
def move_step(
    *,
    by: Person,
    site: Site,
    step: SiteStep,
    does: StepMove,
    waits: Sequence[SiteStep] = (),
    owner: Person | None = None,
    seen: int | None = None,
    token: str = "",
    at: dt.datetime | None = None,
) -> StepDone:
    """Moves a step on; one that is handed over goes to ``owner``.

    ``waits`` are the steps that must come before and are not done. ``seen`` is the line's edit counter where the
    person looked, 0 when there was none; ``None`` asks nothing. What is already so stays as it is, whoever did
    it. Raises :class:`Refused` and :class:`sites.actions.stages.Overtaken`.
    """
    hold(site)
    if not StepMove.holds(does):
        raise Refused("Say whether it is begun or done.")
    line = (
        StepDone.objects.filter(site=site, step_key=step.key).select_related("by", "owner").first()
    )
    if line is not None and token and _sent_before(line, by, token):
        return line
    line = line or StepDone(site=site, step_key=step.key)
    if _is_so(line, does, owner):
        return line
    if Guard(seen, line.edits).moved:
        raise Overtaken(line)
    if does in (StepMove.START, StepMove.DONE) and waits:
        raise Refused(f"Cannot start yet: {_listed(waits)} first.")
    if does == StepMove.HAND:
        owner = _own(site, owner)
    _move(line, does, by, owner, at or timezone.now())
    line.by, line.token, line.edits = by, token, line.edits + 1
    line._history_user = by
    line.save()
    touch(site)
    return line


def _sent_before(line: StepDone, by: Person, token: str) -> bool:
    return line.history.filter(by_id=by.pk, token=token).exists()


def _is_so(line: StepDone, does: StepMove, owner: Person | None) -> bool:
    """What is asked for is so already."""
    return {
        StepMove.START: bool(line.started_at or line.done_at),
        StepMove.DONE: bool(line.done_at),
        StepMove.UNDO: not (line.started_at or line.done_at),
        StepMove.HAND: owner is not None and line.owner_id == owner.pk,
    }[does]


def _move(
    line: StepDone, does: StepMove, by: Person, owner: Person | None, at: dt.datetime
) -> None:
    match does:
        case StepMove.START:
            line.started_at, line.owner = at, line.owner or by
        case StepMove.DONE:
            line.done_at, line.owner = max(at, line.started_at or at), line.owner or by
        case StepMove.UNDO:
            line.started_at = line.done_at = None
        case StepMove.HAND:
            line.owner = owner


def _own(site: Site, owner: Person | None) -> Person:
    """Somebody who may do it, or :class:`Refused`."""
    if owner is None or role_at(owner, site.customer) not in (EDIT, LEAD):
        raise Refused("Choose somebody who may edit here.")
    return owner


def _listed(steps: Sequence[SiteStep]) -> str:
    words = [f"{step.number} {step.title}" for step in steps[:3]]
    more = len(steps) - len(words)
    return ", ".join(words) + (f" and {more} more" if more else "")


def takers(site: Site, by: Person) -> list[Person]:
    """Whom a step can be handed to: the customer's editors and leads, and whoever asks."""
    found = Person.objects.filter(
        memberships__customer=site.customer, memberships__role__in=(EDIT, LEAD), is_active=True
    )
    people = {person.pk: person for person in (*found.order_by("name", "email"), by)}
    return sorted(people.values(), key=lambda person: str(person).casefold())


def lines_of(site: Site) -> dict[str, StepDone]:
    """Every step's line by its key: one query."""
    return {
        line.step_key: line
        for line in StepDone.objects.filter(site=site).select_related("by", "owner")
    }
