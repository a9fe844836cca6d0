"""Run sheets: every step and check opens, what is sent is done once, nothing newer is overwritten, steps
wait for each other, times are the site's."""

import datetime as dt
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from planner import work_out
from planner.stages.readiness import finished
from sites.actions import stages as actions
from sites.actions import steps as step_actions
from sites.actions.records import add_record
from sites.loading import read_site
from sites.models import Answer, Proof, Site, StepDone
from tests.sites.test_proofs import picture

URL = "/at/larkfield/mill/"
RUN = URL + "run/1/"
SCOPE, ROOM = RUN + "check/scope-agreed/", RUN + "check/room-seen/"
JSON = {"Accept": "application/json"}


def plan(site):
    return work_out(read_site(Site.objects.select_related("customer").get(pk=site.pk)))


def send(client, url=SCOPE, token="t1", state="proven", note="Read aloud.", seen=0, **more):
    sent = {"state": state, "note": note, "seen": seen, "token": token, **more}
    return client.post(url, sent, headers=JSON)


# -- pages ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("standing", ["reader", "editor", "lead"])
def test_every_step_and_check_of_a_stage_opens(site, staff, people, enter, standing):
    add_record(
        by=staff,
        site=site,
        kind="host",
        values={"name": "mill-h1", "address": "10.44.0.11", "weight_kg": 30.0},
    )
    client = enter(people[standing])
    page = client.get(URL + "run/3/").content.decode()
    urls = re.findall(r'<li><a href="([^"]+)"', page)
    sheet = plan(site).stages.stage(3).sheet
    assert len(urls) == len(sheet) > 20
    for url, one in zip(urls, sheet, strict=True):
        found = client.get(url)
        text = found.content.decode()
        assert found.status_code == 200 and f"{one.number} {one.kind}" in text
        may = standing == "lead" or (standing == "editor" and getattr(one, "who", "") != "lead")
        assert ("data-run-form" in text) == may


@pytest.mark.parametrize("number", range(1, 9))
def test_every_run_sheet_opens_with_one_heading(site, people, enter, number):
    page = enter(people["editor"]).get(f"{URL}run/{number}/").content.decode()
    assert page.count("<h1") == 1 and "Next:" in page


def test_a_step_beside_which_nothing_runs_says_so(site, people, enter):
    client = enter(people["editor"])
    words = "stand by; nothing else runs beside it."
    assert words in client.get(URL + "run/6/step/test-power-cut/").content.decode()
    assert words not in client.get(URL + "run/3/step/power-hosts/").content.decode()
    assert client.get(URL + "stages/6/").content.decode().count(words) == 1


@pytest.mark.parametrize(
    "url",
    [
        "run/9/",
        "run/1/check/no-such/",
        "run/1/step/scope-agreed/",
        "run/2/check/room-seen/",
        "run/1/page/room-seen/",
    ],
)
def test_what_is_not_there_is_not_there(site, people, enter, url):
    assert enter(people["lead"]).get(URL + url).status_code == 404


def test_the_whole_stage_comes_in_one_piece_and_only_when_it_moved(site, people, enter):
    client = enter(people["editor"])
    site.refresh_from_db()
    text = client.get(RUN + "whole").content.decode()
    pages = re.findall(r'class="run-item" data-path="([^"]+)"', text)
    assert (
        len(pages) == len(set(pages)) == len(plan(site).stages.stage(1).sheet) + 1
    )  # and the first page
    counter = re.search(r'data-counter="(\d+)"', text)[1]
    assert client.get(f"{RUN}whole?counter={counter}").status_code == 204
    send(client)
    assert client.get(f"{RUN}whole?counter={counter}").status_code == 200


def test_times_are_the_sites_own(site, people, enter):
    Site.objects.filter(pk=site.pk).update(time_zone="Asia/Kathmandu")  # UTC+5:45
    at = dt.datetime(2026, 3, 1, 9, 0, tzinfo=dt.UTC)
    actions.give_answer(by=people["editor"], site=site, key="scope-agreed", state="trust", at=at)
    client = enter(people["reader"])
    for url in (SCOPE, URL + "stages/1/", URL + "answer/scope-agreed"):
        assert "14:45" in client.get(url).content.decode()
    Site.objects.filter(pk=site.pk).update(time_zone="Nowhere/Land")
    assert "09:00" in client.get(SCOPE).content.decode()


# -- once and only once --------------------------------------------------------------------------


def test_sent_twice_is_kept_once_and_answered_the_same(site, people, enter):
    client = enter(people["editor"])
    first, again = send(client), send(client)
    assert (
        (first.status_code, first.json())
        == (again.status_code, again.json())
        == (200, first.json())
    )
    assert first.json()["seen"] == Answer.objects.get().pk


def test_sent_again_after_somebody_else_answered_changes_nothing(site, people, enter):
    mine = send(enter(people["editor"])).json()
    send(enter(people["lead"]), token="t2", state="failed", note="Not agreed.", seen=mine["seen"])
    again = send(enter(people["editor"]))
    assert (again.status_code, again.json()["seen"]) == (200, mine["seen"])
    assert [(one.state, one.newest) for one in Answer.objects.order_by("pk")] == [
        ("proven", False),
        ("failed", True),
    ]


def test_two_that_come_at_once_are_kept_once(site, people):
    """Neither saw the other's when it began: what decides is looked at again under the site's lock."""
    check = plan(site).stages.checks["scope-agreed"]
    said = {
        "by": people["editor"],
        "role": "editor",
        "site": site,
        "check": check,
        "state": "proven",
        "proof": "Read.",
    }
    first, second = (actions.answer_check(**said, seen=0, token="t1") for _ in range(2))
    assert first.pk == second.pk == Answer.objects.get().pk


def test_a_token_is_its_own_persons(site, people, enter):
    mine = send(enter(people["editor"])).json()
    theirs = send(enter(people["lead"]), note="I read it too.", seen=mine["seen"])
    assert theirs.status_code == 200 and theirs.json()["seen"] != mine["seen"]
    assert Answer.objects.count() == 2


def test_photos_sent_twice_are_kept_once(site, people, enter):
    client = enter(people["editor"])
    for _ in range(2):
        photo = SimpleUploadedFile("rack.jpg", picture())
        assert send(client, ROOM, files=[photo]).status_code == 200
    assert (Answer.objects.count(), Proof.objects.count()) == (1, 1)


def test_a_refused_answer_may_be_mended_and_sent_with_the_same_token(site, people, enter):
    client = enter(people["editor"])
    refused = send(client, note=" ")
    assert refused.status_code == 422 and "proven needs a proof" in refused.json()["refused"]
    assert not Answer.objects.exists()
    assert send(client, note="Read aloud.").status_code == 200


def test_what_was_sent_counts_though_the_check_is_gone(site, staff, people, enter):
    own = add_record(
        by=staff,
        site=site,
        kind="owncheck",
        values={"name": "The chair has its own network", "stage": 1},
    )
    url = f"{RUN}check/own@{own.anchor}/"
    client = enter(people["editor"])
    seen = send(client, url).json()["seen"]
    own.delete()
    assert (send(client, url).status_code, send(client, url).json()["seen"]) == (200, seen)
    assert send(client, url, token="new").status_code == 404


@pytest.mark.parametrize("token", ["x" * 65, "a b", "<script>", "é"])
def test_a_token_is_only_a_token(site, people, enter, token):
    assert send(enter(people["editor"]), token=token).status_code == 422


# -- nothing newer is overwritten ----------------------------------------------------------------


def test_a_newer_answer_stands_and_both_are_shown(site, people, enter):
    send(enter(people["lead"]), state="failed", note="They want it in writing.")
    client = enter(people["editor"])
    clash = send(client, note="Read aloud & agreed.")
    newest = Answer.objects.get()
    assert clash.status_code == 409 and clash.json()["seen"] == newest.pk
    for words in (
        "They want it in writing.",
        "Read aloud &amp; agreed.",
        "lead@larkfield.example",
        "Keep theirs",
    ):
        assert words in clash.json()["clash"]
    assert newest.state == "failed"
    assert (
        send(client, seen=newest.pk, token="t2").status_code == 200
    )  # looked at both, and mine is newer
    assert Answer.objects.get(newest=True).state == "proven"


def test_without_script_both_are_shown_too(site, people, enter):
    send(enter(people["lead"]), state="failed", note="They want it in writing.")
    client = enter(people["editor"])
    sent = {"state": "proven", "note": "Read aloud.", "seen": 0, "token": "t9", "value": "x"}
    response = client.post(SCOPE, sent)
    page = response.content.decode()
    assert (
        response.status_code == 409 and "They want it in writing." in page and "Read aloud." in page
    )
    form = page[page.index("data-run-clash") :]
    again = dict(
        re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form[: form.index("</form>")])
    )
    assert again.pop("csrfmiddlewaretoken", "") is not None
    response = client.post(SCOPE, again)
    assert response.status_code == 302
    newest = Answer.objects.get(newest=True)
    assert (newest.state, newest.proof, newest.value) == ("proven", "Read aloud.", "x")


def test_a_page_that_does_not_say_what_it_saw_overwrites_nothing(site, people, enter):
    send(enter(people["lead"]), state="failed", note="No.")
    response = enter(people["editor"]).post(
        SCOPE, {"state": "proven", "note": "Yes."}, headers=JSON
    )
    assert response.status_code == 409


# -- who may -------------------------------------------------------------------------------------


def test_who_may_answer(site, people, enter):
    assert send(enter(people["reader"])).status_code == 403
    assert send(enter(people["outsider"])).status_code == 404
    assert send(enter(None)).status_code == 302
    signed = f"{URL}run/8/check/nothing-on-trust/"
    assert "Only a lead" in send(enter(people["editor"]), signed).json()["refused"]
    assert "only a lead" in send(enter(people["editor"]), state="excused").json()["refused"]
    assert send(enter(people["lead"]), signed).status_code == 200
    assert Answer.objects.count() == 1


# -- when ----------------------------------------------------------------------------------------


def test_what_a_device_kept_bears_the_moment_it_was_found(site, people, enter):
    send(enter(people["editor"]), age=3 * 3600)
    age = timezone.now() - Answer.objects.get().at
    assert dt.timedelta(hours=2.99) < age < dt.timedelta(hours=3.01)


@pytest.mark.parametrize(("age", "days"), [(1e12, 14), (0, 0), (59, 0)])
def test_no_device_moves_the_past_too_far(site, people, enter, age, days):
    send(enter(people["editor"]), age=age)
    assert round((timezone.now() - Answer.objects.get().at) / dt.timedelta(days=1), 2) == days


@pytest.mark.parametrize("age", ["-5", "soon", "nan", "inf"])
def test_an_age_that_is_none_is_refused_or_now(site, people, enter, age):
    response = send(enter(people["editor"]), age=age)
    assert response.status_code == 422
    assert not Answer.objects.exists()


def test_an_answer_is_never_older_than_the_one_it_follows(site, people, enter):
    first = send(enter(people["lead"]), state="trust", note="").json()["seen"]
    send(enter(people["editor"]), seen=first, token="t2", age=7200)
    old, new = Answer.objects.order_by("pk")
    assert new.newest and new.at >= old.at


# -- steps ---------------------------------------------------------------------------------------


@pytest.fixture
def steps(site, staff):
    """Two steps of stage 3 of which the second waits for the first."""
    add_record(
        by=staff,
        site=site,
        kind="host",
        values={"name": "mill-h1", "state": "to-buy", "weight_kg": 30.0},
    )
    stages = plan(site).stages
    found = stages.stage(3).steps
    second = next(
        step
        for step in found
        if len(step.after) == 1 and step.after[0] in {one.key for one in found}
    )
    first = stages.steps[second.after[0]]
    for key in first.after:
        StepDone.objects.create(site=site, step_key=key, done_at=timezone.now(), edits=1)
    return first, second


def move(client, step, does, token="", **more):
    return client.post(
        f"{URL}run/3/step/{step.key}/", {"does": does, "token": token, **more}, headers=JSON
    )


def test_a_step_is_begun_done_and_undone(site, people, enter, steps):
    client, (first, _) = enter(people["editor"]), steps
    begun = move(client, first, "start", seen=0).json()
    line = StepDone.objects.get(step_key=first.key)
    assert (line.state, line.by, line.owner, begun["seen"]) == (
        "under way",
        people["editor"],
        people["editor"],
        1,
    )
    page = client.get(f"{URL}run/3/step/{first.key}/").content.decode()
    assert "data-since" in page and "under way" in page
    move(client, first, "done", seen=1)
    line.refresh_from_db()
    assert line.state == "done" and line.done_at >= line.started_at
    assert first.key in finished(plan(site).stages, {first.key})
    undone = enter(people["lead"])
    move(undone, first, "undo", seen=2)
    line.refresh_from_db()
    assert (line.state, line.by) == ("not begun", people["lead"])
    told = [(one.by, bool(one.done_at)) for one in line.history.order_by("history_id")]
    assert told == [(people["editor"], False), (people["editor"], True), (people["lead"], False)]


def test_a_step_that_must_wait_says_for_what_and_cannot_be_begun(site, people, enter, steps):
    client, (first, second) = enter(people["editor"]), steps
    page = client.get(f"{URL}run/3/step/{second.key}/").content.decode()
    assert "Cannot start yet" in page and first.title in page and 'value="done"' not in page
    for does in ("start", "done"):
        refused = move(client, second, does)
        assert refused.status_code == 422 and first.number in refused.json()["refused"]
    move(client, first, "done", seen=0)
    assert "Cannot start yet" not in client.get(f"{URL}run/3/step/{second.key}/").content.decode()
    assert move(client, second, "done", seen=0).status_code == 200


def test_done_twice_is_done_once_by_whoever_was_first(site, people, enter, steps):
    first, _ = steps
    move(enter(people["editor"]), first, "done", seen=0)
    again = move(enter(people["lead"]), first, "done", seen=0)
    line = StepDone.objects.get(step_key=first.key)
    assert again.status_code == 200 and (line.by, line.edits) == (people["editor"], 1)


def test_nobody_undoes_what_somebody_else_has_just_done(site, people, enter, steps):
    first, _ = steps
    move(enter(people["editor"]), first, "start", seen=0)
    page_of = enter(people["lead"])  # whose page shows it begun
    move(enter(people["editor"]), first, "done", seen=1)
    clash = move(enter(people["lead"]), first, "undo", seen=1)
    assert (
        clash.status_code == 409 and clash.json()["seen"] == 2 and "done" in clash.json()["clash"]
    )
    assert StepDone.objects.get(step_key=first.key).state == "done" and page_of


def test_a_step_sent_again_is_moved_once(site, people, enter, steps):
    client, (first, _) = enter(people["editor"]), steps
    move(client, first, "done", "t1", seen=0)
    move(client, first, "undo", "t2", seen=1)
    again = move(client, first, "done", "t1", seen=0)  # the first one, come late a second time
    assert again.status_code == 200 and again.json()["state"] == "not begun"
    assert StepDone.objects.get(step_key=first.key).edits == 2


def test_a_step_is_handed_over_to_somebody_who_may(site, people, staff, enter, steps):
    client, (first, _) = enter(people["editor"]), steps
    assert move(client, first, "hand", owner=people["lead"].pk, seen=0).status_code == 200
    assert StepDone.objects.get(step_key=first.key).owner == people["lead"]
    for nobody in (people["reader"].pk, people["outsider"].pk, 99999, ""):
        refused = move(client, first, "hand", owner=nobody, seen=1)
        assert refused.status_code == 422 and "may edit here" in refused.json()["refused"]
    assert move(client, first, "hand", owner=staff.pk, seen=1).status_code == 200
    assert {person.pk for person in step_actions.takers(site, people["editor"])} == {
        people["editor"].pk,
        people["lead"].pk,
    }
    assert "staff" in enter(people["reader"]).get(URL + "ready").content.decode().lower()


def test_a_reader_moves_nothing(site, people, enter, steps):
    assert move(enter(people["reader"]), steps[0], "done").status_code == 403
    assert move(enter(people["editor"]), steps[0], "explode").status_code == 422


def test_a_step_without_script_is_a_plain_form(site, people, enter, steps):
    client, (first, _) = enter(people["editor"]), steps
    url = f"{URL}run/3/step/{first.key}/"
    page = client.post(url, {"does": "done", "seen": 0}, follow=True).content.decode()
    assert f"{first.number} is done." in page and "Not done after all" in page


# -- readiness -----------------------------------------------------------------------------------


def test_what_is_still_open_is_said_by_stage_and_by_person(site, people, enter):
    for key, state, note in (
        ("scope-agreed", "failed", "Not in writing."),
        ("room-seen", "excused", "Seen in May."),
        ("people-counted", "trust", "About 30."),
    ):
        actions.give_answer(by=people["lead"], site=site, key=key, state=state, proof=note)
    page = enter(people["reader"]).get(URL + "ready").content.decode()
    assert "What opens gate 1 soonest" in page and "of work" in page
    for words in (
        "Not in writing.",
        "Seen in May.",
        "About 30.",
        "a lead",
        "on trust, on a live site",
    ):
        assert words in page
    assert (
        "What opens gate 4 soonest"
        in enter(people["reader"]).get(URL + "ready?gate=4").content.decode()
    )


def test_nothing_in_the_way_says_so(site, people, enter):
    for check in plan(site).stages.stage(1).checks:
        actions.give_answer(
            by=people["lead"], site=site, key=check.key, state="proven", proof="seen"
        )
    page = enter(people["lead"]).get(URL + "ready").content.decode()
    assert "Nothing stands in the way" in page


def test_a_gate_that_can_be_signed_again_offers_it(site, people, enter):
    stage = plan(site).stages.stage(1)
    for check in stage.checks:
        actions.give_answer(
            by=people["lead"], site=site, key=check.key, state="proven", proof="seen"
        )
    client = enter(people["lead"])
    assert "Sign gate 1" in client.get(URL + "stages/1/").content.decode()
    client.post(URL + "stages/1/sign")
    page = client.get(URL + "stages/1/").content.decode()
    assert "Signed by" in page and f"All {stage.total} checks are proven." in page
