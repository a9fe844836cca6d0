"""Who looks at a site now."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from sites.models import Person, Presence, Site

HERE_FOR = dt.timedelta(seconds=60)  # three polls of an open page


def be_seen(*, by: Person, site: Site, chapter: int) -> None:
    """Notes that somebody has a chapter of the site open."""
    seen = {"chapter": chapter, "seen_at": timezone.now()}
    Presence.objects.update_or_create(site=site, person=by, defaults=seen)


def others_at(site: Site, person: Person) -> list[Presence]:
    """Everybody else who has had a page of the site open within the last minute."""
    lately = timezone.now() - HERE_FOR
    found = Presence.objects.filter(site=site, seen_at__gte=lately, person__is_active=True).exclude(
        person=person
    )
    return list(found.select_related("person").order_by("person__name", "person__email"))
