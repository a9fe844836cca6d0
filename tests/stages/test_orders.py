"""Orders that cannot be carried out, or that hurt: each was one of the plan's, and must not come back."""

from __future__ import annotations

import dataclasses

import pytest

from planner.plan import Plan
from planner.record import facts as f
from planner.stages import read, readiness
from planner.stages.states import coming_before
from tests.factories import make, plan_of
from tests.papers.demo_facts import demo
from tests.stages.examples import clinic

SITES = ("mill", "harbour")


def before(steps, key: str) -> set[str]:
    """The entries of all steps that come before one, however far back."""
    return {one.partition("@")[0] for one in coming_before(key, steps)}


def keys(steps, entry: str) -> list[str]:
    return [key for key in steps if key.partition("@")[0] == entry]


@pytest.fixture(scope="module", params=[*SITES, "clinic"])
def steps(request):
    facts = clinic() if request.param == "clinic" else demo(request.param)
    return Plan(facts).stages.steps


def assert_before(steps, first: str, later: str) -> None:
    """Every step of the later entry comes after some of the first, and no step of the first is left aside."""
    assert keys(steps, first) and keys(steps, later)
    awaited = set()
    for key in keys(steps, later):
        found = coming_before(key, steps) & set(keys(steps, first))
        assert found, (first, key)
        awaited |= found
    assert awaited == set(keys(steps, first))


# -- the lines of the review ----------------------------------------------------------------------


def test_a_sealed_copy_is_tried_by_a_way_in_that_exists_then(steps):
    assert_before(steps, "open-trial-way", "try-sealed-copy")
    for key in keys(steps, "try-sealed-copy"):
        assert not {"make-template", "assign-seats"} & before(steps, key)
        assert "service's page" not in steps[key].do and "entry name" not in steps[key].do
    assert_before(steps, "try-sealed-copy", "tidy-desktops")
    assert "close the trial ways in" in steps["tidy-desktops"].do


def test_the_backup_that_is_restored_knows_templates_and_assignments(steps):
    assert "templates" not in steps["back-up-service"].expect
    for first in ("make-template", "assign-seats", "back-up-service"):
        assert_before(steps, first, "back-up-seats")
    assert_before(steps, "back-up-seats", "restore-service")


@pytest.mark.parametrize(
    ("first", "later"),
    [
        ("compare-hosts", "deploy-appliance"),
        ("read-capacity", "deploy-appliance"),
        ("set-host-clock", "deploy-appliance"),
        ("set-host-clock", "connect-directory"),
        ("compare-clocks", "connect-directory"),
    ],
)
def test_what_must_come_early_does(steps, first, later):
    assert_before(steps, first, later)


def test_a_shared_store_is_seen_before_a_template_is_made_on_it():
    steps = Plan(clinic()).stages.steps
    assert_before(steps, "share-store", "make-template")


def test_the_key_server_is_found_before_an_image_asks_it():
    steps = Plan(clinic()).stages.steps
    assert_before(steps, "find-key-server", "set-activation")


def test_the_power_is_cut_where_it_proves_something_and_nobody_works(steps):
    assert_before(steps, "start-first-desktops", "test-power-cut")
    assert_before(steps, "agree-hours", "test-power-cut")
    assert_before(steps, "test-power-cut", "pilot-sign-in")
    assert steps["test-power-cut"].alone


def test_firmware_comes_before_the_hypervisor_of_the_same_host():
    """A host without a store of its own waited for another's array and lost its own firmware."""
    first, second = make(f.Host, name="a"), make(f.Host, name="b")
    local = make(f.Datastore, sharing="local", host_id=first.id)
    steps = plan_of(first, second, local).stages.steps
    for host in (first, second):
        found = coming_before(f"install-hypervisor@{host.ref.anchor}", steps)
        assert f"raise-firmware@{host.ref.anchor}" in found
    assert f"build-array@{local.ref.anchor}" not in coming_before(
        f"install-hypervisor@{second.ref.anchor}", steps
    )


def test_no_firmware_is_flashed_while_pilot_people_sign_in(steps):
    for key in keys(steps, "pilot-sign-in"):
        assert set(keys(steps, "raise-firmware")) <= coming_before(key, steps)


@pytest.mark.parametrize("entry", ["raise-firmware", "build-array", "install-hypervisor"])
def test_what_wipes_waits_for_the_proven_backup_of_what_it_touches(entry):
    host = make(f.Host, name="a", state="existing")
    other = make(f.Host, name="b", state="to-buy")
    store = make(f.Datastore, sharing="local", host_id=host.id)
    touched = store if entry == "build-array" else host
    plan = plan_of(host, other, store, purpose="live")
    key, proof = f"{entry}@{touched.ref.anchor}", f"host-load-restorable@{host.ref.anchor}"
    step = plan.stages.steps[key]
    assert f"restore-host-load@{host.ref.anchor}" in step.after
    assert step.proofs == (proof,)
    owed = readiness.unproven(step, plan.stages.checks, live=True)
    assert [one.key for one in owed] == [proof]  # though somebody said the step before is done
    for state, left in (("proven", []), ("trust", [proof]), ("failed", [proof]), ("excused", [])):
        answers = (f.Answer(check=proof, state=state, proof="restored apart"),)
        checks = Plan(dataclasses.replace(plan.facts, answers=answers)).stages.checks
        owed = readiness.unproven(step, checks, live=True)
        assert [one.key for one in owed] == left
    untouched = plan.stages.steps[f"raise-firmware@{other.ref.anchor}"]
    assert untouched.proofs == ()


def test_only_what_nobody_waits_for_in_turn_is_told_as_first():
    steps = Plan(clinic()).stages.steps
    [group, *_] = keys(steps, "pilot-sign-in")
    told = {one.key.partition("@")[0] for one in readiness.waits_for(steps[group], steps, ())}
    assert "test-power-cut" in told and not {"raise-firmware", "start-first-desktops"} & told
    assert all(key in steps[group].after for key in keys(steps, "raise-firmware"))


def test_joining_names_the_unit(steps):
    for key in keys(steps, "join-image"):
        assert "OU=" in steps[key].do


def test_an_image_is_built_from_its_publishers_medium_unless_a_machine_is_named():
    plain, copied = make(f.Image, name="a"), make(f.Image, name="b", source_machine="office-2")
    stages = plan_of(plain, copied).stages
    assert keys(stages.steps, "install-image") == [f"install-image@{plain.ref.anchor}"]
    assert keys(stages.steps, "copy-source") == [f"copy-source@{copied.ref.anchor}"]
    assert keys(stages.checks, "image-installed") == [f"image-installed@{plain.ref.anchor}"]
    caution = stages.steps[f"copy-source@{copied.ref.anchor}"].caution
    assert "person's data" in caution and "licence" in caution
    for image in (plain, copied):
        anchor = image.ref.anchor
        found = before(stages.steps, f"update-image@{anchor}")
        assert ("install-image" in found) is (image is plain)
        assert ("copy-source" in found) is (image is copied)


def test_the_pilot_lasts_days_and_has_a_list_of_rare_jobs(steps):
    assert "five to ten working days" in steps["pilot-day"].do
    assert "month's end" in steps["pilot-day"].do
    assert "rare jobs" in "".join(map(str, read().checks["pilot-satisfied"].texts["proof"].parts))
