"""What happens at the door, told in one place: who came, was invited, changed an address, lost a right.

So far each event is one line of the log ``deskwright.journal``. It bears keys of rows and counts, never a secret;
what somebody typed as the address of an account that is not there stands as a digest.
"""

from __future__ import annotations

import json
import logging

from django.http import HttpRequest
from django.utils.crypto import salted_hmac

from sites.models import Customer, Person
from sites.web.clients import client_address

log = logging.getLogger("deskwright.journal")

_NEVER = ("password", "secret", "code", "key", "token")


def note(
    event: str,
    *,
    by: Person | None = None,
    person: Person | None = None,
    customer: Customer | None = None,
    request: HttpRequest | None = None,
    **more: object,
) -> None:
    """Writes one event. ``by`` did it, ``person`` it happened to, ``customer`` where, ``request`` from where."""
    told: dict[str, object] = {
        "event": event,
        "by": by and by.pk,
        "person": person and person.pk,
        "customer": customer and customer.pk,
    }
    if request is not None:
        told["from"] = client_address(request)
    told |= {name: value for name, value in more.items() if name not in _NEVER}
    # As JSON, a line break in what somebody typed cannot begin a line of its own.
    log.info(
        "%s",
        json.dumps({name: value for name, value in told.items() if value is not None}, default=str),
    )


def digest(typed: str) -> str:
    """Stands for what somebody typed: the same for the same words, and nothing can be read from it."""
    return salted_hmac("deskwright.journal", typed.strip().lower(), algorithm="sha256").hexdigest()[
        :12
    ]
