"""Forms about people: an invitation, an account made by one, an address."""

from __future__ import annotations

import unicodedata

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from planner.record.choices import Role
from sites.forms.fields import Words
from sites.forms.secrets import AskingForm
from sites.models import Person
from sites.models.people import NO_ADDRESS

HOW_LONG = "At least ten characters. Three or four words that do not belong together are good."


def refuse_no_address(typed: str) -> None:
    """Refuses what the mail's own rules let pass and no mailbox has: control characters (RFC 5322 calls them
    obsolete), and what stands here for the address of somebody who lost theirs."""
    if any(unicodedata.category(sign) == "Cc" for sign in typed) or typed.endswith(NO_ADDRESS):
        raise ValidationError("This is no address that a letter could go to.", code="no_address")


class Address(forms.EmailField):
    """An e-mail address, as it is compared: in small letters."""

    default_validators = [*forms.EmailField.default_validators, refuse_no_address]

    def clean(self, value):
        return super().clean(value).lower()


class InvitationForm(AskingForm):
    about = "person"
    email = Address(label="E-mail")
    name = Words(
        label="Name",
        max_length=120,
        required=False,
        help_text="So that you know later whom you invited.",
    )
    role = forms.ChoiceField(label="May", choices=Role.pairs())

    def __init__(self, *args, **kwargs):
        kwargs.setdefault("auto_id", "member-%s")  # its page has other forms with the same names
        super().__init__(*args, **kwargs)


class AccountForm(AskingForm):
    """A new account with the address that was invited."""

    about = "person"

    name = Words(
        label="Your name",
        max_length=120,
        help_text="As it shall stand under answers and on papers.",
    )
    password = forms.CharField(
        label="Password",
        help_text=HOW_LONG,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label="Password again",
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )
    take_address = forms.BooleanField(
        label="This address is mine. Take it from the account that has it",
        required=False,
    )

    def __init__(self, *args, email: str, unproven: bool, **kwargs):
        kwargs.setdefault("auto_id", "account-%s")
        super().__init__(*args, **kwargs)
        self.email = email
        if unproven:
            self.fields["take_address"].required = True
        else:
            del self.fields["take_address"]

    def clean(self):
        values = super().clean()
        password = values.get("password")
        if password and password != values.get("again"):
            self.add_error("again", "The two passwords differ.")
        if password:
            try:
                validate_password(password, Person(email=self.email, name=values.get("name", "")))
            except ValidationError as error:
                self.add_error("password", error)
        return values


class AddressForm(AskingForm):
    about = "person"
    email = Address(
        label="E-mail", help_text="A letter goes there; open the address in it to go on."
    )
