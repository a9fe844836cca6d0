"""The acceptance sheet: opened by a link that ends, shows itself alone, and comes back as answers."""

import datetime as dt
import re

import pytest
from django.utils import timezone

from planner.stages import pilot
from sites.actions import once
from sites.actions.pilot import hash_of, make_link
from sites.actions.records import add_record
from sites.models import Answer, PilotLink, PilotResult, TakenForm
from sites.pages.standing import plan_of


@pytest.fixture
def planned(site, staff):
    add_record(by=staff, site=site, kind="seatgroup", values={"name": "Reception", "people": 5})
    add_record(
        by=staff, site=site, kind="host", values={"name": "secret-host", "address": "10.9.8.7"}
    )
    return site


@pytest.fixture
def sheet(planned, staff):
    link, token = make_link(by=staff, site=planned, person="Eve Sand", days=3)
    return link, f"/pilot/{token}"


def first(planned):
    return pilot.questions(plan_of(planned))[0]


def test_the_sheet_asks_in_plain_words_and_tells_nothing_internal(planned, sheet, client):
    page = client.get(sheet[1])
    words = page.content.decode()
    assert page.status_code == 200 and "Eve Sand" in words and "(Reception)" in words
    assert "secret-host" not in words and "10.9.8.7" not in words and "/at/larkfield" not in words
    assert page["Referrer-Policy"] == "same-origin" and "no-store" in page["Cache-Control"]


def test_only_the_hash_of_the_token_is_kept(sheet):
    link, url = sheet
    token = url.rsplit("/", 1)[1]
    kept = PilotLink.objects.values().get(pk=link.pk)
    assert token not in str(kept) and kept["token_hash"] == hash_of(token) and len(token) >= 32


@pytest.mark.parametrize("token", ["", "x", "A" * 32, "../../etc"])
def test_a_wrong_token_opens_nothing(planned, sheet, client, token):
    assert client.get(f"/pilot/{token}").status_code in (404, 410)


def test_an_ended_link_opens_nothing_and_keeps_nothing(planned, sheet, client, people, enter):
    link, url = sheet
    enter(people["editor"]).post(f"/at/larkfield/mill/pilot/{link.pk}/end")
    client.logout()
    assert client.get(url).status_code == 410
    assert client.post(url, {f"state-{first(planned).check}": "works"}).status_code == 410
    assert not PilotResult.objects.exists()
    PilotLink.objects.update(ends_at=timezone.now() - dt.timedelta(seconds=1))
    assert client.get(url).status_code == 410


def test_a_removed_site_takes_its_sheets_with_it(planned, sheet, client, staff):
    from sites.actions.records import remove_site

    remove_site(by=staff, site=planned)
    assert client.get(sheet[1]).status_code == 410


def test_what_is_written_is_kept_and_can_be_changed(planned, sheet, client):
    key = first(planned).check
    client.post(sheet[1], {f"state-{key}": "works", f"note-{key}": "quick"})
    client.post(sheet[1], {f"state-{key}": "fails", f"note-{key}": "black screen"})
    [result] = PilotResult.objects.all()
    assert (result.check_key, result.state, result.note) == (key, "fails", "black screen")
    assert "black screen" in client.get(sheet[1]).content.decode()


def test_only_what_is_asked_is_kept(planned, sheet, client):
    key = first(planned).check
    client.post(
        sheet[1],
        {"state-scope-agreed": "works", f"state-{key}": "perhaps", "state-nonsense": "works"},
    )
    assert not PilotResult.objects.exists()


def test_a_password_is_not_kept(planned, sheet, client):
    key = first(planned).check
    page = client.post(sheet[1], {f"state-{key}": "works", f"note-{key}": "password: hunter2"})
    assert page.status_code == 422 and not PilotResult.objects.exists()


def test_results_come_back_as_answers(planned, sheet, client, people, enter):
    link, url = sheet
    good, bad = (one.check for one in pilot.questions(plan_of(planned))[:2])
    client.post(
        url,
        {
            f"state-{good}": "works",
            f"note-{good}": "from my desk",
            f"state-{bad}": "fails",
            f"note-{bad}": "no ledger",
        },
    )
    page = (
        enter(people["editor"])
        .post(f"/at/larkfield/mill/pilot/{link.pk}/take", follow=True)
        .content.decode()
    )
    answers = {one.check_key: one for one in Answer.objects.filter(newest=True)}
    assert answers[bad].state == "failed" and "no ledger" in answers[bad].proof
    assert answers[bad].by == people["editor"] and "Eve Sand" in answers[bad].proof
    assert good not in answers or answers[good].state == "proven"
    assert ("Not answered" in page) == (good not in answers)
    link.refresh_from_db()
    assert link.taken_at is not None


def test_the_address_is_told_once(planned, people, enter):
    client = enter(people["editor"])
    page = client.post(
        "/at/larkfield/mill/pilot", {"person": "Eve", "days": "2"}, follow=True
    ).content.decode()
    url = re.search(r"http://testserver(/pilot/[\w-]+)", page)[1]
    assert url not in client.get("/at/larkfield/mill/pilot").content.decode()
    assert client.get(url).status_code == 200
    assert (
        client.post("/at/larkfield/mill/pilot", {"person": "Eve", "days": "900"}).status_code == 422
    )


def test_another_sites_sheet_is_not_found(planned, sheet, customer, staff, people, enter):
    from sites.actions.records import make_site

    make_site(by=staff, customer=customer, code="barn", name="Barn")
    assert (
        enter(people["editor"]).post(f"/at/larkfield/barn/pilot/{sheet[0].pk}/take").status_code
        == 404
    )


def test_a_form_kept_for_a_week_says_that_it_was_sent(people, planned, enter):
    client = enter(people["editor"])
    place = "/at/larkfield/mill/pilot"
    token = re.search(r'name="once" value="([^"]+)"', client.get(place).content.decode())[1]
    sent = {"person": "Eve", "days": "3", "once": token}
    client.post(place, sent)
    TakenForm.objects.all().delete()  # swept after a week
    page = client.post(place, sent, follow=True).content.decode()
    assert once.GONE in page and PilotLink.objects.count() == 1
