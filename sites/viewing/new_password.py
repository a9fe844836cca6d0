"""A new password by letter. allauth has the form do what elsewhere a view would ask an action for."""

from __future__ import annotations

from allauth.account import forms as account

from sites.actions.people import choose_password
from sites.forms.layout import Laid


class NewPasswordForm(Laid, account.ResetPasswordKeyForm):
    def save(self) -> None:
        """Raises :class:`~sites.actions.stages.Refused` when the letter was used meanwhile."""
        choose_password(
            person=self.user, secret=self.temp_key, password=self.cleaned_data["password1"]
        )
