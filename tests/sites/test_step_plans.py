"""Owners and times of steps: many at once, nobody's overwritten, and the day follows."""

import pytest

from sites.actions.records import add_record, change_record
from sites.actions.steps import move_step
from sites.models import Contact, Person, Site, StepPlan
from sites.pages.standing import plan_of
from tests import demo_house

OWNERS = "/at/larkfield/mill/owners"


@pytest.fixture
def mill(db):
    demo_house.put_in_place()
    return Site.objects.select_related("customer").get(code="mill")


def fresh(site):
    return plan_of(Site.objects.select_related("customer").get(pk=site.pk))


@pytest.fixture
def noor(mill, enter):
    return enter(Person.objects.get(email="noor@larkfield.example"))


def test_the_page_tells_who_when_and_where_the_times_are_from(mill, noor):
    page = noor.get(OWNERS).content.decode()
    assert "Max Lund" in page and "set here" in page and "worked out" in page
    assert "Lift the aquarium" in page and "asked at this site alone" in page


def test_several_steps_get_an_owner_and_the_day_gives_them_to_nobody_else(mill, noor):
    una = Contact.objects.get(site=mill, name="Una Ferry")
    keys = ["find-in-directory", "read-leases"]
    sent = {"step": keys, "owner": str(una.pk), **{f"seen-{key}": "0" for key in keys}}
    assert noor.post(OWNERS, sent).status_code == 302
    assert {one.step for one in StepPlan.objects.filter(site=mill, owner=una)} == set(keys)
    day = fresh(mill).day
    key = next(one.key for one in day.people if one.name == "Una Ferry")
    bars = [bar for bar in day.bars if bar.step.entry.key in keys]
    assert bars and {bar.person for bar in bars} == {key}


def test_an_owner_who_is_no_technician_has_a_lane_with_that_alone(mill):
    lea = Contact.objects.get(site=mill, name="Lea Holm")
    add_record(
        by=None, site=mill, kind="stepplan", values={"step": "back-up-service", "owner_id": lea.pk}
    )
    day = fresh(mill).day
    lane = next(one for one in day.lanes if one.person.name == "Lea Holm")
    assert {bar.step.entry.key for bar in lane.bars} == {"back-up-service"}
    assert all(
        task.people for task in day.tasks
    )  # everybody else's work stays with the technicians


def test_times_that_are_set_here_are_the_day_s(mill, noor):
    sent = {"step": ["back-up-service"], "likely_minutes": "2 h", "seen-back-up-service": "0"}
    assert noor.post(OWNERS, sent).status_code == 302
    [step] = [
        one for one in fresh(mill).stages.steps.values() if one.entry_key == "back-up-service"
    ]
    assert step.minutes == (120, 120, 120) and step.times_from == "site"


def test_what_is_done_before_the_day_takes_what_comes_before_with_it(mill, noor):
    before = {one.entry.key for one in fresh(mill).day.shares.before}
    assert "back-up-service" not in before
    noor.post(
        OWNERS, {"step": ["back-up-service"], "before_day": "yes", "seen-back-up-service": "0"}
    )
    day = fresh(mill).day
    moved = {one.entry.key for one in day.shares.before}
    assert {"back-up-service", "create-service"} <= moved
    assert not moved & {bar.step.entry.key for bar in day.bars}


def test_nobody_s_plan_is_overwritten(mill, noor):
    """Somebody else named another owner after the page was opened: theirs stays, and the page says so."""
    row = StepPlan.objects.get(site=mill, step="power-hosts")
    una, ida = (Contact.objects.get(site=mill, name=name) for name in ("Una Ferry", "Ida Fenn"))
    opened = row.edits
    change_record(
        by=None, kind="stepplan", pk=row.pk, opened_at=opened, values={"owner_id": ida.pk}
    )
    sent = {"step": ["power-hosts"], "owner": str(una.pk), "seen-power-hosts": str(opened)}
    page = noor.post(OWNERS, sent, follow=True).content.decode()
    row.refresh_from_db()
    assert row.owner_id == ida.pk and "planned otherwise by somebody meanwhile" in page


def test_what_only_they_changed_and_what_only_i_changed_both_stay(mill, noor):
    row = StepPlan.objects.get(site=mill, step="power-hosts")
    opened = row.edits
    change_record(
        by=None, kind="stepplan", pk=row.pk, opened_at=opened, values={"note": "Ring at seven."}
    )
    noor.post(
        OWNERS, {"step": ["power-hosts"], "likely_minutes": "40", "seen-power-hosts": str(opened)}
    )
    row.refresh_from_db()
    assert (row.note, row.likely_minutes) == ("Ring at seven.", 40)


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({}, "Tick at least one step."),
        ({"step": "fix-host"}, "Choose an owner, a time or a day"),
        (
            {"step": "fix-host", "least_minutes": "40", "likely_minutes": "20"},
            "The shortest time comes first",
        ),
        ({"step": "fix-host", "likely_minutes": "0"}, "more than 0 minutes"),
        ({"step": "fix-host", "owner": "999999"}, "Select a valid choice"),
        ({"step": "no-such-step", "owner": "0"}, "Tick at least one step."),
    ],
)
def test_what_cannot_be_is_refused_with_what_was_typed(mill, noor, sent, words):
    answer = noor.post(OWNERS, sent)
    assert answer.status_code == 422 and words in answer.content.decode()
    assert not StepPlan.objects.filter(site=mill, step="fix-host").exists()


def test_readers_see_it_without_the_form(mill, enter):
    reader = enter(Person.objects.get(email="eve@larkfield.example"))
    assert "The ticked steps get" not in reader.get(OWNERS).content.decode()
    assert reader.post(OWNERS, {"step": "fix-host", "owner": "0"}).status_code == 403


def test_an_own_step_stands_in_the_run_sheet_and_before_what_waits_for_it(mill):
    stages = fresh(mill).stages
    own = next(one for one in stages.steps.values() if one.origin == "own")
    assert own.number == "3.201" and own.owner == "Una Ferry"
    assert all(
        own.key in one.after for one in stages.steps.values() if one.entry_key == "power-hosts"
    )


def test_what_is_still_open_is_told_by_the_planned_owner_until_somebody_takes_it_on(mill, noor):
    page = noor.get("/at/larkfield/mill/ready").content.decode()
    assert "Max Lund" in page and "Ida Fenn" in page
    tom = Person.objects.get(email="tom@larkfield.example")
    step = next(one for one in fresh(mill).stages.steps.values() if one.entry_key == "power-hosts")
    move_step(by=tom, site=mill, step=step, does="hand", owner=tom)
    page = noor.get("/at/larkfield/mill/ready").content.decode()
    assert "Max Lund" not in page and str(tom) in page
