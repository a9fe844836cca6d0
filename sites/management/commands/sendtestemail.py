"""Sends a test letter, and says in words why it did not leave."""

from __future__ import annotations

from django.core.management.base import CommandError
from django.core.management.commands import sendtestemail

from planner.serving.environment import BadSetting


class Command(sendtestemail.Command):
    def handle(self, *args, **options) -> None:
        try:
            super().handle(*args, **options)
        except BadSetting as error:
            raise CommandError(str(error)) from error
        except (OSError, ValueError) as error:
            raise CommandError(
                f"The letter did not leave. {type(error).__name__}: {error}"
            ) from error
        self.stdout.write("The mail server took the letter.")
