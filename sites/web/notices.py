"""What somebody is told of what was done to their account: by letter, and at the next sign-in.

Whoever tells may be in a transaction: the note belongs to it, the letter leaves once it holds. So no mail server
that is silent keeps a lock of the database, and no letter tells what was rolled back.
"""

from __future__ import annotations

import functools

from django.core.cache import cache
from django.db import transaction

from sites.models import Person
from sites.web import mail as letters

DAYS = 90  # somebody who does not sign in for longer has the letter alone


def tell(person: Person, said: str) -> None:
    """Tells somebody one sentence. A letter that does not leave is no error: the sentence waits here as well."""
    key = _key(person)
    cache.set(key, [*cache.get(key, []), said], DAYS * 86_400)
    if person.has_address:
        write(person.email, said)


def write(address: str, said: str) -> None:
    """Writes the sentence to an address, once what it tells of is kept."""
    send = functools.partial(
        letters.send, "Your Deskwright account", "notice", {"said": said}, address
    )
    transaction.on_commit(send, robust=True)


def taken(person: Person) -> list[str]:
    """What waits for somebody; it is told once."""
    said = cache.get(_key(person), [])
    if said:
        cache.delete(_key(person))
    return said


def _key(person: Person) -> str:
    return f"deskwright:told:{person.pk}"
