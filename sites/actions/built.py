"""Built values taken over into the plan."""

from __future__ import annotations

from django.db import transaction

from planner.comparing.as_built import Drift
from sites.actions.locking import hold
from sites.actions.records import change_record, remove_record
from sites.actions.stages import Refused
from sites.models import RECORD_MODELS, Built, Person, Site


@transaction.atomic
def take_over(*, by: Person, site: Site, drift: Drift) -> None:
    """The plan says from now on what was built; the built value is done with (and can be brought back).

    Raises :class:`Refused` when the value is not understood or its record is gone.
    """
    hold(site)
    if not drift.known or drift.record is None or drift.field is None:
        raise Refused(
            "What was built is not understood, or its record is gone: mend the built value first."
        )
    record = RECORD_MODELS[drift.record.kind].objects.get(pk=drift.record.id)
    if isinstance(drift.value, tuple):
        value = list(drift.value)
    else:
        value = drift.value
    change_record(
        by=by,
        kind=drift.record.kind,
        pk=record.pk,
        opened_at=record.edits,
        values={drift.field.name: value},
    )
    remove_record(by=by, record=Built.objects.get(pk=drift.built.id, site=site, removal=None))
