"""Forms of the door that must not tell more than they say."""

from __future__ import annotations

import time
from typing import Any

from allauth.account.forms import ResetPasswordForm
from django.conf import settings

LEAST = 0.4  # seconds: more than either way takes here


class ResetPassword(ResetPasswordForm):
    """Takes equally long for an address with an account and for one without."""

    def __init__(self, *args: Any, **kwargs: Any):
        self.begun = time.monotonic()
        super().__init__(*args, **kwargs)

    def save(self, request, **kwargs: Any) -> str:
        if settings.SENDS_MAIL:
            super().save(request, **kwargs)
        time.sleep(max(0.0, self.begun + LEAST - time.monotonic()))
        return self.cleaned_data["email"]
