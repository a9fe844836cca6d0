"""Takes worker processes away while people are at work."""

from __future__ import annotations

import contextlib
import os
import signal
import threading

from tests.crowd.house import House
from tests.crowd.people import Crowd

EVERY = 0.5  # seconds
MOST = 12
ANSWERS = 20  # that people got since the last one went: a house whose processes never come up would prove nothing


class Killer:
    """Kills the oldest worker of a house every half second, at most :data:`MOST` times, until it is left."""

    def __init__(self, house: House, crowd: Crowd, active: bool = True) -> None:
        self.house, self.crowd, self.active, self.killed = house, crowd, active, 0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> Killer:
        if self.active:
            self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        if self.active:
            self._thread.join(5)

    def _run(self) -> None:
        seen = 0
        while self.killed < MOST and not self._over.wait(EVERY):
            answers, workers = self.crowd.answered(), self.house.processes()
            if answers < seen + ANSWERS or not workers:
                continue
            with contextlib.suppress(ProcessLookupError):
                os.kill(workers[0], signal.SIGKILL)
                self.killed, seen = self.killed + 1, answers
