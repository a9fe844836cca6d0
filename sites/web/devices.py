"""Devices that somebody was signed in on before. A signed cookie tells them, one entry for each account.

It opens nothing. It only says by which counter wrong passwords and codes are counted: by the device's own, so that
nobody else's tries shut this person out. Whoever steals it gets as many guesses as anybody, and not one more.
"""

from __future__ import annotations

import secrets
import time

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse

from sites.models import Person

COOKIE = "deskwright_device"
SALT = "deskwright.device"
DAYS = 90
MOST = 8  # accounts on one device

Entry = tuple[
    int, int, str, int
]  # of whom, at which count of doors, the device's own name, since when


def known(request: HttpRequest, person: Person) -> str:
    """This device's own name for one account; "" where that person was never signed in, or all sessions were ended
    since."""
    for pk, doors, name, _ in _entries(request):
        if pk == person.pk and doors == person.doors:
            return name
    return ""


def remember(request: HttpRequest, response: HttpResponse, person: Person) -> None:
    """Notes that somebody is signed in here, or brought back the secret of a letter. Keeps the device's name, and
    with it what was counted."""
    name = known(request, person) or secrets.token_urlsafe(16)
    others = [one for one in _entries(request) if one[0] != person.pk]
    entries = [(person.pk, person.doors, name, int(time.time())), *others][:MOST]
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
    return [(pk, doors, name, since) for pk, doors, name, since in told if since > eldest]
