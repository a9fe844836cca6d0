"""The one front door: what is there, who gets in, what it tells to strangers."""

import logging
import re

import pytest
from allauth.account.forms import default_token_generator
from allauth.account.models import EmailAddress
from django.contrib.auth.hashers import MD5PasswordHasher
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, get_resolver

from sites.actions.people import choose_password
from sites.models import Person
from sites.web import journal
from sites.web.accounts import HouseBackend
from tests.door import LOGIN, PASSWORD, is_in, sign_in, somebody

DOOR = {
    "account_login",
    "account_logout",
    "account_inactive",
    "account_reauthenticate",
    "account_change_password",
    "account_set_password",
    "account_reset_password",
    "account_reset_password_done",
    "account_reset_password_from_key",
    "account_reset_password_from_key_done",
    "mfa_index",
    "mfa_authenticate",
    "mfa_reauthenticate",
    "mfa_activate_totp",
    "mfa_deactivate_totp",
    "mfa_view_recovery_codes",
    "mfa_generate_recovery_codes",
    "mfa_download_recovery_codes",
}
NEW = {"password1": "reeds-by-the-pond", "password2": "reeds-by-the-pond"}


@pytest.fixture
def eve(db):
    return somebody("eve@larkfield.example", name="Eve")


@pytest.fixture
def letters(settings):
    settings.SENDS_MAIL = True
    return mail.outbox


def walk(patterns, start=""):
    for one in patterns:
        place = start + str(one.pattern)
        if isinstance(one, URLPattern):
            yield place, one.name
        else:
            yield from walk(one.url_patterns, place)


def test_the_door_has_these_places_and_no_other():
    """Also that nobody includes a whole package's addresses somewhere else."""
    places = list(walk(get_resolver().url_patterns))
    assert {name for place, name in places if place.startswith("sign-in/")} == DOOR
    of_packages = ("account_", "mfa_", "usersessions_", "socialaccount_", "admin")
    elsewhere = [name for place, name in places if not place.startswith("sign-in/")]
    assert [name for name in elsewhere if not name or name.startswith(of_packages)] == []


@pytest.mark.parametrize(
    "place",
    [
        "signup/",
        "email/",
        "confirm-email/",
        "confirm-email/abc/",
        "password/set/",
        "login/code/",
        "login/code/confirm/",
        "sessions/",
        "3rdparty/",
        "2fa/webauthn/",
        "2fa/trust/",
        "",
    ],
)
@pytest.mark.parametrize("inside", [False, True])
def test_what_is_not_needed_is_not_there(place, inside, eve, client):
    if inside:
        client.force_login(eve)
    assert client.get(f"/sign-in/{place}").status_code == 404
    assert client.post(f"/sign-in/{place}", {"email": "x@larkfield.example"}).status_code == 404


def test_the_admin_is_gone(eve, client):
    assert client.get("/house/records/login/").status_code == 404


def test_an_address_is_the_same_in_any_case(eve, client):
    assert sign_in(client, " EVE@Larkfield.Example ").status_code == 302 and is_in(client)


def test_only_the_address_of_the_account_signs_in(eve, client):
    """A second address, added and called verified, was another way in."""
    EmailAddress.objects.create(
        user=eve, email="other@larkfield.example", verified=True, primary=True
    )
    assert sign_in(client, "other@larkfield.example").status_code == 200
    assert not is_in(client)
    assert sign_in(client, eve.email).status_code == 302


def test_an_ended_account_does_not_come_in_and_does_not_stay_in(eve, client):
    sign_in(client, eve.email)
    assert is_in(client)
    Person.objects.filter(pk=eve.pk).update(is_active=False)
    assert not is_in(client)
    answer = sign_in(Client(), eve.email)
    assert answer.status_code == 200 and b"not right" in answer.content


def test_nobody_learns_from_time_who_has_an_account(eve, monkeypatch):
    """As many passwords are hashed for a stranger, and for an ended account, as for somebody who is known."""
    hashed = []
    encode = MD5PasswordHasher.encode
    monkeypatch.setattr(
        MD5PasswordHasher, "encode", lambda *told: hashed.append(1) or encode(*told)
    )
    ended = somebody("gone@larkfield.example", is_active=False)
    work = []
    for email in (eve.email, "stranger@larkfield.example", ended.email):
        hashed.clear()
        assert HouseBackend().authenticate(None, email=email, password="wrong-one") is None
        work.append(len(hashed))
    assert work == [1, 1, 1]


def test_whose_session_it_is_costs_one_query_with_the_factor(eve):
    with CaptureQueriesContext(connection) as seen:
        person = HouseBackend().get_user(eve.pk)
        assert (person.factor_on, person.factor_asked) == (False, False)
    assert len(seen) == 1


def test_a_program_gets_no_other_answer(eve, client):
    """With this header allauth answers in JSON, and takes a letter's secret without the step between."""
    wants = {"HTTP_ACCEPT": "application/json"}
    answer = client.post(LOGIN, {"login": eve.email, "password": "wrong"}, **wants)
    assert answer["Content-Type"].startswith("text/html")


def test_a_password_once_more_asks_for_that_of_the_account(eve, client):
    EmailAddress.objects.create(
        user=eve, email="other@larkfield.example", verified=True, primary=True
    )
    sign_in(client, eve.email)
    client.get("/sign-in/reauthenticate/")
    assert client.post("/sign-in/reauthenticate/", {"password": "wrong"}).status_code == 200
    assert (
        client.post("/sign-in/reauthenticate/?next=/you", {"password": PASSWORD})["Location"]
        == "/you"
    )


# -- letters ---------------------------------------------------------------------------------------


def link_in(letter) -> str:
    return re.search(r"http://testserver(\S+password/reset/key\S+)", letter.body)[1]


def open_letter(client, letter) -> str:
    """Follows the link; gives the address of the form."""
    return client.get(link_in(letter), follow=True).request["PATH_INFO"]


def test_a_letter_tells_nobody_who_has_an_account(eve, letters):
    ended = somebody("gone@larkfield.example", is_active=False)
    answers = set()
    for email in (eve.email, ended.email, "stranger@larkfield.example"):
        client = Client()
        answer = client.post("/sign-in/password/reset/", {"email": email})
        page = client.get(answer["Location"])
        alike = re.sub(rb'Token": "\w+"', b"", page.content)
        answers.add((answer.status_code, answer["Location"], alike))
    assert len(answers) == 1
    assert [letter.to for letter in letters] == [
        [eve.email],
        [ended.email],
        ["stranger@larkfield.example"],
    ]
    assert ["reset/key" in letter.body for letter in letters] == [True, False, False]


def test_a_letter_goes_to_the_address_of_the_account_alone(eve, letters, client):
    EmailAddress.objects.create(
        user=eve, email="other@larkfield.example", verified=True, primary=True
    )
    client.post("/sign-in/password/reset/", {"email": "other@larkfield.example"})
    assert "reset/key" not in letters[0].body


def test_a_letter_that_came_back_proves_the_address_and_ends_every_session(eve, letters, client):
    elsewhere = Client()
    sign_in(elsewhere, eve.email)
    unlisted = Client()
    unlisted.force_login(eve)
    client.post("/sign-in/password/reset/", {"email": eve.email})
    form = open_letter(client, letters[0])
    assert client.post(form, NEW).status_code == 302
    eve.refresh_from_db()
    assert eve.proven_at and eve.doors == 1 and eve.check_password(NEW["password1"])
    assert not is_in(elsewhere) and not is_in(unlisted)
    assert not is_in(client)  # one signs in with it, and with the factor
    assert client.post(form, NEW).status_code == 200  # it worked once
    assert b"does not work any more" in Client().get(link_in(letters[0]), follow=True).content


def test_a_secret_that_no_letter_carried_proves_nothing(eve, settings):
    settings.SENDS_MAIL = False
    choose_password(
        person=eve, secret=default_token_generator.make_token(eve), password=NEW["password1"]
    )
    eve.refresh_from_db()
    assert eve.check_password(NEW["password1"]) and eve.proven_at is None


@pytest.mark.parametrize(
    "change", [{"is_active": False}, {"doors": 5}, {"email": "new@larkfield.example"}]
)
def test_a_letter_ends_with_the_account_the_address_and_all_sessions(change, eve, letters, client):
    client.post("/sign-in/password/reset/", {"email": eve.email})
    Person.objects.filter(pk=eve.pk).update(**change)
    assert b"does not work any more" in client.get(link_in(letters[0]), follow=True).content


def test_a_house_without_letters_says_so(eve, settings, client):
    settings.SENDS_MAIL = False
    page = client.get("/sign-in/password/reset/").content.decode()
    assert "<form" not in page.split("<main")[1]
    client.post("/sign-in/password/reset/", {"email": eve.email})
    assert mail.outbox == []


# -- passwords -------------------------------------------------------------------------------------


def test_a_new_password_ends_the_other_sessions(eve, client):
    other, unlisted = Client(), Client()
    sign_in(other, eve.email)
    unlisted.force_login(eve)
    sign_in(client, eve.email)
    wrong = {"oldpassword": "not-this-one", **NEW}
    assert client.post("/sign-in/password/change/", wrong).status_code == 200 and is_in(other)
    assert (
        client.post("/sign-in/password/change/", {"oldpassword": PASSWORD, **NEW}).status_code
        == 302
    )
    assert is_in(client) and not is_in(other) and not is_in(unlisted)


# -- the journal -----------------------------------------------------------------------------------


def test_the_journal_bears_no_password_and_no_typed_address(eve, client, caplog):
    caplog.set_level(logging.INFO, logger="deskwright.journal")
    sign_in(client, "stranger@larkfield.example", "my-secret-words")
    sign_in(client, eve.email, "my-secret-words")
    sign_in(client, eve.email)
    said = [line.getMessage() for line in caplog.records if line.name == "deskwright.journal"]
    assert len(said) == 3
    assert (
        "stranger" not in str(said)
        and "my-secret-words" not in str(said)
        and PASSWORD not in str(said)
    )
    assert (
        f'"person": {eve.pk}' in said[1]
        and '"from": "192.0.2.10"' in said[1]
        and "signed in" in said[2]
    )


def test_one_event_is_one_line(eve, caplog):
    caplog.set_level(logging.INFO, logger="deskwright.journal")
    journal.note("tried", person=eve, what='a\n{"event": "signed in"}', password="never")
    [line] = caplog.messages
    assert "\n" not in line and "never" not in line
