"""Owners and times of several steps at once: each step's plan is changed as one record is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import transaction

from sites.actions.locking import hold
from sites.actions.records import add_record, change_record
from sites.forms.guard import Guard
from sites.models import OwnStep, Person, Site, StepPlan


def plans_of(site: Site) -> dict[str, StepPlan]:
    """The plan that counts for each step of the catalogue and the house: one query."""
    return {
        one.step: one for one in StepPlan.objects.filter(site=site, removal=None).order_by("pk")
    }


@transaction.atomic
def plan_steps(
    *,
    by: Person,
    site: Site,
    keys: Iterable[str],
    values: Mapping[str, Any],
    seen: Mapping[str, int],
) -> tuple[list[str], list[str]]:
    """Gives these steps what ``values`` holds; what it does not name stays as it is.

    ``seen`` are the edit counters of the plans on the page, 0 for none. Gives the keys that were planned, and
    those that somebody else planned otherwise meanwhile: they are left alone.
    """
    hold(site)
    standing = plans_of(site)
    own = {f"own@{one.anchor}": one for one in OwnStep.objects.filter(site=site, removal=None)}
    made, passed = [], []
    for key in keys:
        row = own.get(key) or standing.get(key)
        wanted = {
            name: value for name, value in values.items() if key not in own or name != "before_day"
        }
        if row is None and Guard(seen.get(key, 0), 0).moved:
            passed.append(key)  # its plan was removed meanwhile
        elif row is None:
            add_record(by=by, site=site, kind="stepplan", values={"step": key, **wanted})
            made.append(key)
        else:
            saved = change_record(
                by=by, kind=row.facts.kind, pk=row.pk, opened_at=seen.get(key, 0), values=wanted
            )
            (passed if saved.clashes else made).append(key)
    return made, passed
