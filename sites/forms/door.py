"""Forms of the front door: allauth's own, with our limits, our words, and addresses of accounts alone."""

from __future__ import annotations

import time
from typing import Any

from allauth.account import forms as account
from allauth.account.adapter import get_adapter
from allauth.account.internal.flows.password_reset import request_password_reset
from allauth.core import context
from allauth.mfa.adapter import get_adapter as get_factor_adapter
from allauth.mfa.base import forms as factor
from allauth.mfa.totp import forms as totp
from allauth.mfa.totp.internal.auth import validate_totp_code
from django import forms
from django.conf import settings
from django.http import HttpRequest

from sites.access.factors import CAME_BY, use_code
from sites.forms.layout import Laid
from sites.forms.people import refuse_no_address
from sites.models import Person
from sites.web import limits, sessions
from sites.web.journal import note

LEAST = 0.4  # seconds: more than either way takes here


class SignInForm(Laid, account.LoginForm):
    def __init__(self, *args, **words) -> None:
        super().__init__(*args, **words)
        self.fields[
            "password"
        ].help_text = ""  # its link to a new password stands beside the button

    def login(self, request: HttpRequest, redirect_url=None):
        response = super().login(request, redirect_url)
        sessions.bind(request)  # allauth has just said that it lasts from the last use
        return response


class ChangePasswordForm(Laid, account.ChangePasswordForm):
    def clean_oldpassword(self) -> str:
        if not get_adapter().reauthenticate(self.user, self.cleaned_data["oldpassword"]):
            raise get_adapter().validation_error("enter_current_password")
        return self.cleaned_data["oldpassword"]


class PasswordAgainForm(Laid, account.ReauthenticateForm):
    """Asks the password once more before something that matters."""


class _Letter(Laid, account.ResetPasswordForm):
    """Every address gets a letter, and every answer is the same: nobody learns here who has an account."""

    def clean_email(self) -> str:
        email = self.cleaned_data["email"].strip().lower()
        refuse_no_address(email)
        return email

    def clean(self) -> dict:
        values = super().clean()
        if "email" in values:
            limits.for_letter(context.request, values["email"])
        return values

    def save(self, request: HttpRequest, **others) -> str:
        email = self.cleaned_data["email"]
        person = Person.objects.filter(email=email, is_active=True).first()
        note("letter asked for", person=person, request=request)
        if person and person.has_address:
            request_password_reset(request, email, [person], account.default_token_generator)
        else:
            get_adapter().send_mail("account/email/unknown_account", email, {})
        return email


class LetterForm(_Letter):
    """Asks for the letter with which one chooses a new password.

    It takes equally long whatever it finds: nobody learns by a clock who has an account here.
    """

    def __init__(self, *args, **words):
        self.begun = time.monotonic()
        super().__init__(*args, **words)

    def save(self, request: HttpRequest, **words) -> str:
        if settings.SENDS_MAIL:
            found = super().save(request, **words)
        else:
            found = ""
        time.sleep(max(0.0, self.begun + LEAST - time.monotonic()))
        return found


class LetterSecretForm(Laid, account.UserTokenForm):
    def _get_user(self, uidb36):
        found = super()._get_user(uidb36)
        if found and found.is_active:
            return found
        return None


class _OneCode:
    """A code, counted before it is tried, and used up under a lock."""

    user: Person
    cleaned_data: dict[str, Any]

    def clean_code(self) -> str:
        tried = limits.for_code(context.request, self.user)
        code = self.cleaned_data["code"]
        found = use_code(self.user, code)
        if found is None:
            note("code refused", person=self.user, request=context.request)
            raise get_factor_adapter().validation_error("incorrect_code")
        found.user = self.user
        self.authenticator = found
        tried.give_back()
        return code


class CodeForm(_OneCode, Laid, factor.AuthenticateForm):
    def clean_code(self) -> str:
        """The password may have been changed since it was typed, the account ended, every session with it."""
        came_by = context.request.session.get(CAME_BY)
        if not self.user.is_active or came_by != self.user.get_session_auth_hash():
            raise forms.ValidationError("Sign in once more: your account was changed meanwhile.")
        return super().clean_code()


class CodeAgainForm(_OneCode, Laid, factor.ReauthenticateForm):
    pass


class SetUpForm(Laid, totp.ActivateTOTPForm):
    def clean_code(self) -> str:
        tried = limits.for_code(context.request, self.user)
        code = self.cleaned_data["code"]
        if not validate_totp_code(self.secret, code):
            raise get_factor_adapter().validation_error("incorrect_code")
        tried.give_back()
        return code
