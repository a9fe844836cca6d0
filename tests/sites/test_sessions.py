"""Sessions: how they end, who sees them, what keeps them open."""

import datetime as dt
import time

import pytest
from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from sites.models import Person
from sites.web import sessions
from tests.door import AT, is_in, reauthenticated, sign_in, somebody

HOUR, DAY = 3600, 86_400
HTMX = {"HTTP_HX_REQUEST": "true"}
TELEPHONE = "Mozilla/5.0 (Linux; like) Gecko Mobile"


@pytest.fixture
def eve(db):
    return somebody("eve@larkfield.example", name="Eve")


@pytest.fixture
def later(monkeypatch):
    """The clock, moved on."""
    now = time.time

    def moved(seconds: float) -> None:
        monkeypatch.setattr(sessions.time, "time", lambda: now() + seconds)

    return moved


def seen(client: Client) -> int:
    return client.session[sessions.SEEN]


def test_an_idle_session_ends(eve, client, later, settings):
    sign_in(client, eve.email)
    key = client.session.session_key
    later(settings.SESSION_IDLE_HOURS * HOUR - 60)
    assert is_in(client)
    later(settings.SESSION_IDLE_HOURS * HOUR * 2)
    answer = client.get("/you")
    assert answer.status_code == 302 and answer["Location"].startswith("/sign-in/login/")
    assert sessions.IDLE in client.get(answer["Location"]).content.decode()
    assert not Session.objects.filter(session_key=key).exists()
    assert not UserSession.objects.filter(session_key=key).exists()


@pytest.mark.parametrize(
    ("method", "place"),
    [
        ("get", "/at/larkfield/mill/brief/"),
        ("get", "/at/larkfield/mill/watch"),
        ("post", "/at/larkfield/sites"),
        ("get", "/at/larkfield/mill/print/build-book.pdf"),
        ("get", "/at/larkfield/mill/print/handover.zip"),
        ("get", "/at/larkfield/mill/run/1/whole"),
    ],
)
@pytest.mark.parametrize("htmx", [False, True])
def test_every_kind_of_request_of_an_ended_session_leads_to_signing_in(
    method, place, htmx, site, people, later
):
    client = Client()
    client.force_login(people["lead"])
    later(13 * HOUR)
    answer = getattr(client, method)(place, **(HTMX if htmx else {}))
    where = answer["HX-Redirect"] if htmx else answer["Location"]
    assert where.startswith("/sign-in/login/") and answer.status_code == (200 if htmx else 302)
    assert b"Mill Street" not in answer.content


def test_a_page_left_open_does_not_keep_a_session(site, people, client, later):
    """It asks by itself every twenty seconds."""
    client.force_login(people["lead"])
    first = seen(client)
    for hour in range(1, 13):
        later(hour * HOUR - 60)
        assert client.get("/at/larkfield/mill/watch?chapter=1&counter=1").status_code in (200, 204)
        assert client.get("/at/larkfield/mill/run/1/whole?counter=1").status_code in (200, 204)
    assert seen(client) == first
    later(12 * HOUR + 60)
    assert client.get("/at/larkfield/mill/watch").status_code == 302


def test_use_keeps_it_open_and_is_noted_every_five_minutes(eve, client, later):
    client.force_login(eve)
    first = seen(client)
    later(200)
    assert is_in(client) and seen(client) == first
    later(400)
    assert is_in(client) and seen(client) >= first + 400
    for hours in (8, 16, 24):
        later(hours * HOUR)
        assert is_in(client)


def test_fourteen_days_are_the_end_whatever_happens(eve, client, later):
    sign_in(client, eve.email)
    kept = client.session
    ends = kept[sessions.BEGUN] + 14 * DAY
    for hours in range(8, 14 * 24, 8):
        later(hours * HOUR)
        assert is_in(client)
    used_late = dt.datetime.fromtimestamp(ends - 60, tz=dt.UTC)
    for one in (kept, client.session):  # neither at the start nor after use is it put off
        assert one.get_expiry_date(modification=used_late).timestamp() == ends
    row = Session.objects.get(session_key=client.session.session_key)
    assert row.expire_date.timestamp() == ends
    later(14 * DAY + 5)
    assert not is_in(client)


def test_a_session_that_does_not_know_when_it_began_is_over(eve, client):
    """Of a release before this one, with the password alone."""
    client.force_login(eve)
    kept = client.session
    del kept[sessions.BEGUN]
    kept.save()
    said = client.get(client.get("/you")["Location"]).content.decode()
    assert "or when this Deskwright is renewed" in said and sessions.IDLE not in said


def test_after_fourteen_days_of_use_nobody_is_said_to_have_been_away(eve, client, later):
    client.force_login(eve)
    kept = client.session
    kept[sessions.BEGUN] -= 14 * DAY + 5
    kept.save()
    said = client.get(client.get("/you")["Location"]).content.decode()
    assert "a session ends 14 days after it began" in said and sessions.IDLE not in said


def test_health_and_the_worker_look_at_no_session(eve, client):
    client.force_login(eve)
    for place in ("/health", "/run-worker.js"):
        with CaptureQueriesContext(connection) as asked:
            client.get(place)
        assert not [
            query for query in asked if "session" in query["sql"] or "sites_person" in query["sql"]
        ]


# -- one's own list --------------------------------------------------------------------------------


def test_ones_sessions_are_listed(eve, client):
    other = Client(HTTP_USER_AGENT=TELEPHONE)
    sign_in(other, eve.email, address="198.51.100.7")
    sign_in(client, eve.email)
    somebody_else = somebody("ann@larkfield.example")
    sign_in(Client(), somebody_else.email, address="203.0.113.9")
    page = client.get("/you/sessions").content.decode()
    assert "198.51.100.7" in page and AT in page and "203.0.113.9" not in page
    assert "A browser on a telephone" in page and page.count("this one") == 1
    assert "2 sessions open" in client.get("/you").content.decode()


def test_what_is_over_is_not_listed(eve, client, later):
    sign_in(Client(), eve.email)
    sign_in(client, eve.email)
    Person.objects.filter(pk=eve.pk).update(doors=1)
    eve.refresh_from_db()
    assert sessions.sessions_of(eve) == [] and not UserSession.objects.filter(user=eve).exists()


def test_one_session_is_ended(eve, client):
    other = Client()
    sign_in(other, eve.email)
    sign_in(client, eve.email)
    row = UserSession.objects.get(session_key=other.session.session_key)
    assert client.post(f"/you/sessions/{row.pk}/end").status_code == 302
    assert is_in(client) and not is_in(other)
    assert client.post(f"/you/sessions/{row.pk}/end").status_code == 404


def test_nobody_ends_anothers_session(eve, client):
    other = Client()
    sign_in(other, somebody("ann@larkfield.example").email)
    sign_in(client, eve.email)
    row = UserSession.objects.get(session_key=other.session.session_key)
    assert client.post(f"/you/sessions/{row.pk}/end").status_code == 404 and is_in(other)


def test_all_others_are_ended_also_those_that_no_list_knows(eve, client):
    listed, unlisted = Client(), Client()
    sign_in(listed, eve.email)
    unlisted.force_login(eve)
    sign_in(client, eve.email)
    began = client.session[sessions.BEGUN]
    assert client.post("/you/sessions/end").status_code == 302
    assert is_in(client) and not is_in(listed) and not is_in(unlisted)
    assert client.session[sessions.BEGUN] == began  # the same session, no longer than it was
    assert [one.here for one in sessions.sessions_of(Person.objects.get(pk=eve.pk))] == [False]
    assert b"this one" in client.get("/you/sessions").content


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (TELEPHONE, "a browser on a telephone"),
        ("Mozilla/5.0 (X11; Linux x86_64) Gecko", "a browser on a computer"),
        ("Mozilla/5.0 (Tablet; like) Gecko", "a browser on a tablet"),
        ("curl/8", "a program, not a browser"),
        ("", "a program, not a browser"),
    ],
)
def test_a_browser_in_plain_words(agent, words):
    assert sessions.browser(agent) == words


# -- as house staff see them -----------------------------------------------------------------------


def test_house_staff_see_and_end_somebodys_sessions(staff, eve, client):
    hers, second = Client(), Client()
    sign_in(hers, eve.email, address="198.51.100.7")
    sign_in(second, eve.email)
    sign_in(client, staff.email)
    assert b"198.51.100.7" in client.get(f"/house/people/{eve.pk}").content
    row = UserSession.objects.get(session_key=hers.session.session_key)
    client.post(f"/house/people/{eve.pk}/sessions/{row.pk}/end")
    assert not is_in(hers) and is_in(second)
    client.post(f"/house/people/{eve.pk}/sessions/end")
    assert not is_in(second)


def test_by_another_persons_page_no_other_session_is_ended(staff, eve, client):
    ann, hers = somebody("ann@larkfield.example"), Client()
    sign_in(hers, eve.email)
    reauthenticated(client, staff)
    client.force_login(staff)
    row = UserSession.objects.get(session_key=hers.session.session_key)
    assert client.post(
        f"/house/people/{ann.pk}/sessions/{row.pk}/end"
    ).status_code == 404 and is_in(hers)
