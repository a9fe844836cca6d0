"""A link between two sites of a customer has two ends."""

from __future__ import annotations

from django.db import transaction

from sites.actions.counter import touch
from sites.actions.locking import hold_all_of
from sites.models import Person, Site


@transaction.atomic
def join_other_ends(*, by: Person, site: Site, before: list[int]) -> None:
    """Writes a site's links down at their other ends too: who is named here names this site, and who was named
    ``before`` and is no longer does not."""
    hold_all_of(site.customer_id)
    concerned = {"customer": site.customer_id, "pk__in": {*site.joined, *before} - {site.pk}}
    for other in Site.objects.filter(**concerned).order_by("pk"):
        here, there = other.pk in site.joined, site.pk in other.joined
        if here != there:
            other.joined = (
                [*other.joined, site.pk] if here else [pk for pk in other.joined if pk != site.pk]
            )
            other.edits, other.changed_by = other.edits + 1, by
            other.save()
            touch(other)
