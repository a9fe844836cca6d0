"""Getting a house ready to be served: one preparer at a time, and what nobody needs any more swept out."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Callable, Iterator
from typing import IO

from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import connection, connections
from django.utils import timezone

from sites.web.durable import sweep_halves

KEY = 0x6465736B  # of the lock in a PostgreSQL: "desk"
AGAIN_SECONDS = 0.2
Say = Callable[[str], object]
_WAITS = "Somebody else prepares this house just now. Waiting until that is done."


@contextlib.contextmanager
def one_preparer(say: Say) -> Iterator[None]:
    """Holds the lock of preparing. Whoever comes meanwhile says so and waits; a preparer that dies lets it go."""
    if connection.vendor == "postgresql":
        lock = _in_database
    else:
        lock = _in_folder
    with lock(say):
        yield


@contextlib.contextmanager
def _in_database(say: Say) -> Iterator[None]:
    """For all machines that serve one PostgreSQL. On a connection of its own: migrating may end the other."""
    own = connections.create_connection("default")
    try:
        with own.cursor() as cursor:
            cursor.execute("SELECT pg_try_advisory_lock(%s)", [KEY])
            if cursor.fetchone() != (True,):
                say(_WAITS)
                cursor.execute("SELECT pg_advisory_lock(%s)", [KEY])
        yield
    finally:
        own.close()


@contextlib.contextmanager
def _in_folder(say: Say) -> Iterator[None]:
    """For the embedded database: it is one machine's."""
    with (settings.DATA / "preparing.lock").open("ab") as file:
        if not _locked(file):
            say(_WAITS)
            while not _locked(file):
                time.sleep(AGAIN_SECONDS)
        yield


def _locked(file: IO[bytes]) -> bool:
    """Whether the file could be locked; closing it lets go."""
    if sys.platform == "win32":
        return _locked_on_windows(file)
    import fcntl

    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _locked_on_windows(file: IO[bytes]) -> bool:
    if sys.platform != "win32":
        return False
    import msvcrt  # there is no fcntl there

    file.seek(0)
    try:
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
    except OSError:
        return False
    return True


def sweep() -> None:
    """Takes out what nobody can use any more: sessions that have ended, counters whose time is over, half files."""
    sweep_halves(settings.PROOFS)
    now = timezone.now()
    Session.objects.filter(expire_date__lt=now).delete()
    UserSession.objects.exclude(session_key__in=Session.objects.values("session_key")).delete()
    table = connection.ops.quote_name(settings.CACHES["default"]["LOCATION"])
    with connection.cursor() as cursor:
        # the table is not a model's: Django's cache writes it, and sweeps only when it is full
        cursor.execute(
            f"DELETE FROM {table} WHERE expires < %s",  # noqa: S608  (the name is from the settings)
            [connection.ops.adapt_datetimefield_value(now.replace(microsecond=0))],
        )
