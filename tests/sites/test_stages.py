"""Answers say how it is known; gates open by purpose; turning live reopens what was on trust."""

import pytest

from planner import work_out
from sites.actions import stages as actions
from sites.actions.records import add_record, change_record
from sites.loading import read_site
from sites.models import Answer, Signature

URL = "/at/larkfield/mill/"


@pytest.fixture
def own(site, staff):
    record = add_record(
        by=staff,
        site=site,
        kind="owncheck",
        values={"name": "The chair has its own network", "stage": 1},
    )
    return f"own@owncheck-{record.pk}"


def answer(client, key, state, note="", seen=0):
    return client.post(f"{URL}answer/{key}", {"state": state, "note": note, "seen": seen})


@pytest.mark.parametrize(
    ("standing", "state", "proof", "code"),
    [
        ("editor", "proven", "", 422),
        ("editor", "proven", "Seen on the switch, port 12.", 302),
        ("editor", "trust", "", 302),
        ("editor", "failed", "", 422),
        ("editor", "excused", "No chair here.", 422),
        ("lead", "excused", "", 422),
        ("lead", "excused", "No chair here.", 302),
        ("editor", "perhaps", "x", 422),
        ("editor", "proven", "the password is hunter22", 422),
    ],
)
def test_an_answer_has_what_its_kind_wants(site, own, people, enter, standing, state, proof, code):
    response = answer(enter(people[standing]), own, state, proof)
    assert response.status_code == code
    assert Answer.objects.count() == (code == 302)
    if code == 422:
        assert (
            "There is a problem" in response.content.decode() and proof in response.content.decode()
        )


def test_history_keeps_every_answer_and_the_newest_counts(site, own, people, enter):
    answer(enter(people["editor"]), own, "trust")
    answer(enter(people["lead"]), own, "failed", "No network there.", seen=Answer.objects.get().pk)
    page = enter(people["reader"]).get(f"{URL}answer/{own}").content.decode()
    assert "No network there." in page and page.count("answer-trust") >= 1
    assert work_out(read_site(site)).stages.checks[own].state == "failed"


def test_an_answer_somebody_else_gave_meanwhile_is_not_overwritten(site, own, people, enter):
    answer(enter(people["lead"]), own, "failed", "No network there.")
    response = answer(enter(people["editor"]), own, "proven", "Looks fine.")
    page = response.content.decode()
    assert response.status_code == 409 and "answered this meanwhile" in page
    assert "No network there." in page and "Looks fine." in page  # theirs and one's own
    assert Answer.objects.get().state == "failed"


def fill_stage(site, staff, state):
    for check in work_out(read_site(site)).stages.stage(1).checks:
        actions.give_answer(by=staff, site=site, key=check.key, state=state, proof="seen")


@pytest.mark.parametrize(
    ("purpose", "state", "signed"),
    [("trial", "trust", 1), ("live", "trust", 0), ("live", "proven", 1), ("trial", "failed", 0)],
)
def test_gates_open_by_purpose(site, own, staff, people, enter, purpose, state, signed):
    site.purpose = purpose
    site.save()
    fill_stage(site, staff, state)
    response = enter(people["lead"]).post(f"{URL}stages/1/sign", follow=True)
    assert Signature.objects.count() == signed
    assert (
        "Gate 1 is signed" if signed else "Gate 1 cannot be signed"
    ) in response.content.decode()


def test_turning_live_reopens_what_was_on_trust_and_the_gate(site, own, staff, people):
    change_record(
        by=staff, kind="site", pk=site.pk, opened_at=site.edits, values={"purpose": "trial"}
    )
    site.refresh_from_db()
    fill_stage(site, staff, "trust")
    stage = work_out(read_site(site)).stages.stage(1)
    actions.sign_gate(
        by=people["lead"],
        site=site,
        gate=stage.gate,
        checks=[c.key for c in stage.checks],
        fingerprint="x",
    )
    site.refresh_from_db()
    change_record(
        by=staff, kind="site", pk=site.pk, opened_at=site.edits, values={"purpose": "live"}
    )
    site.refresh_from_db()
    stage = work_out(read_site(site)).stages.stage(1)
    assert stage.gate.state == "reopened" and {check.state for check in stage.checks} == {"open"}
    assert Answer.objects.filter(check_key=own).count() == 2


@pytest.mark.parametrize("number", range(1, 9))
def test_every_stage_opens(site, people, enter, number):
    assert enter(people["reader"]).get(f"{URL}stages/{number}/").status_code == 200


def test_there_is_no_ninth_stage(site, people, enter):
    assert enter(people["reader"]).get(f"{URL}stages/9/").status_code == 404
