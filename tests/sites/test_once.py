"""A form that adds something counts once, however often and however simultaneously it is sent."""

import datetime as dt
import json
import re
import threading

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, connections
from django.http import QueryDict
from django.utils import timezone

from planner import exchange
from planner.record.chapters import BY_SECTION, chapter_of
from sites.actions import once
from sites.actions.customers import make_customer
from sites.actions.records import add_record, make_site, remove_record
from sites.loading import read_site
from sites.models import (
    RECORD_MODELS,
    Acceptance,
    Contact,
    Customer,
    Host,
    HouseWork,
    Network,
    PilotLink,
    Revision,
    Site,
    TakenForm,
)
from tests.people import house_staff

URL = "/at/larkfield/mill/"
TOKEN = "a-token-of-the-page-0001"


def token_on(response, before: str = "") -> str:
    """The token of the form on a page; of the first one after ``before``."""
    page = response.content.decode()
    found = re.search(r'name="once" value="([\w-]+)"', page[page.index(before) :])
    assert found, "the form carries no token"
    return found[1]


def twice(client, url: str, sent: dict, code: int = 302):
    """Sends a form two times and gives both answers."""
    answers = [client.post(url, sent) for _ in range(2)]
    assert [one.status_code for one in answers] == [code, code]
    assert answers[0].headers.get("Location") == answers[1].headers.get("Location")
    return answers


# -- every form that adds ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("host", "mill-h1"),
        ("network", "desktops"),
        ("contact", "Eve Larch"),
        ("owncheck", "The rack is labelled"),
        ("seatgroup", "Front desk"),
        ("template", "Office"),
        ("device", "printer"),
    ],
)
def test_a_record_pressed_twice_is_one(site, people, enter, kind, name):
    client = enter(people["editor"])
    part = next(one for one in BY_SECTION.values() if one.kind == kind)
    page = f"{URL}{chapter_of(part).slug}/"
    token = token_on(client.get(f"{page}?add={part.slug}"), f'id="new-{part.slug}"')
    twice(
        client,
        f"{URL}add/{part.slug}",
        {f"new-{part.slug}-name": name, f"new-{part.slug}-stage": 1, "once": token},
    )
    assert RECORD_MODELS[kind].objects.filter(site=site).count() == 1
    assert [str(one) for one in client.get(page).context["messages"]] == [f"Added: {name}."] * 2


def test_without_a_script_and_with_one(site, people, enter):
    client = enter(people["editor"])
    sent = {"new-hosts-name": "mill-h1", "once": TOKEN}
    for headers in ({}, {"HX-Request": "true"}, {}):
        assert client.post(URL + "add/hosts", sent, headers=headers).status_code in (200, 302)
    assert Host.objects.count() == 1


def test_a_site_whose_code_the_first_press_took(site, people, enter):
    client = enter(people["editor"])
    token = token_on(client.get("/at/larkfield/"), "larkfield/sites")
    twice(
        client,
        "/at/larkfield/sites",
        {"name": "Barn", "code": "barn", "purpose": "trial", "once": token},
    )
    assert Site.objects.filter(code="barn").count() == 1
    again = client.post("/at/larkfield/sites", {"name": "Barn", "code": "barn", "purpose": "trial"})
    assert again.status_code == 422  # another form means another site, and the code is taken


def test_a_customer(staff, enter):
    client = enter(staff)
    sent = {"name": "Oak Press", "code": "oak", "once": token_on(client.get("/at/"))}
    twice(client, "/at/", sent)
    assert Customer.objects.filter(code="oak").count() == 1


def test_a_copy(site, people, enter):
    client = enter(people["editor"])
    sent = {
        "customer": "larkfield",
        "name": "Barn",
        "code": "barn",
        "once": token_on(client.get(URL + "copy")),
    }
    twice(client, URL + "copy", sent)
    assert Site.objects.count() == 2


def test_a_site_brought_in(site, people, enter):
    client = enter(people["lead"])
    document = json.dumps(exchange.to_document(read_site(site)), default=str).encode()
    page = client.post("/at/larkfield/bring-in", {"file": SimpleUploadedFile("s.json", document)})
    sent = {"parcel": page.context["parcel"], "name": "Barn", "code": "barn", "purpose": "trial"}
    twice(client, "/at/larkfield/bring-in", {**sent, "once": token_on(page)})
    assert Site.objects.filter(code="barn").count() == 1


@pytest.mark.parametrize("what", ["step", "check"])
def test_what_the_house_asks_for(staff, enter, what):
    client = enter(staff)
    url = f"/house/work/add/{what}"
    twice(
        client,
        url,
        {"name": "Photograph the rack", "stage": "3", "once": token_on(client.get(url))},
    )
    assert HouseWork.objects.count() == 1


def test_a_pilot_link_shows_the_same_address_twice(site, people, enter):
    client = enter(people["editor"])
    token = token_on(client.get(URL + "pilot"), "A new sheet")
    twice(client, URL + "pilot", {"person": "Eve", "days": 7, "once": token})
    assert PilotLink.objects.count() == 1
    said = {str(one) for one in client.get(URL + "pilot").context["messages"]}
    assert len(said) == 1
    address = re.search(r"/pilot/[\w-]+", said.pop())[0]
    assert client.get(address).status_code == 200


def test_what_is_kept_of_a_pilot_link_opens_it_to_nobody(site, people, enter):
    """The token of the form is not kept, and the secret does not follow from what is."""
    client = enter(people["editor"])
    client.post(URL + "pilot", {"person": "Eve", "days": 7, "once": TOKEN})
    kept = TakenForm.objects.get()
    assert TOKEN not in kept.token and kept.token != PilotLink.objects.get().token_hash
    first, second = (
        sent_as(people["editor"], "pilot link", TOKEN + end).secret for end in ("", "x")
    )
    assert first != second and len(first) >= 43


def test_a_revision(site, people, enter):
    client = enter(people["lead"])
    token = token_on(client.get(URL + "papers/"))
    twice(client, URL + "freeze", {"reason": "Sent to the owner of the network.", "once": token})
    assert Revision.objects.count() == 1


def test_an_acceptance(site, people, enter, trial_rule):
    client = enter(people["lead"])
    url = f"{URL}accept/{trial_rule(site)}"
    day = (timezone.localdate() + dt.timedelta(days=30)).isoformat()
    twice(client, url, {"reason": "For now.", "look_again": day, "once": token_on(client.get(url))})
    assert Acceptance.objects.count() == 1


def test_pasted_rows(site, people, enter):
    client = enter(people["editor"])
    rows = (
        "\tdesktops\t40\n\tdesktops\t41\n"  # without names: nothing else tells that they are there
    )
    page = client.post(
        URL + "paste/networks", {"rows": rows, "once": token_on(client.get(URL + "paste/networks"))}
    )
    twice(client, URL + "paste/networks", {"rows": rows, "confirm": "yes", "once": token_on(page)})
    assert Network.objects.count() == 2


def test_further_hosts_of_a_what_if(site, staff, people, enter):
    host = add_record(
        by=staff, site=site, kind="host", values={"name": "mill-h1", "memory_gib": 64.0}
    )
    client = enter(people["editor"])
    tried = {f"host-{host.pk}-more": "2"}
    token = token_on(client.get(URL + "what-if", tried))
    twice(client, URL + "what-if/keep", {**tried, "once": token})
    assert Host.objects.count() == 3


# -- what counts as the same ---------------------------------------------------------------------


def test_without_a_token_every_press_counts(site, people, enter):
    client = enter(people["editor"])
    for _ in range(2):
        assert client.post(URL + "add/hosts", {"new-hosts-name": "mill-h1"}).status_code == 302
    assert Host.objects.count() == 2 and not TakenForm.objects.exists()


@pytest.mark.parametrize(
    "token", ["", "short", "x" * 65, "with a blank in the middle", "<script>alert(1)</script>"]
)
def test_a_token_that_is_none_is_passed_over(site, people, enter, token):
    client = enter(people["editor"])
    client.post(URL + "add/hosts", {"new-hosts-name": "mill-h1", "once": token})
    assert Host.objects.count() == 1 and not TakenForm.objects.exists()


def test_back_changed_and_sent_again_is_another_record(site, people, enter):
    client = enter(people["editor"])
    for name in ("mill-h1", "mill-h2"):
        client.post(URL + "add/hosts", {"new-hosts-name": name, "once": TOKEN})
    assert set(Host.objects.values_list("name", flat=True)) == {"mill-h1", "mill-h2"}


def test_anothers_token_is_none_of_mine(site, people, enter):
    for who in ("editor", "lead"):
        enter(people[who]).post(URL + "add/hosts", {"new-hosts-name": "mill-h1", "once": TOKEN})
    assert Host.objects.count() == 2


def test_a_token_means_nothing_at_another_site(site, staff, customer, people, enter):
    make_site(by=staff, customer=customer, code="barn", name="Barn")
    client = enter(people["editor"])
    for code in ("mill", "barn"):
        client.post(f"/at/larkfield/{code}/add/hosts", {"new-hosts-name": "h1", "once": TOKEN})
    assert set(Host.objects.values_list("site__code", flat=True)) == {"mill", "barn"}


def test_a_form_shown_again_keeps_its_token_and_a_new_row_has_a_new_one(site, people, enter):
    client = enter(people["editor"])
    token = token_on(client.get(URL + "hosts/?add=hosts"), 'id="new-hosts"')
    bad = client.post(
        URL + "add/hosts", {"new-hosts-name": "h1", "new-hosts-memory_gib": "lots", "once": token}
    )
    assert bad.status_code == 422 and token_on(bad, 'id="new-hosts"') == token
    assert (
        client.post(URL + "add/hosts", {"new-hosts-name": "h1", "once": token}).status_code == 302
    )
    assert token_on(client.get(URL + "hosts/?add=hosts"), 'id="new-hosts"') != token


def test_what_was_removed_since_is_not_said_to_be_there(site, staff, people, enter):
    client = enter(people["editor"])
    sent = {"new-hosts-name": "mill-h1", "once": TOKEN}
    client.post(URL + "add/hosts", sent)
    remove_record(by=staff, record=Host.objects.get())
    page = client.post(URL + "add/hosts", sent, follow=True).content.decode()
    assert Host.objects.count() == 1 and once.GONE in page


def test_what_failed_is_not_noted(people, site):
    sent = sent_as(people["editor"], "host", TOKEN)

    def fail():
        raise RuntimeError

    with pytest.raises(RuntimeError):
        once.take(sent, valid=lambda: True, make=fail)
    assert not TakenForm.objects.exists()
    assert once.take(sent, valid=lambda: True, make=lambda: 7) == once.Made(7, before=False)
    assert once.take(sent, valid=lambda: False, make=fail) == once.Made(7, before=True)


def test_the_twin_that_came_through_while_the_form_was_looked_at(people, site):
    """The second press found its code taken, because the first one had just taken it."""
    sent = sent_as(people["editor"], "site", TOKEN)

    def trips_over_the_first() -> bool:
        once.take(sent, valid=lambda: True, make=lambda: 7)
        return False

    assert once.take(sent, valid=trips_over_the_first, make=lambda: 8) == once.Made(7, before=True)


def sent_as(person, what: str, token: str) -> once.Sent:
    form = QueryDict(mutable=True)
    form["once"] = token
    return once.Sent(person, what, 1, form)


def test_old_ones_are_swept(people, site, django_capture_on_commit_callbacks):
    for n, days in enumerate((8, 6)):
        row = TakenForm.objects.create(by=people["editor"], token=f"{n}", kind="host", record=n)
        TakenForm.objects.filter(pk=row.pk).update(at=timezone.now() - dt.timedelta(days=days))
    with django_capture_on_commit_callbacks(execute=True):
        once.take(sent_as(people["editor"], "host", TOKEN), valid=lambda: True, make=lambda: 7)
    assert sorted(TakenForm.objects.values_list("record", flat=True)) == [1, 7]


# -- at the same moment --------------------------------------------------------------------------


@pytest.mark.django_db(transaction=True)
def test_presses_at_the_same_moment_make_one():
    """Threads with connections of their own. Where the tests' SQLite lies in memory, they share one lock; two
    processes on a file are tried in ``tests/kills``."""
    staff = house_staff()
    customer = make_customer(by=staff, values={"name": "Larkfield", "code": "larkfield"})
    site = make_site(by=staff, customer=customer, code="mill", name="Mill")
    ready = threading.Barrier(6)
    found, failed = [], []

    def press():
        try:
            ready.wait(10)
            add = lambda: add_record(by=staff, site=site, kind="contact", values={"name": "Eve"})  # noqa: E731
            found.append(once.take(sent_as(staff, "contact", TOKEN), valid=lambda: True, make=add))
        except Exception as error:
            failed.append(error)
        finally:
            if connection.vendor == "postgresql":
                connections.close_all()

    threads = [threading.Thread(target=press) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    if connection.vendor != "postgresql" and failed:
        assert all(
            "locked" in str(error) for error in failed
        )  # in memory nobody waits; nothing is made twice
    else:
        assert not failed
        assert sorted(one.before for one in found) == [False] + [True] * 5
        assert len({one.record for one in found}) == 1
    assert Contact.objects.count() == 1 and TakenForm.objects.count() == 1
