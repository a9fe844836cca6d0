"""Several things done at the same moment, each with a connection of its own."""

from __future__ import annotations

import threading
from collections.abc import Callable

from django.db import connection, connections


def at_once(*acts: Callable[[], object]) -> list[object]:
    """Does all of them together where the database takes several writers, else one after the other.

    Gives what each came to: its result or its exception.
    """
    if connection.vendor != "postgresql":
        return [_outcome(act) for act in acts]
    found: list[object] = [None] * len(acts)
    gate = threading.Barrier(len(acts))

    def run(number: int, act: Callable[[], object]) -> None:
        try:
            connections["default"].ensure_connection()
            gate.wait(10)
            found[number] = _outcome(act)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=one) for one in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    return found


def _outcome(act: Callable[[], object]) -> object:
    try:
        return act()
    except Exception as error:
        return error
