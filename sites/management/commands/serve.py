"""Prepares the house and becomes its server."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import NoReturn

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import connections

SETTINGS_OF_GUNICORN = settings.HOME / "planner" / "serving" / "server.py"


class Command(BaseCommand):
    help = "Prepares the house (see the command prepare) and starts the server. Safe to run again."

    def add_arguments(self, parser) -> None:
        parser.add_argument(
            "--demo", action="store_true", help="a demo house, in a data folder of its own"
        )
        parser.add_argument(
            "--address", default="127.0.0.1:8000", help="where to listen (default %(default)s)"
        )
        parser.add_argument(
            "--workers", type=int, default=2, help="server processes (default %(default)s)"
        )
        parser.add_argument(
            "--prepare-only",
            action="store_true",
            help="prepare and end, as the command prepare does",
        )
        parser.add_argument(
            "--no-prepare", action="store_true", help="serve what has been prepared here"
        )

    def handle(
        self,
        *args,
        demo: bool,
        address: str,
        workers: int,
        prepare_only: bool,
        no_prepare: bool,
        **options,
    ) -> None:
        if not no_prepare:
            call_command("prepare", demo=demo, stdout=self.stdout)
        if prepare_only:
            return
        self.stdout.write(
            f"Deskwright listens at http://{address}/ (Ctrl-C stops it; the data stays in {settings.DATA})"
        )
        self.stdout.flush()
        become_server(address, workers)


def become_server(address: str, workers: int) -> NoReturn:
    """Puts the server in this process's place, so that it starts with nothing of it: no connection to the database
    that several processes would share, and none of the house's code, which a reload could then not replace."""
    connections.close_all()
    if sys.platform == "win32":  # no gunicorn there, and no taking of places
        around = {**os.environ, "PYTHONPATH": str(settings.HOME)}
        sys.exit(subprocess.call(server_of_windows(address), env=around))  # noqa: S603  (its own words)
    os.execv(sys.executable, server(address, workers))  # noqa: S606  (no shell is wanted)


def server(address: str, workers: int) -> list[str]:
    """The command that starts gunicorn."""
    bounds = ["--bind", address, "--workers", str(workers), "--threads", str(settings.THREADS)]
    return [sys.executable, "-m", "gunicorn", "--config", str(SETTINGS_OF_GUNICORN), *bounds]


def server_of_windows(address: str) -> list[str]:
    """The command that serves in one process."""
    return [sys.executable, "-m", "planner.serving.porch", address]
