"""Comes in by the real front door, and brings the codes that an authenticator would show."""

from __future__ import annotations

import time

from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import format_hotp_value, hotp_value
from django.test import Client

from sites.access.factors import FactorAdapter
from sites.models import Person

PASSWORD = "paper-and-pencil"
SEED = "JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP"
AT = "192.0.2.10"  # an office (RFC 5737)
LOGIN = "/sign-in/login/"


def sign_in(client: Client, email: str, password: str = PASSWORD, address: str = AT):
    """Types an address and a password; gives the answer."""
    return client.post(LOGIN, {"login": email, "password": password}, REMOTE_ADDR=address)


def is_in(client: Client, address: str = AT) -> bool:
    return client.get("/you", REMOTE_ADDR=address).status_code == 200


def somebody(email: str, **also) -> Person:
    return Person.objects.create_user(email, PASSWORD, **also)


def give_factor(person: Person) -> Authenticator:
    """A second factor whose seed the test knows, and ten recovery codes."""
    from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes

    RecoveryCodes.activate(person)
    return Authenticator.objects.create(
        user=person, type="totp", data={"secret": FactorAdapter().encrypt(SEED)}
    )


def code_of(step: int = 0, seed: str = SEED) -> str:
    """What the authenticator shows now, or so many steps of 30 s later."""
    return format_hotp_value(hotp_value(seed, int(time.time()) // 30 + step))


def recovery_codes(person: Person) -> list[str]:
    return Authenticator.objects.get(user=person, type="recovery_codes").wrap().get_unused_codes()


def reauthenticated(client: Client, person: Person, at: float = 0) -> Client:
    """As if the person had typed their password once more, just now or ``at`` another time."""
    session = client.session
    session["account_authentication_methods_user"] = str(person.pk)
    session["account_authentication_methods"] = [
        {"method": "password", "at": at or time.time(), "reauthenticated": True}
    ]
    session.save()
    return client
