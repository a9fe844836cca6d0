"""A link with which house staff let a browser try a password, where others' wrong tries shut it out.

It signs nobody in: the browser that brings it back has a counter of its own, as one that brought back a letter. It
holds for an hour, works once, and ends when all sessions of the person are ended.
"""

from __future__ import annotations

import hashlib
import secrets

from django.core import signing
from django.core.cache import cache

from sites.models import Person

SALT = "deskwright.let-in"
SECONDS = 3600


def make(person: Person) -> str:
    """A new secret for this person."""
    return signing.dumps([person.pk, person.doors, secrets.token_urlsafe(16)], salt=SALT)


def opened(secret: str) -> Person | None:
    """Whose browser a secret lets in, while it holds."""
    try:
        pk, doors, _ = signing.loads(secret, salt=SALT, max_age=SECONDS)
    except signing.BadSignature:
        return None
    if cache.get(_key(secret)):
        return None
    return Person.objects.filter(pk=pk, doors=doors, is_active=True).first()


def use(secret: str) -> Person | None:
    """As :func:`opened`; the secret opens nothing afterwards."""
    person = opened(secret)
    if person is None or not cache.add(_key(secret), [1], SECONDS):
        return None
    return person


def _key(secret: str) -> str:
    return f"deskwright:let-in:{hashlib.sha256(secret.encode()).hexdigest()}"
