"""Who writes at a site holds its row first: no two wait in a circle, and two presses come one after the other."""

import ast
import dataclasses
import datetime as dt
import pathlib
import random
import time
import types

import pytest
from django.core.management import call_command
from django.db import connection, transaction

import sites.actions
from sites.actions import assumptions, house_work, papers, records, stages, step_plans
from sites.models import Acceptance, Assumed, HouseAssumption, HouseEstimate, Signature, StepPlan
from tests.at_once import at_once
from tests.ground import ACTIONS, SET, THREE, TODAY, Ground

FOLDER = pathlib.Path(sites.actions.__file__).parent
HOLDS = ("hold", "hold_all_of", "hold_house", "_hold_site_of", "_hold")
# Whose locks are others: people, customers and their doors. They write at no site.
OF_PEOPLE = ("customers", "invitations", "own_address", "people")
OWN = {
    "exchange.bring_in": "makes the site it writes at",
    "records.make_site": "makes the site it writes at",
    "once._make": "what it notes is of the form alone, and always comes before a site",
}


def opens_a_transaction(function: ast.FunctionDef) -> bool:
    return "transaction.atomic" in ast.unparse(function)


def first_statement(function: ast.FunctionDef) -> ast.stmt:
    """The first of the transaction: what stands behind the docstring, or within the block that opens one."""
    for one in ast.walk(function):
        if isinstance(one, ast.With) and "transaction.atomic" in ast.unparse(one.items[0]):
            return one.body[0]
    body = function.body
    if isinstance(body[0], ast.Expr) and isinstance(body[0].value, ast.Constant):
        body = body[1:]
    return body[0]


def calls_first(statement: ast.stmt) -> str:
    """The name of the function that a statement calls before anything else; "" when it is none."""
    calls = [one for one in ast.walk(statement) if isinstance(one, ast.Call)]
    return ast.unparse(calls[-1].func) if calls else ""


def actions_in_source() -> dict[str, ast.FunctionDef]:
    found = {}
    for path in sorted(FOLDER.glob("*.py")):
        if path.stem in OF_PEOPLE:
            continue
        for one in ast.parse(path.read_text()).body:
            if isinstance(one, ast.FunctionDef) and opens_a_transaction(one):
                found[f"{path.stem}.{one.name}"] = one
    return found


def test_every_action_holds_its_site_before_anything_else():
    found = actions_in_source()
    assert len(found) > 30 and set(OWN) <= set(found)
    late = {name for name, one in found.items() if calls_first(first_statement(one)) not in HOLDS}
    assert late == set(OWN)


def test_no_view_opens_a_transaction_over_actions_without_holding_the_site():
    views = FOLDER.parent / "views"
    opening = [one.name for one in views.glob("*.py") if "transaction.atomic" in one.read_text()]
    assert sorted(opening) == ["door.py", "read_back.py"]
    text = (views / "read_back.py").read_text()
    assert text.count("transaction.atomic") == text.count("hold(site)") == 1


# -- on the database -----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def db(django_db_setup, django_db_blocker):
    """In the place of the usual one of this name: no transaction around a test, and one ground for all of them."""
    with django_db_blocker.unblock():
        yield
        call_command("flush", interactive=False, verbosity=0)


@pytest.fixture(scope="module")
def ground(db):
    return Ground()


class Locks:
    """What an action locks, in its order: the words of each statement that locks rows."""

    WORDS = ("INSERT", "UPDATE", "DELETE")

    def __init__(self, rests: float = 0):
        self.rests, self.seen = rests, []

    def __call__(self, execute, sql, params, many, context):
        done = execute(sql, params, many, context)
        if sql.startswith(self.WORDS) or " FOR " in sql or "advisory" in sql:
            self.seen.append(sql)
            if len(self.seen) == 1:
                time.sleep(self.rests)  # so that others come to hold something, too
        return done


def tried(name, ground, locks):
    """Does an action to its end and takes it back: what it locked is locked until then."""
    with transaction.atomic(), connection.execute_wrapper(locks):
        ACTIONS[name](ground)
        transaction.set_rollback(True)


AT_SITES = [
    name
    for name in ACTIONS
    if not name.startswith(OF_PEOPLE)
    and name.partition(",")[0] not in (*OWN, "once.take", "presence.be_seen")
]


@pytest.mark.parametrize("name", AT_SITES)
def test_the_first_row_that_is_locked_is_the_sites(name, ground):
    locks = Locks()
    tried(name, ground, locks)
    first = locks.seen[0]
    if connection.vendor == "postgresql":
        assert "advisory" in first or ('FROM "sites_site"' in first and "NO KEY" in first), first
    else:
        assert first.startswith(Locks.WORDS)  # no row is locked there: the source alone can tell


def test_all_actions_at_the_same_moment_wait_for_nobody_in_a_circle(ground):
    names = [name for name in ACTIONS if not name.startswith(OF_PEOPLE)]
    for seed in range(2):
        random.Random(seed).shuffle(names)
        acts = [lambda name=name: tried(name, ground, Locks(rests=0.02)) for name in names]
        outcomes = at_once(*acts, seconds=240)
        wrong = [(name, one) for name, one in zip(names, outcomes, strict=True) if one is not None]
        assert not wrong


PAIRS = [
    ("step_plans.plan_steps", "records.change_record"),
    ("step_plans.plan_steps", "records.remove_record"),
    ("addresses.take", "records.change_record"),
    ("addresses.confirm", "whatif.keep"),
    ("reading_back.read_back", "whatif.keep"),
    ("built.take_over", "addresses.take"),
    ("records.change_record, joined", "joining.join_other_ends"),
    ("records.change_record, joined", "house_work.estimate"),
    ("records.bring_back", "reading_back.read_back"),
    ("secrets.keep_said", "secrets.keep_said"),
    ("stages.answer_check", "proofs.keep"),
    ("copying.copy_site", "records.change_record, to live"),
]


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_two_actions_that_meet_both_come_to_their_end(one, other, ground):
    acts = [lambda name=name: tried(name, ground, Locks(rests=0.05)) for name in (one, other)]
    assert at_once(*acts, *acts) == [None] * 4


def test_a_step_planned_and_its_row_saved_again_and_again(ground):
    """Two ways to one row: the page of owners, and the row in its chapter."""
    site, by = ground.site, ground.staff
    row = StepPlan.objects.get(site=site)
    until = time.monotonic() + 2

    def plan(minutes):
        while time.monotonic() < until:
            seen = {row.step: StepPlan.objects.get(pk=row.pk).edits}
            values = {"likely_minutes": float(minutes)}
            step_plans.plan_steps(by=by, site=site, keys=[row.step], values=values, seen=seen)

    def save(minutes):
        while time.monotonic() < until:
            edits = StepPlan.objects.get(pk=row.pk).edits
            records.change_record(
                by=by,
                kind="stepplan",
                pk=row.pk,
                opened_at=edits,
                values={"likely_minutes": float(minutes)},
            )

    assert at_once(lambda: plan(11), lambda: save(12), lambda: plan(13)) == [None] * 3


# -- two presses at the same moment --------------------------------------------------------------

ROUNDS = 4


def open_gate(g):
    return dataclasses.replace(g.plan.stages.stage(1).gate, state="open", blocking=())


def pressed(act):
    """What three presses at the same moment come to; none may fail."""
    outcomes = at_once(act, act, act)
    assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
    return outcomes


def test_a_gate_signed_by_three_presses_is_signed_once(ground):
    by = ground.staff
    for number in range(ROUNDS):
        site, gate = ground.site, open_gate(ground)
        before = Signature.objects.count()
        asked = {"site": site, "gate": gate, "checks": ["room-seen"], "fingerprint": f"{number}"}
        signed = pressed(lambda asked=asked: stages.sign_gate(by=by, **asked))
        assert len({one.pk for one in signed}) == 1 and Signature.objects.count() == before + 1
        assert Signature.objects.filter(site=site, stage=1, withdrawn_at=None).count() == 1
    Signature.objects.all().delete()


def test_a_gate_is_not_signed_over_an_answer_that_came_meanwhile(ground):
    site, by = ground.site, ground.staff
    checks = ground.plan.stages.stage(1).checks
    keys = [one.key for one in checks]
    for key in keys:
        stages.give_answer(by=by, site=site, key=key, state="proven", proof="seen")
    site, plan = ground.site, ground.plan
    gate = plan.stages.stage(1).gate
    assert gate.state == "open"
    stages.give_answer(by=by, site=site, key=keys[0], state="failed", proof="it is not")
    asked = {"by": by, "gate": gate, "checks": keys, "fingerprint": plan.fingerprint}
    with pytest.raises(stages.Refused, match="Meanwhile"):
        stages.sign_gate(site=site, **asked)
    assert not Signature.objects.filter(site=site).exists()
    stages.give_answer(by=by, site=site, key=keys[0], state="proven", proof="now it is")
    assert stages.sign_gate(site=site, **asked).pk  # it reads as it did when it was shown
    Signature.objects.all().delete()


def test_a_number_set_by_three_presses_stands_once(ground):
    by = ground.staff
    for _ in range(ROUNDS):
        Assumed.objects.all().delete()
        HouseAssumption.objects.all().delete()
        HouseEstimate.objects.all().delete()
        number = {"by": by, "key": "host.vcpu-per-core", **SET}
        pressed(lambda number=number: assumptions.assume(site=ground.site, **number))
        pressed(lambda number=number: assumptions.assume(site=None, **number))
        times = {"by": by, "step": "carry-host", "values": dict(THREE), "on": TODAY}
        pressed(lambda times=times: house_work.estimate(**times))
        assert Assumed.objects.count() == 1
        assert HouseAssumption.objects.count() == 1
        assert HouseEstimate.objects.count() == 1


def test_a_finding_accepted_by_three_presses_is_accepted_once(ground):
    finding = types.SimpleNamespace(token="t", title="T")
    for number in range(ROUNDS):
        words = {"reason": f"{number}", "look_again": TODAY + dt.timedelta(days=30)}
        accept = {"by": ground.staff, "site": ground.site, "finding": finding, **words}
        pressed(lambda accept=accept: papers.accept(**accept))
        standing = Acceptance.objects.filter(finding="t", withdrawn_at=None)
        assert standing.count() == 1
