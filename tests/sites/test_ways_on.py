"""Nobody is led to an address that only takes forms, and whoever gets there sees a page."""

import time

import pytest
from django.urls import reverse

from planner.urls import SIGN_IN
from sites.urls import urlpatterns
from sites.web import sessions
from sites.web.ways_on import NOT_DONE, NOT_SAVED, nearest, takes_look
from tests.door import PASSWORD, reauthenticated, sign_in

HOUR = 3600
FORM = "/at/larkfield/sites"  # takes a form alone
PAGE = "/at/larkfield/"


@pytest.fixture
def idle(monkeypatch):
    """The clock moved on by more than an idle session lasts."""

    def moved():
        now = time.time() + 13 * HOUR
        monkeypatch.setattr(sessions.time, "time", lambda: now)

    return moved


@pytest.fixture
def lead(people):
    people["lead"].set_password(PASSWORD)
    people["lead"].save()
    return people["lead"]


def sent(client, url=FORM, referer="http://testserver" + PAGE, **more):
    headers = {"Referer": referer} if referer else {}
    return client.post(url, {"name": "Barn", "code": "barn"}, headers=headers, **more)


@pytest.mark.parametrize(
    ("referer", "page"),
    [
        ("http://testserver" + PAGE, PAGE),
        ("http://testserver" + PAGE + "?q=1", PAGE + "?q=1"),
        ("http://elsewhere.example" + PAGE + "x/", PAGE),
        ("http://[odd", PAGE),
        ("http://testserver" + FORM, PAGE),
        ("http://testserver/nowhere/at/all", PAGE),
        ("", PAGE),
    ],
)
def test_a_form_sent_after_the_idle_end_leads_back_to_its_page(
    referer, page, lead, site, client, idle, monkeypatch
):
    sign_in(client, lead.email)
    idle()
    answer = sent(client, referer=referer)
    monkeypatch.undo()
    shown = client.get(answer["Location"]).content.decode()
    assert NOT_SAVED in shown and sessions.IDLE in shown
    on = client.post(answer["Location"], {"login": lead.email, "password": PASSWORD})
    assert on["Location"] == page and client.get(page).status_code == 200


def test_a_page_that_was_looked_at_is_led_back_to_itself(lead, site, client, idle):
    sign_in(client, lead.email)
    idle()
    answer = client.get("/at/larkfield/mill/brief/?add=contacts")
    assert answer["Location"].endswith("?next=/at/larkfield/mill/brief/%3Fadd%3Dcontacts")
    assert NOT_SAVED not in client.get(answer["Location"]).content.decode()


def test_what_a_page_sends_by_itself_is_not_said_to_be_lost(site, client):
    answer = sent(client, HTTP_ACCEPT="application/json")
    assert NOT_SAVED not in client.get(answer["Location"]).content.decode()


def test_a_form_of_a_part_of_a_page_leads_back_too(site, client):
    answer = sent(client, HTTP_HX_REQUEST="true")
    assert answer["HX-Redirect"] == "/sign-in/login/?next=%2Fat%2Flarkfield%2F"


def test_after_the_password_once_more_no_form_is_asked_for_as_a_page(staff, people, client):
    """What was sent first is taken up again; where that is lost, the page it belongs to comes."""
    client.force_login(staff)
    person = f"/house/people/{people['reader'].pk}"
    again = client.post(person + "/end")["Location"]
    assert again.startswith("/sign-in/reauthenticate/")
    session = client.session
    del session["account_reauthentication_state"]
    session.save()
    answer = client.post(again, {"password": "paper-and-pencil"})
    assert answer["Location"] == person
    assert NOT_DONE in client.get(person).content.decode()


def test_what_was_sent_is_taken_up_after_the_password_once_more(staff, people, client):
    client.force_login(staff)
    place = f"/house/people/{people['reader'].pk}/end"
    again = client.post(place)["Location"]
    client.post(again, {"password": "paper-and-pencil"})
    people["reader"].refresh_from_db()
    assert not people["reader"].is_active


def test_signing_in_leads_to_no_form(lead, site, client):
    answer = client.post(
        f"/sign-in/login/?next={FORM}", {"login": lead.email, "password": PASSWORD}
    )
    assert answer["Location"] == PAGE


# -- the page of a method that is not taken --------------------------------------------------------


def every_address() -> list[str]:
    """An address of every pattern, with keys that fit and lead nowhere."""
    found = []
    for pattern in [*urlpatterns, *SIGN_IN]:
        names = {*pattern.pattern.converters, *pattern.pattern.regex.groupindex}
        known = {"customer": "larkfield", "site": "mill", "uidb36": "1", "key": "a-b"}
        found.append(reverse(pattern.name, kwargs={name: known.get(name, 1) for name in names}))
    return found


def test_what_takes_a_look_is_read_from_the_views_themselves(site, staff, client):
    """Held against every address: GET answers 405 where it says so, and nowhere else."""
    client.force_login(staff)
    reauthenticated(client, staff)
    shut = 0
    for url in every_address():
        status = client.get(url).status_code
        if status != 404:  # its keys led nowhere before its method was asked
            assert takes_look(url) == (status != 405), url
        shut += status == 405
    assert shut > 25


def test_the_page_says_what_it_is_and_where_to_go(site, staff, client):
    client.force_login(staff)
    answer = client.get(FORM)
    page = answer.content.decode()
    assert answer.status_code == 405 and answer["Allow"] == "POST"
    assert "<h1>This is no page</h1>" in page and f'href="{PAGE}"' in page
    assert "css/base.css" in page


def test_nobody_signed_in_sees_it_too(db, client):
    answer = client.get("/invitation/odd/come-in")
    assert answer.status_code == 405 and b"This is no page" in answer.content


def test_the_nearest_page_is_one_that_takes_a_look():
    assert nearest("/house/people/5/sessions/7/end") == "/house/people/5"
    assert nearest("/at/larkfield/mill/answer/key") == "/at/larkfield/mill/brief/"
    assert nearest("/at/larkfield/member/5") == "/at/larkfield/"
    assert nearest("/odd") == "/"
    assert takes_look("/nowhere") and not takes_look(FORM)
