"""Devices that somebody was signed in on before. A signed cookie tells them, one entry for each account.

It opens nothing. It only says by which counter wrong passwords and codes are counted: by the device's own, so that
nobody else's tries shut this person out. Whoever steals it gets as many guesses as anybody, and not one more.

A device that brought back the secret of a letter has its own counter of passwords, and none of codes: a letter shows
who reads a mailbox, never who holds the second factor.
"""

from __future__ import annotations

import secrets
import time
from typing import NamedTuple

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse

from sites.models import Person

COOKIE = "deskwright_device"
SALT = "deskwright.device"
DAYS = 90
MOST = 8  # accounts on one device


class Entry(NamedTuple):
    """One account as this device knows it. A cookie of an earlier release says nothing of ``signed_in``."""

    person: int
    doors: int  # the person's count when it was noted
    name: str  # the device's own
    since: int
    signed_in: bool = False


def known(request: HttpRequest, person: Person) -> str:
    """This device's own name for one account; "" where that person was never seen, or all sessions were ended
    since."""
    found = _entry(request, person)
    if found:
        return found.name
    return ""


def signed_in_before(request: HttpRequest, person: Person) -> str:
    """As :func:`known`, where a sign-in was completed here, with the second factor if there was one."""
    found = _entry(request, person)
    if found and found.signed_in:
        return found.name
    return ""


def _entry(request: HttpRequest, person: Person) -> Entry | None:
    for entry in _entries(request):
        if entry.person == person.pk and entry.doors == person.doors:
            return entry
    return None


def remember(
    request: HttpRequest, response: HttpResponse, person: Person, *, signed_in: bool = True
) -> None:
    """Notes that somebody is signed in here, or else brought back the secret of a letter. Keeps the device's name,
    and with it what was counted."""
    before = _entry(request, person)
    if before:
        name = before.name
    else:
        name = secrets.token_urlsafe(16)
    signed_in = signed_in or bool(before and before.signed_in)
    others = [entry for entry in _entries(request) if entry.person != person.pk]
    own = Entry(person.pk, person.doors, name, int(time.time()), signed_in)
    entries = [own, *others][:MOST]
    response.set_cookie(
        COOKIE,
        signing.dumps(entries, salt=SALT),
        max_age=DAYS * 86_400,
        path=settings.SESSION_COOKIE_PATH,
        secure=bool(settings.SESSION_COOKIE_SECURE),
        httponly=True,
        samesite="Lax",
    )


def _entries(request: HttpRequest) -> list[Entry]:
    try:
        told = signing.loads(request.COOKIES.get(COOKIE, ""), salt=SALT)
    except signing.BadSignature:
        return []
    eldest = time.time() - DAYS * 86_400
    return [entry for entry in (Entry(*one) for one in told) if entry.since > eldest]
