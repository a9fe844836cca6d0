"""Takes each action's transaction away in turn, and tells which test notices. Run: pytest -s tests/long/atomic.py"""

from __future__ import annotations

import contextlib
import inspect
import sys

import pytest
from django.core.management import call_command
from django.db import transaction
from django.db.transaction import Atomic

from tests.sites import test_transactions as tests
from tests.sites.test_transactions import db  # noqa: F401  (the fixture)

ONE_THING = {"customers.make_member"}  # Django's own update_or_create


class Without:
    """``django.db.transaction`` as a module sees it whose ``with transaction.atomic():`` was left out."""

    def __getattr__(self, name):
        return (
            (lambda *_, **__: contextlib.nullcontext())
            if name == "atomic"
            else getattr(transaction, name)
        )


@contextlib.contextmanager
def taken_away(name: str):
    """One action as it would be without its transaction, wherever it is known."""
    module = sys.modules[f"sites.actions.{name.partition('.')[0]}"]
    action = getattr(module, name.partition(".")[2])
    if not is_wrapped(action):
        before, module.transaction = module.transaction, Without()
        yield
        module.transaction = before
        return
    bare = action.__wrapped__
    knowing = [
        (one, word)
        for key, one in list(sys.modules.items())
        if key.startswith(("sites.", "tests."))
        for word, value in list(vars(one).items())
        if value is action
    ]
    for one, word in knowing:
        setattr(one, word, bare)
    yield
    for one, word in knowing:
        setattr(one, word, action)


def is_wrapped(action) -> bool:
    return hasattr(action, "__wrapped__") and any(
        isinstance(cell.cell_contents, Atomic) for cell in action.__closure__ or () if _filled(cell)
    )


def _filled(cell) -> bool:
    with contextlib.suppress(ValueError):
        return cell.cell_contents is not None
    return False


def has_own(name: str) -> bool:
    module = sys.modules[f"sites.actions.{name.partition('.')[0]}"]
    action = getattr(module, name.partition(".")[2])
    return is_wrapped(action) or "transaction.atomic()" in inspect.getsource(inspect.unwrap(action))


def test_without_its_transaction_an_action_is_noticed(db, monkeypatch, tmp_path, settings):  # noqa: F811
    settings.PROOFS = tmp_path
    ground, passed = tests.Ground(), []
    for name in sorted(tests.public_actions() - tests.READING):
        if not has_own(name) or name in ONE_THING:
            print(f"{name:34} does one thing, which is a transaction already")
            continue
        found, ground = noticed(name, ground)
        print(f"{name:34} {found or 'PASSED OVER'}")
        passed += [] if found else [name]
    assert not passed


def noticed(name: str, ground) -> tuple[str, object]:
    """What the first test that fails says; and ground to go on with."""
    own = [one for one in tests.ACTIONS if one.partition(",")[0] == name]
    with taken_away(name):
        for one in own:
            with pytest.MonkeyPatch.context() as patch:
                try:
                    tests.let_locks_ask(patch)
                    tests.test_an_action_that_is_broken_off_leaves_nothing(one, ground, None, patch)
                except BaseException as error:  # a failing check raises many things
                    said = (
                        f"test …[{one}]: {type(error).__name__}: {str(error).splitlines()[0][:90]}"
                    )
                    patch.undo()
                    call_command("flush", interactive=False, verbosity=0)
                    return said, tests.Ground()
    return "", ground
