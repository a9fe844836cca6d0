"""Takes worker processes away while people are at work."""

from __future__ import annotations

import os
import signal
import threading

from tests.crowd.house import House

EVERY = 0.5  # seconds
MOST = 24


class Killer:
    """Kills the oldest worker of a house every half second, at most :data:`MOST` times, until it is left."""

    def __init__(self, house: House, active: bool = True) -> None:
        self.house, self.active, self.killed = house, active, 0
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
        while self.killed < MOST and not self._over.wait(EVERY):
            workers = self.house.processes()
            if not workers:
                continue
            try:
                os.kill(workers[0], signal.SIGKILL)
                self.killed += 1
            except ProcessLookupError:
                continue
