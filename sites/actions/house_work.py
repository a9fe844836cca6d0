"""What the house asks for at every site beyond the catalogue, and its own times for the catalogue's steps.

Each is one transaction and leaves a line in the history; each raises the counter of every site, whose run sheets
and days change with it.
"""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from planner.record.choices import AnswerState
from sites.actions.counter import touch_all
from sites.actions.locking import hold_house
from sites.actions.records import Saved, laid_over
from sites.models import Answer, HouseEstimate, HouseWork, Person, StepDone
from sites.models.work import WorkKind


@transaction.atomic
def add_work(*, by: Person, what: str, values: dict) -> HouseWork:
    """The house asks for a step or a check more."""
    hold_house()
    made = HouseWork.objects.create(what=what, made_by=by, changed_by=by, **values)
    touch_all()
    return made


@transaction.atomic
def change_work(*, by: Person, pk: int, opened_at: int, values: dict) -> Saved:
    """Saves what was typed into a step or check opened at edit counter ``opened_at``.

    If it has moved on since, fields that only one side changed are merged; where both changed the same field
    nothing is saved, and the clashes come back with the names of the fields that only the others changed.
    """
    hold_house()
    work = HouseWork.objects.get(pk=pk)
    clashes, values, merged = laid_over(work, opened_at, values)
    if clashes:
        return Saved(work, clashes, merged)
    changed = {name: value for name, value in values.items() if getattr(work, name) != value}
    if changed:
        for name, value in changed.items():
            setattr(work, name, value)
        _save(work, by)
    return Saved(work, merged=merged)


@transaction.atomic
def stop_asking(*, by: Person, pk: int) -> HouseWork:
    """The house asks for it no more; what was answered stays, as no longer asked."""
    hold_house()
    return _ended(by, pk, timezone.now())


@transaction.atomic
def ask_again(*, by: Person, pk: int) -> HouseWork:
    """The house asks for it as before; what was answered counts again."""
    hold_house()
    return _ended(by, pk, None)


def _ended(by: Person, pk: int, at: dt.datetime | None) -> HouseWork:
    work = HouseWork.objects.get(pk=pk)
    if (work.ended_at is None) != (at is None):
        work.ended_at = at
        _save(work, by)
    return work


def _save(work: HouseWork, by: Person) -> None:
    work.edits += 1
    work.changed_by = by
    work.save()
    touch_all()


def sites_with(work: HouseWork) -> int:
    """At how many sites a check is answered, or a step begun or done: one query."""
    rows: QuerySet
    if work.what == WorkKind.CHECK:
        rows = Answer.objects.filter(check_key=work.key, newest=True).exclude(
            state=AnswerState.OPEN
        )
    else:
        rows = StepDone.objects.filter(step_key=work.key).exclude(started_at=None, done_at=None)
    return rows.filter(site__removal=None).values("site").distinct().count()


# -- times ---------------------------------------------------------------------------------------


@transaction.atomic
def estimate(*, by: Person, step: str, values: dict, on: dt.date) -> HouseEstimate:
    """Sets the house's three times of a step of the catalogue, for every site that has none of its own."""
    hold_house()
    found = HouseEstimate.objects.filter(step=step).first() or HouseEstimate(step=step)
    for name, value in values.items():
        setattr(found, name, value)
    found.set_on = on
    found._history_user = by
    found.save()
    touch_all()
    return found


@transaction.atomic
def estimate_no_more(*, by: Person, step: str) -> None:
    """Takes the house's times of a step back to the catalogue's."""
    hold_house()
    found = HouseEstimate.objects.filter(step=step).first()
    if found is not None:
        found._history_user = by
        found.delete()
        touch_all()
