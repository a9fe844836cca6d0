"""The site's own counter, the house's, and the edit counters of records."""

from collections.abc import Iterable

from django.db.models import F

from planner.record.facts import Ref
from sites.models import RECORD_MODELS, HouseCounter, Site


def touch(site: Site) -> None:
    """Raises the site's counter: whoever has a page of it open is told."""
    Site.objects.filter(pk=site.pk).update(counter=F("counter") + 1)


def touch_all() -> None:
    """Raises the counter of every site: what the house asks for has changed, and papers and devices hold the old."""
    Site.objects.update(counter=F("counter") + 1)


def touch_house() -> None:
    """Raises the house's counter: what every plan rests on has changed, though nobody's site has moved on.

    Its row is held until the transaction ends, so it comes after all others: see :mod:`sites.actions.locking`."""
    HouseCounter.objects.get_or_create(alone=True)
    HouseCounter.objects.update(count=F("count") + 1)


def edits_of(site: Site, records: Iterable[Ref]) -> dict[str, int]:
    """The edit counters of some present records of the site, by anchor: one query a kind."""
    wanted: dict[str, set[int]] = {}
    for one in records:
        wanted.setdefault(one.kind, set()).add(one.id)
    found = {}
    for kind, ids in wanted.items():
        rows = (
            RECORD_MODELS[kind]
            .objects.filter(site=site, pk__in=ids, removal=None)
            .values_list("pk", "edits")
        )
        found.update({f"{kind}-{pk}": edits for pk, edits in rows})
    return found
