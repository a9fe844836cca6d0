"""How people come in: by one door, with their address and password, and a second factor where one is asked for."""

from __future__ import annotations

import time

from allauth.account.adapter import DefaultAccountAdapter
from allauth.core import context as asked
from django.contrib import messages
from django.contrib.auth import authenticate
from django.contrib.auth.backends import ModelBackend
from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.contrib.sites.shortcuts import get_current_site
from django.http import HttpRequest, HttpResponse

from sites.access.factors import CAME_BY, FEW, recovery_codes_left, with_factors
from sites.models import Person
from sites.web import clients, devices, limits, notices
from sites.web import mail_server as post
from sites.web.journal import digest, note

TELL_NOTHING = ("account/email/password_reset_key", "account/email/unknown_account")
FRESH = 300  # seconds after signing in during which a second factor can be set up without the password again


class HouseBackend(ModelBackend):
    """By the address of an active account, and by nothing else. An account that lost its address has none to sign in
    with."""

    def authenticate(self, request, email=None, password=None, **others) -> Person | None:
        if not email or not password:
            return None
        person = Person.objects.filter(email=email.strip().lower()).first()
        if person is None or not person.has_address:
            Person().set_password(password)  # takes as long as a wrong password does
            return None
        right = person.check_password(password)
        if right and person.is_active:
            return person
        return None

    def get_user(self, user_id) -> Person | None:
        """Whose session it is, with what is to be known of their second factor: one query."""
        person = with_factors(Person.objects).filter(pk=user_id).first()
        if person and person.is_active:
            return person
        return None


class LetterTokens(PasswordResetTokenGenerator):
    """Secrets in letters. They end with the password, the address, the account, and when all sessions are ended."""

    def _make_hash_value(self, user, timestamp) -> str:
        return f"{super()._make_hash_value(user, timestamp)}{user.doors}{user.is_active}"


class HouseAdapter(DefaultAccountAdapter):
    error_messages = DefaultAccountAdapter.error_messages | {
        "email_password_mismatch": "The address or the password is not right.",
        "incorrect_password": "This is not your password.",
        "enter_current_password": "This is not your present password.",
        "invalid_password_reset": "This link does not work any more.",
    }

    def is_open_for_signup(self, request) -> bool:
        return False

    def send_mail(self, template_prefix: str, email: str, context: dict) -> bool:
        """Whether the letter left. Of some nobody may learn it: they tell who has an account here."""
        place = {
            "request": asked.request,
            "email": email,
            "current_site": get_current_site(asked.request),
        }
        letter = self.render_mail(template_prefix, email, {**place, **context})
        if template_prefix in TELL_NOTHING:
            post.hand_in_later(letter)
            return True
        return bool(post.hand_in(letter))

    def is_ajax(self, request) -> bool:
        """Nobody signs in by a program: one way in, one answer."""
        return False

    def get_client_ip(self, request: HttpRequest) -> str:
        return clients.client_address(request)

    def authenticate(self, request: HttpRequest, **credentials) -> Person | None:
        """The person, if the password is right. Counted before it is tried."""
        email = credentials.get("email", "").strip().lower()
        person = Person.objects.filter(email=email).first()
        tried = limits.for_password(request, email, person)
        found = authenticate(request, **credentials)
        if found:
            tried.give_back()
        else:
            note(
                "sign-in refused",
                person=person,
                request=request,
                typed=None if person else digest(email),
            )
        return found

    def reauthenticate(self, user: Person, password: str) -> bool:
        tried = limits.for_password(self.request, user.email, user)
        right = user.check_password(password)
        if right:
            tried.give_back()
        else:
            note("password again refused", person=user, request=self.request)
        return right

    def is_reauthentication_required(self, *, app: str, **kwargs) -> bool:
        """Who has just signed in sets up a factor at once; everything else that asks, asks again."""
        begun = self.request.session.get("begun", 0)
        return app != "allauth.mfa" or time.time() - begun > FRESH

    def pre_login(self, request: HttpRequest, user: Person, **words) -> HttpResponse | None:
        request.session[CAME_BY] = user.get_session_auth_hash()
        return super().pre_login(request, user, **words)

    def post_login(self, request: HttpRequest, user: Person, **words) -> HttpResponse:
        response = super().post_login(request, user, **words)
        devices.remember(request, response, user)
        note("signed in", person=user, request=request)
        for told in notices.taken(user):
            messages.warning(request, told)
        self._warn_of_few_codes(request, user)
        return response

    def _warn_of_few_codes(self, request: HttpRequest, person: Person) -> None:
        left = recovery_codes_left(person)
        if left is not None and left <= FEW:
            messages.warning(
                request,
                f"You have {left} recovery codes left. Make new ones on the page of your account.",
            )
