"""Takes away a lost second factor, where nobody else of the house can."""

from __future__ import annotations

from django.core.management.base import BaseCommand, CommandError

from sites.actions.people import remove_lost_factor
from sites.models import Person


class Command(BaseCommand):
    help = (
        "Takes away somebody's lost second factor and recovery codes, and ends their sessions. For a house whose only "
        "staff lost it; otherwise another one of the house does it on the page of that person."
    )

    def add_arguments(self, parser) -> None:
        parser.add_argument("address", help="the e-mail address they sign in with")

    def handle(self, *args, address: str, **options) -> None:
        person = Person.objects.filter(email=address.strip().lower()).first()
        if person is None:
            raise CommandError(f"Nobody has the address {address}.")
        if not remove_lost_factor(by=None, person=person):
            raise CommandError(f"{person} has no second factor.")
        self.stdout.write(
            f"The second factor of {person} is gone and every session ended. They are told."
        )
