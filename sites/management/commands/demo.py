"""Loads the demo house."""

from __future__ import annotations

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from sites.demo import DemoError, load_house
from sites.web import marks


class Command(BaseCommand):
    help = "Loads what is not there yet of the demo house, on a demo's database alone: its passwords are known."

    def add_arguments(self, parser) -> None:
        parser.add_argument(
            "--small", dest="large", action="store_false", help="leave out the large site"
        )

    def handle(self, *args, large: bool = True, **options) -> None:
        if not settings.PLAIN_START:
            raise CommandError(
                "The demo has known passwords: start with DESKWRIGHT_DEMO=yes, never on a real house."
            )
        marks.claim()
        try:
            house = load_house(large)
        except DemoError as error:
            raise CommandError(str(error)) from error
        self.stdout.write("Demo sign-ins (password for all: " + house["password"] + "):")
        for one in house["people"]:
            self.stdout.write(f"  {one['email']:32} {one['what']}")
