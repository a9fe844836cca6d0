"""The gate before heavy papers: one at a time in each process, and nobody holds a thread for long.

Whoever comes while a paper is made gets a page that says so and asks again by itself. It carries a signed ticket with
the moment at which they first asked: whoever asked first is first, in whichever process they come by. The first in line
may stand at the gate for some seconds, one in each process; all others come again. Whoever has not come again for
:data:`FORGOTTEN` seconds has left the line.
"""

from __future__ import annotations

import functools
import secrets
import threading
import time
from collections.abc import Callable

from django.core import signing
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from sites.models import Site

AGAIN = 2  # seconds until a waiting page asks again
STANDING = 8.0  # seconds at the gate itself
FORGOTTEN = 3 * AGAIN
PARAMETER = "waiting"
LONGEST_WAIT = 3600  # seconds a ticket counts
Ticket = tuple[float, str]  # when it was drawn, and whose it is


class Gate:
    """Whose turn it is in this process."""

    def __init__(
        self,
        standing: float = STANDING,
        forgotten: float = FORGOTTEN,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.standing, self.forgotten, self.clock = standing, forgotten, clock
        self._changed = threading.Condition()
        self._taken = False
        self._seen: dict[Ticket, float] = {}

    def enter(self, ticket: Ticket) -> bool:
        """Whether it is this one's turn: then :meth:`leave` must follow. Only the first in line is kept standing."""
        end = self.clock() + self.standing
        with self._changed:
            self._seen[ticket] = self.clock()
            self._changed.notify_all()  # somebody who stands here may be first no longer
            while self._is_first(ticket):
                if not self._taken:
                    self._taken = True
                    del self._seen[ticket]
                    return True
                left = end - self.clock()
                if left <= 0:
                    break
                self._changed.wait(left)
                self._seen[ticket] = self.clock()
            return False

    def leave(self) -> None:
        with self._changed:
            self._taken = False
            self._changed.notify_all()

    def _is_first(self, ticket: Ticket) -> bool:
        old = self.clock() - self.forgotten
        for one, seen in list(self._seen.items()):
            if seen < old and one != ticket:
                del self._seen[one]
        return ticket == min(self._seen)


GATE = Gate()


def heavy(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Wraps a view that makes a heavy paper: one at a time, the others wait on a page that asks again."""

    @functools.wraps(view)
    def inner(request: HttpRequest, site: Site, **words) -> HttpResponse:
        ticket = _ticket(request)
        if not GATE.enter(ticket):
            return _come_again(request, site, ticket)
        _used_up(request, ticket)
        try:
            return view(request, site, **words)
        finally:
            GATE.leave()

    return inner


def _signer() -> signing.Signer:
    return signing.Signer(salt="sites.web.gate")


def _ticket(request: HttpRequest) -> Ticket:
    """The ticket that was handed out before, or a new one. Nobody can write one that was drawn earlier, and one that
    has led to a paper leads to no other."""
    try:
        drawn, whose = _signer().unsign_object(request.GET.get(PARAMETER, ""))
        if 0 <= time.time() - drawn < LONGEST_WAIT and cache.get(_served(whose)) is None:
            return drawn, whose
    except (signing.BadSignature, ValueError, TypeError):
        pass
    return time.time(), secrets.token_hex(8)


def _served(whose: str) -> str:
    return f"gate-{whose}"


def _used_up(request: HttpRequest, ticket: Ticket) -> None:
    """Notes, for all processes, that a ticket which was handed out has had its paper."""
    if PARAMETER in request.GET:
        cache.set(_served(ticket[1]), 1, LONGEST_WAIT)


def _for_people(request: HttpRequest) -> bool:
    """Whether a page was asked for by name. ``*/*`` alone comes from programs: they would keep the page as paper."""
    kinds = request.headers.get("Accept", "").split(",")
    return any(kind.partition(";")[0].strip().lower() == "text/html" for kind in kinds)


def _come_again(request: HttpRequest, site: Site, ticket: Ticket) -> HttpResponse:
    """A page for people, that asks again by itself; for programs the status that says so, and the address."""
    asked = request.GET.copy()
    asked[PARAMETER] = _signer().sign_object(list(ticket))
    again = f"{request.path}?{asked.urlencode()}"
    if _for_people(request):
        context = {"site": site, "again": again, "seconds": AGAIN}
        response = render(request, "papers/waiting.html", context, status=202)
    else:
        words = f"Another paper is being made. Ask again in {AGAIN} s:\n{request.build_absolute_uri(again)}\n"
        response = HttpResponse(words, "text/plain; charset=utf-8", status=503)
    response.headers["Retry-After"] = str(AGAIN)
    response.headers["Cache-Control"] = "private, no-store"
    return response
