"""Sets up and starts Deskwright: database, static files, the demo house if asked for, a real server."""

from __future__ import annotations

import sys

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand


class Command(BaseCommand):
    help = "Brings the database up to date, collects static files and starts the server. Safe to run again."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--demo", action="store_true", help="a demo house, in a data folder of its own")
        parser.add_argument("--address", default="127.0.0.1:8000", help="where to listen (default %(default)s)")
        parser.add_argument("--workers", type=int, default=2, help="server processes (default %(default)s)")

    def handle(self, *args, demo: bool, address: str, workers: int, **options) -> None:
        call_command("migrate", verbosity=0)  # asks for the house's mark before, and sets it after
        call_command("collectstatic", interactive=False, verbosity=0)
        if demo:
            call_command("demo")
        self.stdout.write(
            f"Deskwright listens at http://{address}/ (Ctrl-C stops it; the data stays in {settings.DATA})"
        )
        self.stdout.flush()
        start_server(address, workers)


def start_server(address: str, workers: int) -> None:
    """Starts gunicorn, or waitress where gunicorn does not run."""
    if sys.platform == "win32":
        from waitress import serve

        from planner.wsgi import application

        serve(application, listen=address)
        return
    from gunicorn.app.wsgiapp import WSGIApplication

    sys.argv = ["gunicorn", "--bind", address, "--workers", str(workers), "planner.wsgi:application"]
    WSGIApplication().run()
