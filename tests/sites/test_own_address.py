"""Whose address it is, and changing one's own, as its owner and as an attacker."""

import datetime as dt
import re

import pytest
from django.core import mail
from django.test import RequestFactory
from django.utils import timezone

from sites.actions.own_address import ask, prove
from sites.actions.stages import Refused
from sites.models import AddressLetter, Person
from sites.web import devices
from tests.pages import without_tokens

PASSWORD = "reeds-by-the-pond"


@pytest.fixture(autouse=True)
def by_letter(settings):
    settings.SENDS_MAIL = True


@pytest.fixture
def tom(db):
    return Person.objects.create_user("tom@larkfield.example", PASSWORD, name="Tom Reed")


@pytest.fixture
def signed_in(client):
    """Signs in through the door with the password, and again where it is asked for."""

    def entered(person, password=PASSWORD):
        client.logout()
        client.post("/sign-in/login/", {"login": person.email, "password": password})
        client.post("/sign-in/reauthenticate/", {"password": password})
        return client

    return entered


def secret_in(letter) -> str:
    return re.search(r"/you/address/(\S+)", letter.body)[1]


def test_changing_ones_address_takes_a_letter_to_the_new_one(tom, signed_in):
    client = signed_in(tom)
    client.post("/you/address", {"email": "Tom.Reed@larkfield.example"})
    [letter] = mail.outbox
    assert letter.to == ["tom.reed@larkfield.example"]
    tom.refresh_from_db()
    assert tom.email == "tom@larkfield.example" and tom.proven_at is None  # nothing yet
    page = "/you/address/" + secret_in(letter)
    assert client.get(page).status_code == 200
    tom.refresh_from_db()
    assert tom.proven_at is None  # looking is not answering
    client.post(page)
    tom.refresh_from_db()
    assert tom.email == "tom.reed@larkfield.example" and tom.proven_at
    assert mail.outbox[-1].to == ["tom@larkfield.example"] and "was changed" in mail.outbox[-1].body
    assert client.get("/you").status_code == 200  # this device stays
    assert client.post(page).status_code == 410  # it worked once


def test_a_change_of_address_signs_out_the_other_devices(tom, signed_in, django_user_model):
    from django.test import Client

    elsewhere = Client()
    elsewhere.force_login(tom)
    assert elsewhere.get("/you").status_code == 200
    client = signed_in(tom)
    client.post("/you/address", {"email": "new@larkfield.example"})
    client.post("/you/address/" + secret_in(mail.outbox[0]))
    assert elsewhere.get("/you").status_code == 302


def test_the_present_address_is_proven_the_same_way(tom, signed_in):
    client = signed_in(tom)
    client.post("/you/address", {"email": tom.email})
    client.post("/you/address/" + secret_in(mail.outbox[0]))
    tom.refresh_from_db()
    assert tom.proven_at and len(mail.outbox) == 1  # nobody is told of a change that was none


def test_it_takes_the_password_first(tom, client):
    """A session left open, or stolen, moves no address."""
    client.force_login(tom)
    answer = client.post("/you/address", {"email": "thief@elsewhere.example"})
    assert answer.status_code == 302 and "/sign-in/reauthenticate/" in answer.url
    assert not AddressLetter.objects.exists() and not mail.outbox


def test_only_who_asked_can_bring_the_secret_back(tom, client):
    """Mallory asks for Noor's address in Noor's own account? The secret opens it for nobody else."""
    mallory = Person.objects.create_user("mallory@elsewhere.example", PASSWORD)
    secret = ask(by=mallory, email="noor@larkfield.example")
    client.force_login(tom)
    assert client.get(f"/you/address/{secret}").status_code == 410
    assert client.post(f"/you/address/{secret}").status_code == 410
    tom.refresh_from_db()
    assert tom.email == "tom@larkfield.example"


def test_an_address_that_is_anothers_for_good_is_not_taken_and_not_told(tom, signed_in):
    """Finding 1a: any address could be added, and nothing said whose it was."""
    Person.objects.create_user(
        "noor@larkfield.example", proven_at=timezone.now(), name="Noor Marsh"
    )
    Person.objects.create_superuser("ida@house.example")
    client = signed_in(tom)
    client.get("/you")  # shows what was said at signing in
    pages = set()
    for email in ("noor@larkfield.example", "ida@house.example", "nobody@larkfield.example"):
        page = client.post("/you/address", {"email": email}, follow=True).content.decode()
        page = without_tokens(page)
        pages.add(page.replace(email, "ADDRESS"))
    assert len(pages) == 1
    assert ["/you/address/" in letter.body for letter in mail.outbox] == [False, False, True]
    assert "stays" in mail.outbox[0].body and "Tom" not in mail.outbox[0].body


def test_an_address_proven_by_another_meanwhile_is_not_taken(tom):
    secret = ask(by=tom, email="noor@larkfield.example")
    Person.objects.create_user("noor@larkfield.example", proven_at=timezone.now())
    with pytest.raises(Refused):
        prove(by=tom, secret=secret)


def test_proving_takes_the_address_from_an_account_that_never_did(tom, client):
    squatter = Person.objects.create_user("noor@larkfield.example", PASSWORD)
    secret = ask(by=tom, email=squatter.email)
    assert prove(by=tom, secret=secret) == "tom@larkfield.example"
    squatter.refresh_from_db()
    assert not squatter.has_address and Person.objects.get(email="noor@larkfield.example") == tom
    client.force_login(squatter)
    assert b"Give another one" in client.get("/").content


def test_letters_end_after_three_days_and_when_one_was_used(tom):
    first, second = (ask(by=tom, email=f"{name}@larkfield.example") for name in ("a", "b"))
    assert prove(by=tom, secret=second)
    with pytest.raises(Refused):
        prove(by=tom, secret=first)
    third = ask(by=tom, email="c@larkfield.example")
    AddressLetter.objects.update(ends_at=timezone.now() - dt.timedelta(seconds=1))
    with pytest.raises(Refused):
        prove(by=tom, secret=third)


def test_nobody_is_buried_in_letters(tom, signed_in):
    client = signed_in(tom)
    for number in range(9):
        client.post("/you/address", {"email": f"p{number}@larkfield.example"})
    assert len(mail.outbox) == 5


def test_without_a_mail_server_house_staff_are_asked(tom, signed_in, settings):
    settings.SENDS_MAIL = False
    client = signed_in(tom)
    assert b"House staff can change your address" in client.get("/you/address").content
    client.post("/you/address", {"email": "new@larkfield.example"})
    assert not AddressLetter.objects.exists()


def test_who_proved_an_address_stays_signed_in_and_sees_the_session(tom, signed_in):
    client = signed_in(tom)
    client.post("/you/address", {"email": "new@larkfield.example"})
    client.post("/you/address/" + secret_in(mail.outbox[0]))
    assert b"1 session open" in client.get("/you").content
    request = RequestFactory().get("/")
    request.COOKIES = {name: morsel.value for name, morsel in client.cookies.items()}
    assert devices.signed_in_before(request, Person.objects.get(pk=tom.pk))


def test_nobody_writes_to_what_stands_for_an_address(tom, signed_in):
    squatter = Person.objects.create_user("noor@larkfield.example", PASSWORD)
    client = signed_in(squatter)
    prove(by=tom, secret=ask(by=tom, email=squatter.email))
    squatter.refresh_from_db()
    assert not squatter.has_address
    client.post("/you/address", {"email": "new@larkfield.example"})
    client.post("/you/address/" + secret_in(mail.outbox[-1]))
    squatter.refresh_from_db()
    assert squatter.email == "new@larkfield.example"
    assert not [one for one in mail.outbox if "no-address" in one.to[0]]


@pytest.mark.parametrize(
    "email", ['"a\x0bb:"@x.example', '"a\x01"@x.example', "7@no-address.invalid"]
)
def test_what_is_no_address_is_refused_in_words(email, tom, signed_in):
    client = signed_in(tom)
    assert client.post("/you/address", {"email": email}).status_code == 422
    client.logout()
    assert client.post("/sign-in/password/reset/", {"email": email}).status_code == 200
    assert not mail.outbox


def test_the_band_of_who_lost_an_address_tells_no_untruth(tom, client):
    squatter = Person.objects.create_user("noor@larkfield.example", PASSWORD)
    prove(by=tom, secret=ask(by=tom, email=squatter.email))
    squatter.refresh_from_db()
    client.force_login(squatter)
    page = client.get("/").content.decode()
    assert "cannot sign in again before house staff have given you one" in page
    assert "no-address.invalid" not in page
