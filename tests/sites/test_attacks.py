"""More ways in, tried as somebody who wants to be another: what is not played beside its own room.

The table of all of them stands in DEVELOPERS.md, “Attacks on identity”; the last test holds it to the tests.
"""

import pathlib
import re

import pytest
from django.core import mail
from django.test import Client
from django.utils import timezone

from sites.actions.invitations import invite
from sites.actions.own_address import ask, prove
from sites.models import Person

ROOT = pathlib.Path(__file__).resolve().parents[2]
PASSWORD = "reeds-by-the-pond"


@pytest.fixture(autouse=True)
def by_letter(settings):
    settings.SENDS_MAIL = True


@pytest.fixture
def noor(db):
    return Person.objects.create_user("noor@larkfield.example", PASSWORD, name="Noor Marsh")


def reset_asked(client, email):
    return client.post("/sign-in/password/reset/", {"email": email})


def link_in(letter) -> str:
    return re.search(r"http://testserver(/\S+)", letter.body)[1]


def test_what_is_sent_along_makes_nobody_more_than_was_offered(people, site, client):
    _, secret = invite(
        by=people["lead"], customer=site.customer, email="ann@larkfield.example", role="reader"
    )
    sent = {"name": "Ann", "password": PASSWORD, "again": PASSWORD, "email": "ida@house.example"}
    more = {
        "role": "lead",
        "is_staff": "on",
        "is_superuser": "on",
        "customer": "other",
        "proven_at": "2026-01-01",
    }
    client.post(f"/invitation/{secret}/come-in", sent | more)
    ann = Person.objects.get(name="Ann")
    assert (ann.email, ann.is_staff, ann.is_superuser) == ("ann@larkfield.example", False, False)
    assert [(one.customer.code, one.role) for one in ann.memberships.all()] == [
        ("larkfield", "reader")
    ]


@pytest.mark.parametrize(
    "typed",
    [
        "noor@lar\N{KELVIN SIGN}field.example",
        "NOOR@LARKFIELD.EXAMPLE",
        "noor@larkfield.example, mallory@evil.example",
        "noor@larkfield.example\nBcc: mallory@evil.example",
        "noor@larkfield.example\r\n\r\nYour password is needed",
    ],
)
def test_a_reset_letter_goes_to_the_address_of_the_account_alone(noor, client, typed):
    """A letter that looks like another (the Kelvin sign lowers to “k”) is a domain of its own."""
    reset_asked(client, typed)
    addressed = {
        to
        for letter in mail.outbox
        for to in letter.recipients()
        if "password/reset/key" in letter.body
    }
    assert addressed <= {"noor@larkfield.example"}


def test_a_reset_link_ends_when_the_address_moves(noor, client):
    """Whoever reads the old mailbox later finds nothing that opens the account."""
    reset_asked(client, noor.email)
    link = link_in(mail.outbox[0])
    prove(by=noor, secret=ask(by=noor, email="noor.marsh@larkfield.example"))
    assert b'type="password"' not in client.get(link, follow=True).content


def test_a_reset_link_works_once_and_not_for_an_ended_account(noor, client):
    reset_asked(client, noor.email)
    link = link_in(mail.outbox[0])
    Person.objects.filter(pk=noor.pk).update(is_active=False)
    assert b'type="password"' not in client.get(link, follow=True).content
    Person.objects.filter(pk=noor.pk).update(is_active=True)
    form = client.get(link, follow=True)
    client.post(
        form.request["PATH_INFO"],
        {"password1": "new-reeds-by-the-pond", "password2": "new-reeds-by-the-pond"},
    )
    noor.refresh_from_db()
    assert noor.check_password("new-reeds-by-the-pond")
    assert b'type="password"' not in Client().get(link, follow=True).content


def test_no_page_sends_people_elsewhere_after_signing_in(noor, client):
    for there in (
        "https://evil.example/",
        "//evil.example/",
        "https:evil.example",
        "/\\evil.example",
        "javascript:x",
    ):
        sent = {"login": noor.email, "password": PASSWORD, "next": there}
        answer = client.post(f"/sign-in/login/?next={there}", sent)
        assert (
            answer.status_code == 302
            and "evil" not in answer["Location"]
            and "script" not in answer["Location"]
        )
        answer = client.post(f"/sign-in/logout/?next={there}", {"next": there})
        assert answer.status_code == 302 and "evil" not in answer["Location"]


def test_links_in_letters_name_no_host_of_the_senders_choosing(people, site, enter):
    client = enter(people["lead"])
    sent = {"email": "ann@larkfield.example", "name": "", "role": "reader"}
    assert client.post("/at/larkfield/members", sent, HTTP_HOST="evil.example").status_code == 400
    client.post(
        "/at/larkfield/members",
        sent,
        HTTP_X_FORWARDED_HOST="evil.example",
        HTTP_FORWARDED="host=evil.example",
    )
    assert [("evil" in letter.body) for letter in mail.outbox] == [False]


@pytest.mark.parametrize("what", ["accept", "come-in"])
def test_no_other_site_can_press_the_button(people, site, what):
    """Another site's form, or a frame around ours, is no consent."""
    _, secret = invite(
        by=people["lead"], customer=site.customer, email="ann@larkfield.example", role="reader"
    )
    client = Client(enforce_csrf_checks=True)
    client.force_login(people["outsider"])
    assert client.post(f"/invitation/{secret}/{what}", {"name": "x"}).status_code == 403
    page = client.get(f"/invitation/{secret}")
    assert (
        page["X-Frame-Options"] == "DENY"
        and "frame-ancestors 'none'" in page["Content-Security-Policy"]
    )
    assert page["Referrer-Policy"] == "same-origin" and "no-store" in page["Cache-Control"]


def test_nobody_is_signed_in_to_anothers_account_without_knowing(noor):
    """Login CSRF: whoever works in the attacker's account writes for the attacker."""
    client = Client(enforce_csrf_checks=True)
    assert (
        client.post("/sign-in/login/", {"login": noor.email, "password": PASSWORD}).status_code
        == 403
    )


def test_the_session_from_before_signing_in_opens_nothing_after(noor, client):
    client.get("/sign-in/login/")
    client.cookies["sessionid"] = "a" * 32
    client.post("/sign-in/login/", {"login": noor.email, "password": PASSWORD})
    assert client.cookies["sessionid"].value != "a" * 32
    thief = Client()
    thief.cookies["sessionid"] = "a" * 32
    assert thief.get("/you").status_code == 302


def test_an_ended_account_is_out_at_once(noor, client):
    client.force_login(noor)
    assert client.get("/you").status_code == 200
    Person.objects.filter(pk=noor.pk).update(is_active=False)
    assert client.get("/you").status_code == 302
    client.post("/sign-in/login/", {"login": noor.email, "password": PASSWORD})
    assert client.get("/you").status_code == 302


def test_an_address_in_other_letters_is_the_same_address(noor, people, site, client):
    """No second account beside Noor's by writing her address in capitals."""
    Person.objects.filter(pk=noor.pk).update(proven_at=timezone.now())
    _, secret = invite(
        by=people["lead"], customer=site.customer, email="Noor@Larkfield.EXAMPLE", role="lead"
    )
    sent = {"name": "Noor Marsh", "password": PASSWORD, "again": PASSWORD}
    assert client.post(f"/invitation/{secret}/come-in", sent).status_code == 422
    assert Person.objects.filter(email__iexact=noor.email).count() == 1


def test_a_person_without_an_address_signs_in_by_no_trick(noor, client):
    Person.objects.filter(pk=noor.pk).update(email=noor.no_address())
    noor.refresh_from_db()
    reset_asked(client, noor.email)
    assert not any("password/reset/key" in letter.body for letter in mail.outbox)


def test_the_table_of_attacks_names_tests_that_stand():
    """DEVELOPERS.md, “Attacks on identity”: at least 20 ways, each with a test of that name."""
    text = (
        (ROOT / "DEVELOPERS.md")
        .read_text(encoding="utf-8")
        .split("## Attacks on identity")[1]
        .split("\n## ")[0]
    )
    rows = [line for line in text.splitlines() if line.startswith("| ") and "`test_" in line]
    assert len(rows) >= 20
    for row in rows:
        for file, test in re.findall(r"`(test_\w+)\.(test_\w+)`", row):
            texts = [
                path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob(f"{file}.py")
            ]
            assert any(f"def {test}(" in one for one in texts), row
