"""Gets the house ready: database, static files, the demo house if asked for. Nothing is served."""

from __future__ import annotations

from django.core.management import call_command
from django.core.management.base import BaseCommand

from sites.web.preparing import one_preparer, sweep


class Command(BaseCommand):
    help = (
        "Brings the database up to date, collects static files and sweeps out what has expired. Safe to run again, "
        "also by several machines at once: one prepares, the others wait."
    )

    def add_arguments(self, parser) -> None:
        parser.add_argument(
            "--demo", action="store_true", help="load the demo house if the database is empty"
        )

    def handle(self, *args, demo: bool, **options) -> None:
        with one_preparer(self.stdout.write):
            call_command("migrate", verbosity=0)
            call_command("collectstatic", interactive=False, verbosity=0)
            sweep()
            if demo:
                call_command("demo")
