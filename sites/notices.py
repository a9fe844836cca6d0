"""What somebody is told of what was done to their account: by letter, and at the next sign-in."""

from __future__ import annotations

import logging
from smtplib import SMTPException

from django.conf import settings
from django.core.cache import cache
from django.core.mail import send_mail
from django.template.loader import render_to_string

from sites.models import Person

log = logging.getLogger(__name__)

DAYS = 90  # somebody who does not sign in for longer has the letter alone


def tell(person: Person, said: str) -> None:
    """Tells somebody one sentence. A letter that does not leave is no error: the sentence waits here as well."""
    key = _key(person)
    cache.set(key, [*cache.get(key, []), said], DAYS * 86_400)
    if settings.SENDS_MAIL:
        write(person.email, said)


def write(address: str, said: str) -> None:
    text = render_to_string("door/notice.txt", {"said": said})
    try:
        send_mail("Your Deskwright account", text, None, [address])
    except (OSError, SMTPException) as error:
        log.warning("A letter did not leave: %s", error.__class__.__name__)


def taken(person: Person) -> list[str]:
    """What waits for somebody; it is told once."""
    said = cache.get(_key(person), [])
    if said:
        cache.delete(_key(person))
    return said


def _key(person: Person) -> str:
    return f"deskwright:told:{person.pk}"
