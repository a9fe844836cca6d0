"""Sessions: how long they last, what they open, how they end.

A session ends after some idle hours, and after some days whatever happens. Who owes a second factor gets the pages
to set one up, and nothing else: here for every request alike, and in :mod:`sites.access.door` where data is opened.
"""

from __future__ import annotations

import datetime as dt
import time
from dataclasses import dataclass

from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import HASH_SESSION_KEY, logout, signals, update_session_auth_hash
from django.contrib.sessions.models import Session
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from sites.access.factors import owes_factor
from sites.models import Person
from sites.web.journal import note

BEGUN, SEEN = "begun", "seen"
NOTED_EVERY = 300  # seconds: so often at most a session says that it was used

# What an open page asks for by itself, with nobody there.
BY_THEMSELVES = {"watch", "run-whole"}
# Answers the same to everybody: no session is looked at.
OF_NOBODY = {"health", "run-worker", "site-schema"}
# All that somebody gets who owes a second factor.
WHILE_OWING = OF_NOBODY | {
    "account_inactive",
    "account_change_password",
    "account_logout",
    "account_reauthenticate",
    "account_reset_password",
    "account_reset_password_done",
    "account_reset_password_from_key",
    "account_reset_password_from_key_done",
    "mfa_activate_totp",
    "mfa_reauthenticate",
    "you",
    "you-sessions",
    "you-session-end",
    "you-sessions-end",
}


class Door:
    """Ends sessions that are over, and keeps who owes a factor at the set-up."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view, args, words) -> HttpResponse | None:
        name = request.resolver_match.view_name
        if name in OF_NOBODY or settings.SESSION_COOKIE_NAME not in request.COOKIES:
            return None
        if not request.user.is_authenticated:
            return None
        over = _over(request.session)
        if over:
            _end(request, over)
            return None  # the view finds nobody signed in
        if name not in BY_THEMSELVES:
            _used(request)
        if owes_factor(request.user) and name not in WHILE_OWING:
            return redirect("mfa_activate_totp")
        return None


def listen() -> None:
    signals.user_logged_in.connect(_begun, dispatch_uid="deskwright-session-begun")


def _begun(sender, request: HttpRequest, user: Person, **words) -> None:
    now = int(time.time())
    request.session[BEGUN] = request.session[SEEN] = now
    bind(request)
    if request.META.get("REMOTE_ADDR"):  # else nobody asked: a program signed somebody in
        _list(request)


def bind(request: HttpRequest) -> None:
    """The cookie and the row end when the session does, however often it is used."""
    begun = request.session.get(BEGUN)
    if begun:
        ends = dt.datetime.fromtimestamp(begun + settings.SESSION_COOKIE_AGE, tz=dt.UTC)
        request.session.set_expiry(ends)


IDLE = "You were signed out, because nobody had used this page for a long time."
OLD = "You were signed out: a session ends {days} days after it began, or when this Deskwright is renewed."


def _over(session) -> str:
    """Why a session is over, in words; "" for one that is not. One that does not know when it began is of an earlier
    release."""
    return _why_over(session.get(BEGUN, 0), session.get(SEEN, 0))


def _why_over(begun: int, seen: int) -> str:
    now = time.time()
    if now - begun > settings.SESSION_COOKIE_AGE:
        return OLD.format(days=settings.SESSION_COOKIE_AGE // 86_400)
    if now - seen > settings.SESSION_IDLE_HOURS * 3600:
        return IDLE
    return ""


def _end(request: HttpRequest, why: str) -> None:
    note("session over", person=request.user, request=request)
    UserSession.objects.filter(session_key=request.session.session_key).delete()
    logout(request)
    messages.info(request, why)


def _used(request: HttpRequest) -> None:
    if time.time() - request.session[SEEN] > NOTED_EVERY:
        request.session[SEEN] = int(time.time())
        _list(request)


def _list(request: HttpRequest) -> None:
    UserSession.objects.create_from_request(request)


# -- seen as a list --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Listed:
    """A session as its page shows it."""

    pk: int
    begun: dt.datetime
    seen: dt.datetime
    address: str
    browser: str
    here: bool


def sessions_of(person: Person, request: HttpRequest | None = None) -> list[Listed]:
    """Somebody's sessions that are open, the last seen first. What is over is cleared away."""
    rows = {row.session_key: row for row in UserSession.objects.filter(user=person)}
    kept = Session.objects.filter(session_key__in=rows, expire_date__gt=timezone.now())
    hashes = {person.get_session_auth_hash(), *person.get_session_auth_fallback_hash()}
    if request:
        here = request.session.session_key
    else:
        here = None
    found = []
    for session in kept:
        data = session.get_decoded()
        if data.get(HASH_SESSION_KEY) in hashes and not _why_over(
            data.get(BEGUN, 0), data.get(SEEN, 0)
        ):
            found.append(_listed(rows.pop(session.session_key), data, here))
    UserSession.objects.filter(pk__in=[row.pk for row in rows.values()]).delete()
    return sorted(found, key=lambda one: (one.here, one.seen), reverse=True)


def _listed(row: UserSession, data: dict, here: str | None) -> Listed:
    return Listed(
        pk=row.pk,
        begun=dt.datetime.fromtimestamp(data[BEGUN], tz=dt.UTC),
        seen=dt.datetime.fromtimestamp(data[SEEN], tz=dt.UTC),
        address=row.ip,
        browser=browser(row.user_agent),
        here=row.session_key == here,
    )


def browser(agent: str) -> str:
    """What somebody used, in plain words: enough to know one's own again."""
    if "/5.0 (" not in agent:
        return "a program, not a browser"
    if "Mobi" in agent:
        return "a browser on a telephone"
    if "Tablet" in agent:
        return "a browser on a tablet"
    return "a browser on a computer"


def keep(request: HttpRequest, person: Person) -> None:
    """The session of this request outlives the end of all others. ``person`` has the new count of doors."""
    update_session_auth_hash(request, person)
    _list(request)
