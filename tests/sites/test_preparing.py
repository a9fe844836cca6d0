"""Preparing a house: one at a time, and what has expired is swept out."""

import contextlib
import datetime as dt
import io
import threading

import pytest
from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from sites.management.commands import serve
from sites.web.preparing import one_preparer, sweep


def _counters() -> int:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM deskwright_counters")
        return cursor.fetchone()[0]


@pytest.fixture
def in_database(settings):
    settings.CACHES = {
        "default": {
            "BACKEND": "django.core.cache.backends.db.DatabaseCache",
            "LOCATION": "deskwright_counters",
        }
    }


def test_ended_sessions_and_counters_are_swept_and_others_stay(in_database, people, enter):
    enter(people["reader"])
    now = timezone.now()
    Session.objects.create(
        session_key="old", session_data="", expire_date=now - dt.timedelta(days=1)
    )
    for key in ("old", Session.objects.exclude(session_key="old").get().session_key):
        UserSession.objects.update_or_create(
            session_key=key,
            defaults={"user": people["reader"], "ip": "192.0.2.1", "user_agent": "x"},
        )
    cache.set("over", 1, timeout=-10)
    cache.set("counts", 2, timeout=600)
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE deskwright_counters SET expires = %s WHERE cache_key LIKE %s",
            [connection.ops.adapt_datetimefield_value(now - dt.timedelta(hours=1)), "%over"],
        )
    sweep()
    assert not Session.objects.filter(session_key="old").exists() and Session.objects.count() == 1
    assert UserSession.objects.count() == 1
    assert cache.get("counts") == 2 and _counters() == 1


@pytest.mark.django_db(transaction=True)
def test_one_prepares_and_the_other_says_that_it_waits(tmp_path, settings):
    settings.DATA = tmp_path
    order, said = [], []
    inside, go_on = threading.Event(), threading.Event()

    def first():
        with one_preparer(said.append):
            inside.set()
            go_on.wait(30)
            order.append("first")
        connection.close()

    def second():
        with one_preparer(tells):
            order.append("second")
        connection.close()

    told: list[str] = []
    waits = threading.Event()

    def tells(words):
        told.append(words)
        waits.set()

    threads = [threading.Thread(target=first), threading.Thread(target=second)]
    threads[0].start()
    assert inside.wait(10)
    threads[1].start()
    assert waits.wait(10)
    assert order == [] and len(told) == 1 and "Waiting" in told[0]
    go_on.set()
    for one in threads:
        one.join(10)
    assert order == ["first", "second"] and not said


def test_who_fails_while_preparing_lets_the_next_one_in(tmp_path, settings, db):
    settings.DATA = tmp_path
    with contextlib.suppress(RuntimeError), one_preparer(print):
        raise RuntimeError
    said: list[str] = []
    with one_preparer(said.append):
        assert not said


@pytest.mark.parametrize(
    ("words", "done"),
    [
        ((), ["prepare", "server"]),
        (("--prepare-only",), ["prepare"]),
        (("--no-prepare",), ["server"]),
    ],
)
def test_serve_prepares_and_becomes_the_server(words, done, monkeypatch):
    happened = []
    monkeypatch.setattr(serve, "call_command", lambda name, **_: happened.append(name))
    monkeypatch.setattr(serve, "become_server", lambda address, workers: happened.append("server"))
    call_command("serve", *words, stdout=io.StringIO())
    assert happened == done
