"""Several things done at the same moment, each with a connection of its own."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from django.db import connection, connections


def at_once(*acts: Callable[[], object], seconds: float = 60) -> list[object]:
    """Does all of them together where the database takes several writers, else one after the other.

    Gives what each came to: its result or its exception. All of them begin, and come to an end within ``seconds``.
    """
    if connection.vendor != "postgresql":
        return [_outcome(act) for act in acts]
    found: list[object] = [None] * len(acts)
    gate = threading.Barrier(len(acts))

    def run(number: int, act: Callable[[], object]) -> None:
        try:
            connections["default"].ensure_connection()
            gate.wait(seconds)
            found[number] = _outcome(act)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=one) for one in enumerate(acts)]
    for thread in threads:
        thread.start()
    end = time.monotonic() + seconds
    for thread in threads:
        thread.join(max(0, end - time.monotonic()))
    assert not gate.broken and not any(thread.is_alive() for thread in threads)
    return found


def _outcome(act: Callable[[], object]) -> object:
    try:
        return act()
    except Exception as error:
        return error
