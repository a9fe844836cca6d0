"""What somebody said to be no secret."""

from __future__ import annotations

import logging

from django.db import transaction

from sites.access.asker import Asker
from sites.actions.locking import hold
from sites.models import Person, SaidHarmless

journal = logging.getLogger("deskwright.journal")


@transaction.atomic
def keep_said(*, by: Person | None, asker: Asker) -> None:
    """Keeps the digests of texts that somebody said to be harmless, and notes it in the journal: never the text.

    ``by`` is ``None`` for somebody without an account, who came by a pilot's link.
    """
    if asker.site is not None:
        hold(asker.site)
    for digest, field in sorted(asker.said.items()):
        _, new = SaidHarmless.objects.get_or_create(
            site=asker.site, digest=digest, defaults={"by": by}
        )
        if new:
            person, site = getattr(by, "pk", None), getattr(asker.site, "pk", None)
            journal.info("said to be no secret: person %s, site %s, field %s", person, site, field)


@transaction.atomic
def copy_said(*, source, made) -> None:
    """What was said to be harmless at a site is so at its copy."""
    hold(made)
    rows = SaidHarmless.objects.filter(site=source)
    SaidHarmless.objects.bulk_create(
        [SaidHarmless(site=made, digest=one.digest, by_id=one.by_id) for one in rows]
    )
