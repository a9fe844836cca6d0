"""Every action is one transaction: broken off at any of its writes, or at its end, it leaves nothing behind.

Other tests run inside a transaction of their own, so none of them would miss an action's. Here there is none: the
ground is laid for good, once, and cleared away behind the last test. No action ever gets as far as to change it.
"""

import importlib
import inspect
import pkgutil
import re

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

import sites.actions
from sites.actions import people, proofs
from sites.models import Proof
from sites.web import mail, mail_server
from tests.every_row import snapshot
from tests.ground import ACTIONS, Ground, answer_with_photos

WRITES = ("INSERT", "UPDATE", "DELETE", "REPLACE")
MOST = 200  # writes of one action on this ground


class Broken(DatabaseError):
    """The line to the database went dead here."""


class Breaker:
    """Counts the writes, and breaks off before one of them. ``loose`` are those outside any transaction."""

    def __init__(self, at: int):
        self.at, self.seen, self.loose, self.broke = at, 0, [], False

    def __call__(self, execute, sql, params, many, context):
        if sql.split(None, 1)[0].upper() in WRITES:
            self.seen += 1
            if not connection.in_atomic_block:
                self.loose.append(sql)
            if self.seen == self.at:
                self.never()
        return execute(sql, params, many, context)

    def never(self):
        self.broke = True
        raise Broken


# They ask, and write no row.
READING = {"stages.sent_before", "counter.edits_of", "proofs.let_go"}
# Each is one statement or two, and a part of actions; or sweeps what nobody asks for any more.
PARTS = {
    "counter.touch",
    "counter.touch_all",
    "counter.touch_house",
    "customers.end_invitations_left_behind",
    "customers.end_invitations_of",
    "moments.happened",
    "once.sweep",
}
WRITE_CALLS = re.compile(
    r"\.(save|delete|create|update|bulk_create|get_or_create|update_or_create)\("
)


def public_actions() -> set[str]:
    """Everything in ``sites/actions`` that is called by keywords alone, opens a transaction or writes."""
    found = {"once.take"}  # what it does is done by a function of its own
    for module in pkgutil.iter_modules(sites.actions.__path__):
        loaded = importlib.import_module(f"sites.actions.{module.name}")
        for name, one in inspect.getmembers(loaded, inspect.isfunction):
            own = inspect.unwrap(one).__module__ == loaded.__name__ and not name.startswith("_")
            kinds = {parameter.kind for parameter in inspect.signature(one).parameters.values()}
            by_keywords = inspect.Parameter.KEYWORD_ONLY in kinds
            by_place = inspect.Parameter.POSITIONAL_OR_KEYWORD in kinds
            source = inspect.getsource(one)
            writes = "@transaction.atomic" in source or WRITE_CALLS.search(source)
            if own and ((by_keywords and not by_place) or writes):
                found.add(f"{module.name}.{name}")
    return found


@pytest.fixture(scope="module")
def db(django_db_setup, django_db_blocker):
    """In the place of the usual one of this name: no transaction around a test, and one ground for all of them."""
    with django_db_blocker.unblock():
        yield
        call_command("flush", interactive=False, verbosity=0)


@pytest.fixture(scope="module")
def ground(db):
    return Ground()


@pytest.fixture
def locks_ask_for_a_transaction(monkeypatch):
    let_locks_ask(monkeypatch)


def let_locks_ask(monkeypatch):
    """The embedded database locks no rows, so there a lock outside a transaction would pass: now it asks too."""
    if connection.vendor == "sqlite":
        for able in ("has_select_for_update", "has_select_for_no_key_update"):
            monkeypatch.setattr(connection.features, able, True, raising=False)
        monkeypatch.setattr(connection.ops, "for_update_sql", lambda **asked: "", raising=False)


def test_every_action_is_listed():
    listed = {name.partition(",")[0] for name in ACTIONS}
    assert listed | READING | PARTS == public_actions()


def letters_handed_in(monkeypatch) -> list:
    """Letters of the actions, as they are handed in. None may be before what it tells of holds."""
    found: list = []
    monkeypatch.setattr(settings, "SENDS_MAIL", True)
    monkeypatch.setattr(mail_server, "hand_in", found.append)
    return found


def test_a_letter_inside_a_transaction_is_noticed(ground, monkeypatch):
    """What the test above rests on."""
    letters = letters_handed_in(monkeypatch)
    with transaction.atomic():
        people.change_address(by=ground.staff, person=ground.editor, email="ed@new.example")
        assert not letters
        mail.send("So", "notice", {"said": "so"}, "ed@new.example")
        assert len(letters) == 1
        transaction.set_rollback(True)


def writes_of(name, ground) -> int:
    """How many writes an action takes, tried and taken back."""
    counter = Breaker(0)
    with transaction.atomic(), connection.execute_wrapper(counter):
        ACTIONS[name](ground)
        transaction.set_rollback(True)
    return counter.seen


@pytest.mark.parametrize("name", ACTIONS)
def test_an_action_that_is_broken_off_leaves_nothing(
    name, ground, locks_ask_for_a_transaction, monkeypatch
):
    letters = letters_handed_in(monkeypatch)
    before, every = snapshot(), writes_of(name, ground)
    breaker = Breaker(0)
    monkeypatch.setattr(connection, "commit", lambda: breaker.never())
    for at in range(1, MOST):
        breaker = Breaker(at)
        with connection.execute_wrapper(breaker), pytest.raises(DatabaseError):
            ACTIONS[name](ground)
        assert breaker.broke  # and it is not another error of the database
        assert not breaker.loose, f"written outside a transaction: {breaker.loose[0][:80]}"
        assert snapshot() == before, f"broken off at write {at}, it left something"
        assert not letters, f"broken off at write {at}, it told of it: {letters[0].body}"
        if breaker.seen < at:  # it wrote everything, and broke off at its end
            break
    assert 1 < at < MOST, f"{breaker.seen} writes"
    assert breaker.seen == every, (
        f"{every - breaker.seen} of {every} writes come in another transaction"
    )


def test_a_proof_has_its_file_before_it_has_a_row(ground, locks_ask_for_a_transaction, monkeypatch):
    """A file without a row is nothing anybody sees; a row without a file would be a lost proof."""
    kept = []

    def looked(execute, sql, params, many, context):
        if sql.startswith("INSERT") and Proof._meta.db_table in sql:
            kept.extend(
                one for one in params if isinstance(one, str) and one.endswith((".jpg", ".png"))
            )
        return execute(sql, params, many, context)

    monkeypatch.setattr(connection, "commit", Breaker(0).never)
    with connection.execute_wrapper(looked), pytest.raises(Broken):
        answer_with_photos(ground)
    places = [one for one in kept if "/" in one]
    assert len(places) == 4 and all(proofs.path_of(ground.site, place) for place in places)
