"""Forms of the door that must not tell more than they say."""

from __future__ import annotations

import time
from typing import Any

from allauth.account.forms import ResetPasswordForm
from django.conf import settings

LEAST = 0.4  # seconds: more than either way takes here


class EvenTime:
    """A form that takes equally long whatever it finds: nobody learns by a clock who has an account here."""

    def __init__(self, *args: Any, **words: Any):
        self.begun = time.monotonic()
        super().__init__(*args, **words)

    def save(self, request, **words: Any) -> str:
        found = super().save(request, **words) if settings.SENDS_MAIL else ""  # type: ignore[misc]
        time.sleep(max(0.0, self.begun + LEAST - time.monotonic()))
        return found


class ResetPassword(EvenTime, ResetPasswordForm):
    """Asks for the letter with which one chooses a new password."""
