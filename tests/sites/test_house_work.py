"""What the house asks for at every site: asked where it applies, counted at gates, kept when it ends."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planner import work_out
from planner.exchange import writing
from planner.stages import conditions
from sites.actions import house_work as actions
from sites.actions.copying import copy_site
from sites.actions.exchange import bring_in
from sites.actions.records import add_record, change_record, make_site, remove_site
from sites.actions.stages import give_answer, sign_gate
from sites.forms.house_work import EstimateForm, WorkForm
from sites.loading import read_house, read_site
from sites.models import RECORD_MODELS, Answer, HouseEstimate, HouseWork, Site, StepDone
from sites.pages.conditions import LOOKED_AT, holding

LIST, ADD_CHECK, ADD_STEP = "/house/work/", "/house/work/add/check", "/house/work/add/step"


def facts_of(site):
    return read_site(Site.objects.select_related("customer").get(pk=site.pk))


def stages_of(site):
    return work_out(facts_of(site)).stages


def check(staff, **values):
    return actions.add_work(
        by=staff, what="check", values={"name": "The sheet hangs there", "stage": 1, **values}
    )


def step(staff, **values):
    return actions.add_work(
        by=staff, what="step", values={"name": "Photograph the rack", "stage": 3, **values}
    )


def estimate(staff, key, *times):
    names = ("least_minutes", "likely_minutes", "longest_minutes")
    values = {**dict(zip(names, times, strict=True)), "note": ""}
    return actions.estimate(by=staff, step=key, values=values, on=None)


# -- at the sites --------------------------------------------------------------------------------


def test_a_check_gates_every_site_where_it_applies_and_no_other(staff, customer, site):
    bench = make_site(by=staff, customer=customer, code="bench", name="Bench", purpose="trial")
    made = check(staff, when="is-live")
    for key in list(stages_of(site).stage(1).checks):
        give_answer(
            by=staff,
            site=site,
            key=key.key,
            state="proven" if key.key != made.key else "open",
            proof="seen",
        )
    gate = stages_of(site).stage(1).gate
    assert (gate.state, [one.key for one in gate.blocking]) == ("shut", [made.key])
    assert gate.blocking[0].origin == "house" and gate.blocking[0].number == "1.101"
    assert made.key not in stages_of(bench).checks
    give_answer(by=staff, site=site, key=made.key, state="proven", proof="It hangs there.")
    assert stages_of(site).stage(1).gate.state == "open"


def test_a_check_that_ends_keeps_its_answers_and_counts_again_when_asked_again(staff, site):
    made = check(staff)
    give_answer(by=staff, site=site, key=made.key, state="failed", proof="No sheet.")
    assert stages_of(site).checks[made.key].state == "failed"
    actions.stop_asking(by=staff, pk=made.pk)
    ended = stages_of(site)
    assert made.key not in ended.checks
    assert [(one.key, one.state, one.answer.proof) for one in ended.gone] == [
        (made.key, "failed", "No sheet.")
    ]
    actions.ask_again(by=staff, pk=made.pk)
    assert stages_of(site).checks[made.key].state == "failed" and not stages_of(site).gone
    assert [row.ended_at is None for row in made.history.order_by("history_id")] == [
        True,
        False,
        True,
    ]


def test_a_check_asked_elsewhere_only_is_told_by_its_title(staff, site):
    made = check(staff, name="The bench is swept")
    give_answer(by=staff, site=site, key=made.key, state="proven", proof="Swept.")
    form = {"when": "own-accounts"}
    actions.change_work(by=staff, pk=made.pk, opened_at=1, values=form)
    assert [one.title for one in stages_of(site).gone] == ["The bench is swept"]


def test_a_signed_gate_opens_again_when_the_house_asks_for_more(staff, site):
    for one in stages_of(site).stage(1).checks:
        give_answer(by=staff, site=site, key=one.key, state="proven", proof="seen")
    stage = stages_of(site).stage(1)
    sign_gate(
        by=staff,
        site=site,
        gate=stage.gate,
        checks=[one.key for one in stage.checks],
        fingerprint="x",
    )
    assert stages_of(site).stage(1).gate.state == "signed"
    check(staff)
    assert stages_of(site).stage(1).gate.state == "reopened"


def test_devices_and_open_pages_of_every_site_are_told(staff, site):
    def counter():
        return Site.objects.get(pk=site.pk).counter

    seen = [counter()]
    made = check(staff)
    seen.append(counter())
    actions.change_work(by=staff, pk=made.pk, opened_at=1, values={"name": made.name})
    assert counter() == seen[-1]  # nothing changed, nobody is told
    actions.change_work(by=staff, pk=made.pk, opened_at=1, values={"name": "Another"})
    seen.append(counter())
    actions.stop_asking(by=staff, pk=made.pk)
    seen.append(counter())
    estimate(staff, "fix-host", 1, 2, 3)
    seen.append(counter())
    actions.estimate_no_more(by=staff, step="fix-host")
    seen.append(counter())
    assert seen == sorted(set(seen))


def test_where_it_comes_from_is_said_on_the_pages_of_a_site(staff, people, site, enter):
    client, at = enter(people["reader"]), "/at/larkfield/mill/"
    made, doing = check(staff, stage=3), step(staff, likely_minutes=10)
    own = add_record(
        by=staff, site=site, kind="owncheck", values={"name": "The chair's network", "stage": 3}
    )
    add_record(by=staff, site=site, kind="host", values={"name": "mill-h1"})
    estimate(staff, "fix-host", 7, 8, 9)
    add_record(
        by=staff, site=site, kind="stepplan", values={"step": "power-hosts", "likely_minutes": 3}
    )

    def page(where):
        return client.get(at + where).content.decode()

    for where in (f"answer/{made.key}", f"run/3/check/{made.key}/", f"run/3/step/{doing.key}/"):
        assert "asked by your house" in page(where)
    assert "asked at this site alone" in page(f"answer/own@owncheck-{own.pk}")
    sheet = page("stages/3/")
    assert (
        sheet.count("Asked by your house.") == 2 and sheet.count("Asked at this site alone.") == 1
    )
    assert sheet.count("Time by your house.") == 1 and sheet.count("Time set here.") == 1
    assert "worked out from the sizes" not in sheet  # nothing of stage 3 has a wait


# -- where they are asked ------------------------------------------------------------------------

LOOKS = [
    ("directory", {"directory_kind": "own-accounts"}),
    ("service", {"disk_provisioning": "thin"}),
    ("service", {"certificate": "own"}),
    ("service", {"outside_access": "gateway"}),
    ("host", {"state": "existing"}),
    ("host", {"state": "spare"}),
    ("appliance", {}),
    ("datastore", {"sharing": "shared"}),
    ("server", {"roles": ["print"]}),
    ("image", {"activation": "key-server"}),
    ("template", {"passes": ["usb"]}),
    ("template", {"passes": ["sound"], "profile_place": "share"}),
]


def test_how_many_sites_a_condition_holds_at_is_what_their_plans_say(staff, customer):
    """Every condition, counted in few queries, against the plan of every site."""
    made = []
    for number in range(9):
        purpose = "live" if number % 2 else "trial"
        here = make_site(
            by=staff, customer=customer, code=f"s{number}", name=f"S{number}", purpose=purpose
        )
        for kind, values in LOOKS[number % 4 :: number // 4 + 1]:
            if kind in ("directory", "service"):
                row = RECORD_MODELS[kind].objects.get(site=here)
                change_record(by=staff, kind=kind, pk=row.pk, opened_at=row.edits, values=values)
            else:
                add_record(by=staff, site=here, kind=kind, values=values)
        made.append(here)
    plans = [work_out(facts_of(here)) for here in made]
    wanted = {
        name: sum(holds(plan) for plan in plans) for name, holds in conditions.OF_SITE.items()
    }
    with CaptureQueriesContext(connection) as seen:
        found = holding(conditions.OF_SITE)
    assert found == {"": 9, **wanted} and len(seen) == 1 + len(LOOKED_AT)
    assert len(set(wanted.values())) > 3  # the sites do differ


def test_a_removed_site_is_not_counted(staff, site):
    remove_site(by=staff, site=site)
    assert holding(["", "many-hosts"]) == {"": 0, "is-live": 0, "many-hosts": 0}


# -- the pages -----------------------------------------------------------------------------------


def form(**values):
    return {"name": "The sheet hangs there", "stage": "1", "edits": "0", **values}


def test_an_empty_house_is_taught_what_belongs_there(staff, enter):
    page = enter(staff).get(LIST).content.decode()
    assert (
        "asks for nothing beyond the catalogue yet" in page
        and ADD_STEP in page
        and ADD_CHECK in page
    )


def test_staff_adds_changes_ends_and_asks_again(staff, site, enter):
    client = enter(staff)
    assert client.post(ADD_CHECK, form(when="is-live", wants="photo")).status_code == 302
    made = HouseWork.objects.get()
    assert (made.what, made.when, made.made_by) == ("check", "is-live", staff)
    page = client.get(LIST).content.decode()
    assert "1.101" in page and "live sites" in page and re.search(r'class="number">1</td>', page)
    client.post(f"{LIST}{made.pk}", form(name="It hangs by the door", edits="1"))
    made.refresh_from_db()
    assert (made.name, made.when, made.edits) == ("It hangs by the door", "", 2)
    give_answer(by=staff, site=site, key=made.key, state="proven", proof="seen")
    asks = client.get(f"{LIST}{made.pk}/stop").content.decode()
    assert "It is answered at 1 site." in asks
    client.post(f"{LIST}{made.pk}/stop")
    page = client.get(LIST).content.decode()
    assert "No longer asked for" in page and "It hangs by the door" in page
    assert "no longer asked" in client.get(f"{LIST}{made.pk}").content.decode()
    client.post(f"{LIST}{made.pk}/again")
    assert HouseWork.objects.get().ended_at is None
    told = client.get(f"{LIST}{made.pk}").content.decode()
    assert "live sites → every site" in told and "asked again" in told and "Staff" in told


def test_the_confirmation_counts_in_one_query(staff, customer, site, django_assert_num_queries):
    asked, done = check(staff), step(staff)
    for number in range(3):
        here = make_site(by=staff, customer=customer, code=f"s{number}", name="S")
        give_answer(by=staff, site=here, key=asked.key, state="open" if number == 2 else "trust")
        StepDone.objects.create(
            site=here, step_key=done.key, started_at=here.made_at if number else None
        )
    with django_assert_num_queries(2):
        assert (actions.sites_with(asked), actions.sites_with(done)) == (2, 2)


def test_a_stale_form_merges_and_tells_what_both_changed(staff, django_user_model, enter, client):
    made = check(staff, why="Old why")
    other = django_user_model.objects.create_superuser(
        "second@house.example", "paper-and-pencil", name="Second"
    )
    typed = {"name": made.name, "stage": "1", "edits": "1", "why": "Old why"}
    enter(other).post(f"{LIST}{made.pk}", {**typed, "why": "Their why"})
    client = enter(staff)
    client.post(f"{LIST}{made.pk}", {**typed, "how": "My how"})  # another field: both stand
    made.refresh_from_db()
    assert (made.why, made.how, made.edits) == ("Their why", "My how", 3)
    page = client.post(f"{LIST}{made.pk}", {**typed, "why": "My why", "how": ""})
    text = page.content.decode()
    assert page.status_code == 409 and "theirs: Their why" in text and "My why</textarea>" in text
    made.refresh_from_db()
    assert made.why == "Their why"
    again = {"edits": re.search(r'name="edits" value="(\d+)"', text)[1], "how": "My how"}
    assert (
        'name="how"' in text and "My how</textarea>" in text
    )  # what only the other side changed is kept as theirs
    client.post(f"{LIST}{made.pk}", {**typed, "why": "My why", **again})
    made.refresh_from_db()
    assert (made.why, made.how) == ("My why", "My how")


@pytest.mark.parametrize(
    ("what", "values", "field"),
    [
        ("check", {"name": ""}, "name"),
        ("check", {"low": "18", "high": "27", "wants": "value"}, "unit"),
        ("check", {"low": "27", "high": "18", "unit": "°C", "wants": "value"}, "high"),
        ("check", {"unit": "°C", "wants": "photo"}, "wants"),
        ("check", {"when": "full-moon"}, "when"),
        ("check", {"note": "the password is swordfish"}, "note"),
        ("step", {"least_minutes": "30", "likely_minutes": "10"}, "likely_minutes"),
        ("step", {"likely_minutes": "0"}, "likely_minutes"),
        ("step", {"do": "Sign in, password: swordfish"}, "do"),
        ("step", {"after": "3.5, 99.1"}, "after"),
        ("step", {"stage": "9"}, "stage"),
    ],
)
def test_what_can_never_be_is_refused(what, values, field, staff, enter):
    page = enter(staff).post(f"/house/work/add/{what}", form(**values))
    assert page.status_code == 422 and field in page.context["form"].errors
    assert not HouseWork.objects.exists()


def test_nobody_adds_a_third_kind(staff, enter):
    assert enter(staff).get("/house/work/add/finding").status_code == 404
    assert enter(staff).get("/house/work/999").status_code == 404
    assert enter(staff).post("/house/work/999/stop").status_code == 404
    assert enter(staff).post("/house/work/999/again").status_code == 404


def test_only_house_staff_knows_of_it(people, staff, enter):
    made = check(staff)
    for standing in ("outsider", "reader", "editor", "lead"):
        client = enter(people[standing])
        assert "/house/work/" not in client.get("/").content.decode()
        for url in (LIST, ADD_CHECK, f"{LIST}{made.pk}", "/house/times/", "/house/times/fix-host"):
            assert client.get(url).status_code == 404
    assert "/house/work/" in enter(staff).get("/").content.decode()


def test_a_check_is_answered_after_a_step_of_its_own_stage(staff, site, enter):
    client, doing = enter(staff), step(staff)
    page = client.post(ADD_CHECK, form(ownstep_id=doing.pk))
    assert page.status_code == 422 and "of stage 3" in page.content.decode()
    assert client.post(ADD_CHECK, form(stage="3", ownstep_id=doing.pk)).status_code == 302
    made = HouseWork.objects.get(what="check")
    stage = stages_of(site).stage(3)
    [found] = [one for one in stage.steps if one.key == doing.key]
    assert (
        found.settles == (made.key,)
        and found.number == "3.101"
        and stage.checks[-1].number == "3.102"
    )
    actions.stop_asking(by=staff, pk=doing.pk)
    assert made.key in stages_of(site).checks  # asked for by itself
    kept = client.get(f"{LIST}{made.pk}").content.decode()
    assert "(no longer asked)" in kept and f'value="{doing.pk}" selected' in kept


def test_an_order_survives_a_step_that_is_not_asked_for_now(staff, enter):
    client, first = enter(staff), step(staff, name="First")
    client.post(ADD_STEP, form(stage="3", name="Second", after="3.5, 3.101"))
    second = HouseWork.objects.get(name="Second")
    assert second.after == ["fix-host", first.key]
    actions.stop_asking(by=staff, pk=first.pk)
    client.post(f"{LIST}{second.pk}", form(stage="3", name="Second", after="3.7", edits="1"))
    second.refresh_from_db()
    assert second.after == ["power-hosts", first.key]


def test_an_order_that_cannot_be_is_told(staff, enter):
    step(staff, after=["seal-image"])
    page = enter(staff).get(LIST).content.decode()
    assert "An order that cannot be" in page and "later stage" in page


# -- times ---------------------------------------------------------------------------------------

TIMES = {
    "least_minutes": "15",
    "likely_minutes": "25",
    "longest_minutes": "1 h",
    "note": "Four handovers",
    "was": "",
}


def minutes(site, key):
    return {
        one.minutes for one in stages_of(site).steps.values() if one.key.partition("@")[0] == key
    }


def test_the_house_sets_times_a_site_overrides_and_both_are_taken_back(staff, site, enter):
    client = enter(staff)
    add_record(by=staff, site=site, kind="host", values={"name": "mill-h1"})
    assert client.post("/house/times/fix-host", TIMES).status_code == 302
    assert minutes(site, "fix-host") == {(15.0, 25.0, 60.0)}
    plan = add_record(
        by=staff, site=site, kind="stepplan", values={"step": "fix-host", "likely_minutes": 5}
    )
    assert minutes(site, "fix-host") == {(5.0, 5.0, 5.0)}
    change_record(
        by=staff, kind="stepplan", pk=plan.pk, opened_at=1, values={"likely_minutes": None}
    )
    assert minutes(site, "fix-host") == {(15.0, 25.0, 60.0)}
    client.post("/house/times/fix-host/back")
    assert minutes(site, "fix-host") == {(15.0, 30.0, 60.0)} and not HouseEstimate.objects.exists()
    told = client.get("/house/times/fix-host").content.decode()
    assert "taken back" in told and "15, 25, 60 min" in told and "Staff" in told


def test_two_people_setting_a_time_lose_nothing_silently(staff, enter):
    client = enter(staff)
    client.post("/house/times/fix-host", TIMES)
    page = client.post("/house/times/fix-host", {**TIMES, "likely_minutes": "40"})
    assert (
        page.status_code == 422
        and b"Somebody else set this meanwhile, to 15, 25, 60 min" in page.content
    )
    assert HouseEstimate.objects.get().likely_minutes == 25
    client.post("/house/times/fix-host", {**TIMES, "likely_minutes": "40", "was": "15, 25, 60"})
    assert HouseEstimate.objects.get().likely_minutes == 40


@pytest.mark.parametrize(
    "values",
    [
        {"likely_minutes": ""},
        {"likely_minutes": "5"},
        {"longest_minutes": "20000"},
        {"note": "pin: 4711 it is"},
    ],
)
def test_times_that_cannot_be_are_refused(staff, enter, values):
    assert enter(staff).post("/house/times/fix-host", {**TIMES, **values}).status_code == 422
    assert not HouseEstimate.objects.exists()


def test_steps_are_found_by_number_or_words(staff, enter):
    client = enter(staff)
    every = client.get("/house/times/").content.decode()
    assert "fix-host" in every and "pilot-day" in every and "the hands' time" in every
    some = client.get("/house/times/?q=3.5", headers={"HX-Request": "true"}).content.decode()
    assert 'id="fix-host"' in some and "pilot-day" not in some and "<html" not in some
    assert "No step has these words" in client.get("/house/times/?q=xyzzy").content.decode()
    assert client.get("/house/times/no-such").status_code == 404
    assert client.post("/house/times/no-such/back").status_code == 404


# -- elsewhere -----------------------------------------------------------------------------------


def test_a_copied_site_keeps_what_was_answered_for_the_house(staff, customer, site):
    made = check(staff)
    give_answer(by=staff, site=site, key=made.key, state="trust", proof="They say so.")
    copy = copy_site(
        by=staff, source=site, customer=customer, name="Barn", code="barn", with_answers=True
    )
    assert stages_of(copy).checks[made.key].state == "trust"


def test_what_the_house_asks_for_does_not_travel(staff, site):
    check(staff, name="Only this house asks it")
    step(staff, name="Only this house does it")
    estimate(staff, "fix-host", 61, 62, 63)
    document = writing.write(writing.to_document(facts_of(site))).decode()
    assert "Only this house" not in document and "61" not in document


def test_answers_for_another_house_stay_there(staff, customer, site):
    """A check of that house may bear the number of one of this house."""
    made = check(staff)
    give_answer(by=staff, site=site, key=made.key, state="trust", proof="They say so.")
    new = bring_in(
        by=staff, customer=customer, facts=facts_of(site), name="Barn", code="barn", purpose="trial"
    )
    assert stages_of(new).checks[made.key].state == "open"
    assert not Answer.objects.filter(site=new, check_key=made.key).exists()


@pytest.mark.parametrize("times", [1, 10])
def test_reading_a_site_costs_the_same_however_much_the_house_asks(
    staff, site, times, django_assert_max_num_queries
):
    for number in range(3 * times):
        check(staff, name=f"c{number}")
        step(staff, name=f"s{number}")
        estimate(staff, f"any-{number}", 1, 2, 3)
    here = Site.objects.select_related("customer").get(pk=site.pk)
    with django_assert_max_num_queries(25):
        facts = read_site(here)
    assert len(facts.house_steps) == len(facts.house_checks) == len(facts.estimates) == 3 * times


@pytest.mark.parametrize("page", [LIST, "/house/times/", ADD_CHECK])
def test_the_houses_pages_cost_the_same_at_ten_times_their_rows(page, staff, site, enter):
    client = enter(staff)

    def queries():
        client.get(page)
        with CaptureQueriesContext(connection) as seen:
            assert client.get(page).status_code == 200
        return len(seen)

    check(staff, when="many-hosts")
    step(staff)
    before = queries()
    for number in range(10):
        check(staff, name=f"c{number}", when="many-hosts")
        step(staff, name=f"s{number}")
    assert queries() == before <= 15


def test_a_forms_empty_values_are_what_the_columns_hold(staff):
    """A new one, saved as it is, and opened and saved again without a change, makes no second line of history."""
    for what in ("step", "check"):
        empty = WorkForm({"name": "One", "stage": "2"}, what=what, facts=read_house())
        assert empty.is_valid(), empty.errors
        made = actions.add_work(by=staff, what=what, values=empty.values())
        again = WorkForm(
            {"name": "One", "stage": "2", "edits": "1"}, what=what, facts=read_house(), work=made
        )
        assert again.is_valid()
        actions.change_work(by=staff, pk=made.pk, opened_at=1, values=again.values())
        made.refresh_from_db()
        assert made.edits == 1 and made.history.count() == 1


def test_every_time_of_the_form_is_wanted():
    blank = EstimateForm({}, facts=None, times=(), set_before=None)
    assert set(blank.errors) == {"least_minutes", "likely_minutes", "longest_minutes"}
