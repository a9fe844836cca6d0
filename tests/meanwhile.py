"""Somebody else who acts between two statements, as long as nothing that concerns them is held.

What is read and judged before its row is held may have changed when it is written. Here it does change, at each
moment in turn, on one connection: no luck is needed, and the embedded database shows it as well.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from django.db import connection, models, transaction

HELD = "/* held */"  # what a lock is written as where there is none
MOST = 60


class Meanwhile:
    """Acts before the statement with this number, unless a row of ``model`` was held before."""

    def __init__(self, model: type[models.Model], at: int, act: Callable[[], object]):
        self.table, self.at, self.act = f'"{model._meta.db_table}"', at, act
        self.seen, self.held, self.acting, self.acted = 0, False, False, False

    def __call__(self, execute, sql, params, many, context):
        if self.acting:
            return execute(sql, params, many, context)
        self.seen += 1
        if self.seen == self.at and not self.held:
            self.acting = True
            self.act()
            self.acting, self.acted = False, True
        if _locks(sql) and self.table in sql:
            self.held = True
        return execute(sql, params, many, context)


def _locks(sql: str) -> bool:
    return HELD in sql or " FOR UPDATE" in sql or " FOR NO KEY UPDATE" in sql


@contextmanager
def locks_are_written() -> Iterator[None]:
    """The embedded database says of its locks where it would take one."""
    with pytest.MonkeyPatch.context() as patch:
        if connection.vendor == "sqlite":
            for able in ("has_select_for_update", "has_select_for_no_key_update"):
                patch.setattr(connection.features, able, True, raising=False)
            patch.setattr(connection.ops, "for_update_sql", lambda **asked: HELD, raising=False)
        yield


def at_every_moment(
    model: type[models.Model],
    act: Callable[[], object],
    play: Callable[[], object],
    judge: Callable[[object], None],
) -> None:
    """Plays once for every moment at which somebody could act: has judged what it came to (or its exception), and
    takes everything back afterwards. The first is before anything, the last just before the row is held."""
    with locks_are_written():
        for at in range(1, MOST):
            meanwhile = Meanwhile(model, at, act)
            with transaction.atomic():
                with connection.execute_wrapper(meanwhile):
                    outcome = _outcome(play)
                if meanwhile.acted:
                    judge(outcome)
                transaction.set_rollback(True)
            if not meanwhile.acted:
                assert at > 1, "nobody could act at all"
                return
    raise AssertionError("it never came to an end")


def _outcome(play: Callable[[], object]) -> object:
    try:
        with transaction.atomic():
            return play()
    except Exception as error:
        return error
