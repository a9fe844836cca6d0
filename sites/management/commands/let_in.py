"""Lets a browser of somebody try their password, where others' wrong tries shut it out."""

from __future__ import annotations

from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from sites.actions.people import let_in
from sites.models import Person


class Command(BaseCommand):
    help = (
        "Prints a path that lets one browser try somebody's password, though others guessed at it too often. It holds "
        "for an hour, works once, and signs nobody in. House staff who can sign in do it on the page of that person."
    )

    def add_arguments(self, parser) -> None:
        parser.add_argument("address", help="the e-mail address they sign in with")

    def handle(self, *args, address: str, **options) -> None:
        person = Person.objects.filter(email=address.strip().lower(), is_active=True).first()
        if person is None:
            raise CommandError(f"Nobody who may sign in has the address {address}.")
        secret = let_in(by=None, person=person)
        self.stdout.write(f"Open this path of your Deskwright: {reverse('let-in', args=[secret])}")
