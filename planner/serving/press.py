"""The press: a process of its own in which heavy papers are made, so that no page waits for one.

A book is seconds of plain computing. In a thread it would share one interpreter with all pages of its process; in a
process of its own, with a lesser claim to a core, it takes what the pages leave. The press is started for the first
paper, not forked: it inherits no connection to anything. It ends after a while without work, and with whoever started
it: then its line is closed.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
import traceback
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from typing import Any, TypeVar, TypeVarTuple

PATIENCE = 300.0  # seconds for one paper, on a machine that has much else to do
IDLE = 180.0  # seconds until a press without work ends: it holds about 130 MB
NICE = 3  # of 19: pages get twice its share of a core that both want; much more, and a busy house prints nothing


Made = TypeVar("Made")
Given = TypeVarTuple("Given")


class PressError(Exception):
    """A paper could not be made; the message is the press's own traceback."""


class Press:
    """Makes one paper at a time. Threads that come meanwhile wait in line."""

    def __init__(self) -> None:
        self._turn = threading.Lock()
        self._process: SpawnProcess | None = None
        self._line: Connection | None = None

    def make(self, work: Callable[[*Given], Made], *given: *Given) -> Made:
        """What ``work(*given)`` gives, worked out in the press. ``work`` is a function of a module, and all of it can
        be pickled. A press that ended meanwhile is started anew, once. Raises :class:`PressError`."""
        with self._turn:
            try:
                made, trouble = self._asked(work, given)
            except (EOFError, OSError):
                self.end()
                made, trouble = self._asked_again(work, given)
        if trouble:
            raise PressError(trouble)
        paper: Made = made
        return paper

    def _asked_again(self, work: Callable[..., Any], given: tuple[Any, ...]) -> tuple[Any, str]:
        try:
            return self._asked(work, given)
        except (EOFError, OSError):
            self.end()
            return None, "The press ended twice while it worked."

    def _asked(self, work: Callable[..., Any], given: tuple[Any, ...]) -> tuple[Any, str]:
        line = self._started()
        line.send((work, given))
        if not line.poll(PATIENCE):
            self.end()
            return None, f"The press took longer than {PATIENCE:.0f} s and was stopped."
        answer: tuple[Any, str] = line.recv()
        return answer

    def _started(self) -> Connection:
        if self._line is None:
            fresh = multiprocessing.get_context("spawn")
            self._line, far = fresh.Pipe()
            self._process = fresh.Process(target=_work, args=(far,), name="press", daemon=True)
            self._process.start()
            far.close()  # or the line would not end with the press
        return self._line

    def end(self) -> None:
        """Ends the press, whatever it does just now."""
        if self._line is not None:
            self._line.close()
        if self._process is not None:
            self._process.kill()
            self._process.join()
        self._line = self._process = None


def _work(line: Connection) -> None:
    """What the press does: takes what comes, until nothing has come for a while or the other end is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server: it ends the press
    if hasattr(os, "nice"):
        os.nice(NICE)
    with contextlib.suppress(EOFError, OSError):
        while line.poll(IDLE):
            work, given = line.recv()
            line.send(_tried(work, given))


def _tried(work: Callable[..., Any], given: tuple[Any, ...]) -> tuple[Any, str]:
    try:
        return work(*given), ""
    except Exception:
        return None, traceback.format_exc()


PRESS = Press()
