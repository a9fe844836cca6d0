"""What happens at the door, told in one place: who came, was invited, changed an address, lost a right.

So far each event is one line of the log ``deskwright.journal``. It bears keys of rows, never a secret.
"""

from __future__ import annotations

import logging

from django.http import HttpRequest

from sites.models import Customer, Person

log = logging.getLogger("deskwright.journal")


def note(
    event: str,
    *,
    by: Person | None = None,
    person: Person | None = None,
    customer: Customer | None = None,
    request: HttpRequest | None = None,
    **more: object,
) -> None:
    """Writes one event. ``by`` did it, ``person`` it happened to, ``customer`` where."""
    told: dict[str, object] = {"by": by and by.pk, "person": person and person.pk, "customer": customer and customer.pk}
    told |= more
    log.info("%s %s", event, " ".join(f"{name}={value}" for name, value in told.items() if value is not None))
