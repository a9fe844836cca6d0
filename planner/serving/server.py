"""How the server runs: gunicorn's settings. ``manage.py serve`` starts gunicorn with this file by its path.

gunicorn keeps the processes: it starts them, replaces one that died, and brings new code on ``kill -HUP``. So that it
can, its own process never imports the house: this file is read by path, on its own, again at every HUP, and the house
is imported by each worker after it was forked. What a worker does with a connection is :mod:`planner.serving.porch`.

Each thread holds at most one connection to the database: workers × threads (``serve`` names both) of them on every
machine. PostgreSQL's own bound (``max_connections``) is 100 as a rule: four workers of eight threads take 32.
"""

from __future__ import annotations

import os
import pathlib

from gunicorn.workers.base import Worker

HOME = pathlib.Path(__file__).resolve().parents[2]
IN_MEMORY = pathlib.Path("/dev/shm")  # noqa: S108  (gunicorn makes a file of its own in there)


class PorchWorker(Worker):
    """A process whose connections are looked after by the porch."""

    def run(self) -> None:
        from planner.serving.porch import serve_for  # here, after the fork: see above

        serve_for(self)


# No ``chdir``: a path in a setting means the same to the server as to whoever prepared the house.
pythonpath = str(HOME)
wsgi_app = "planner.wsgi:application"
worker_class = PorchWorker
preload_app = False

timeout = 60  # seconds without a sign of life, then a process is replaced
graceful_timeout = 30  # seconds a leaving process has to finish what it began
max_requests = 20_000  # then a process is replaced by a fresh one, whatever it may have gathered
max_requests_jitter = 4_000  # but never all at once

# A sign of life is a touch of a file: on a slow disk that alone would look like death.
worker_tmp_dir = str(IN_MEMORY) if os.access(IN_MEMORY, os.W_OK) else None
control_socket_disable = (
    True  # it would stand in the home folder, one for all houses of one account
)
