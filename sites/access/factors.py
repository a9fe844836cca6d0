"""The second factor: who must have one, how its seed is kept, and that a code works once."""

from __future__ import annotations

import base64
import functools

from allauth.core.internal.cryptokit import compare_user_code
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import (
    format_hotp_value,
    hotp_value,
    yield_hotp_counters_from_time,
)
from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings
from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet

from sites.models import Membership, Person

TOTP, RECOVERY = Authenticator.Type.TOTP, Authenticator.Type.RECOVERY_CODES
FEW = 3  # recovery codes left, at which one is told to make new ones
CAME_BY = "came_by"  # in a session that waits for a code: the password and the count of doors that it came by
LAST_STEP = "last_step"  # of the codes that were used: none of it or before it works again


# -- who must have one -----------------------------------------------------------------------------


def with_factors(people: QuerySet[Person]) -> QuerySet[Person]:
    """People who know, without a query more, whether they have a factor and whether a customer asks for one."""
    own = Authenticator.objects.filter(user=OuterRef("pk"), type=TOTP)
    asking = Membership.objects.filter(person=OuterRef("pk"), customer__factor_required=True)
    return people.annotate(factor_on=Exists(own), factor_asked=Exists(asking))


def _read(person: Person) -> Person:
    """The person with what :func:`with_factors` adds."""
    if hasattr(person, "factor_on"):
        return person
    return with_factors(Person.objects).get(pk=person.pk)


def has_factor(person: Person) -> bool:
    return _read(person).factor_on


def wants_factor(person: Person) -> bool:
    """Whether this person must have one: house staff where the house asks for it, members where a customer does."""
    if person.is_staff and settings.HOUSE_FACTOR_REQUIRED:
        return True
    return _read(person).factor_asked


def owes_factor(person: Person) -> bool:
    """Whether they must have one and have none: then nothing of any customer opens."""
    if person.is_anonymous:
        return False
    person = _read(person)
    return not person.factor_on and wants_factor(person)


def recovery_codes_left(person: Person) -> int | None:
    """How many of somebody's recovery codes still work; ``None`` where there are none."""
    found = Authenticator.objects.filter(user=person, type=RECOVERY).first()
    if found is None:
        return None
    try:
        return len(found.wrap().get_unused_codes())
    except InvalidToken:
        return 0


# -- one code, once --------------------------------------------------------------------------------


@transaction.atomic
def use_code(person: Person, code: str) -> Authenticator | None:
    """What a typed code belongs to, or ``None``. The code is used up.

    The factors are held until this is done: of two who bring the same code at once, one gets ``None``.
    """
    held = list(Authenticator.objects.select_for_update().filter(user=person).order_by("pk"))
    used = next((factor for factor in held if _use(factor, code)), None)
    if used is not None:
        for factor in held:
            _seal_anew(factor)
    return used


def _use(factor: Authenticator, code: str) -> bool:
    if factor.type == TOTP:
        return _use_step(factor, code)
    return factor.type == RECOVERY and _use_recovery(factor, code)


def _use_step(factor: Authenticator, code: str) -> bool:
    try:
        seed = FactorAdapter().decrypt(factor.data["secret"])
    except InvalidToken:  # the key it was kept under is gone
        return False
    for step in yield_hotp_counters_from_time():
        fresh = step > factor.data.get(LAST_STEP, 0)
        if fresh and compare_user_code(
            actual=code, expected=format_hotp_value(hotp_value(seed, step))
        ):
            factor.data[LAST_STEP] = step
            factor.save(update_fields=["data"])
            return True
    return False


def _use_recovery(factor: Authenticator, code: str) -> bool:
    codes = RecoveryCodes(factor)
    try:
        used = codes.validate_code(code)
    except InvalidToken:
        return False
    factor.data = codes.instance.data  # it has read the row anew
    return used


def _seal_anew(factor: Authenticator) -> None:
    """Seals a seed with the present key: one from before that was plain, or sealed with the key before. A factor of
    somebody who just came in is done with, whichever of them they used."""
    name = {TOTP: "secret", RECOVERY: "seed"}.get(factor.type, "")
    if name not in factor.data:
        return
    try:
        seed = FactorAdapter().decrypt(factor.data[name])
    except InvalidToken:  # the key it was kept under is gone
        return
    factor.data[name] = FactorAdapter().encrypt(seed)
    factor.save(update_fields=["data"])


def spend_present_codes(person: Person) -> None:
    """The code that set a factor up, or any of its moment, opens nothing afterwards."""
    for factor in Authenticator.objects.select_for_update().filter(user=person, type=TOTP):
        factor.data[LAST_STEP] = max(yield_hotp_counters_from_time())
        factor.save(update_fields=["data"])


# -- how a seed is kept ----------------------------------------------------------------------------

SEALED = "sealed:"  # stands before what is encrypted; what was kept before is plain until it is next used


class FactorAdapter(DefaultMFAAdapter):
    error_messages = DefaultMFAAdapter.error_messages | {
        "cannot_delete_authenticator": "You must have a second factor here, so this one stays. "
        "For a new device, ask house staff to take the lost one away.",
        "incorrect_code": "This code is not right, or it was used already. Wait for the next one.",
    }

    def encrypt(self, text: str) -> str:
        return SEALED + _box(_secrets()).encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        if not encrypted_text.startswith(SEALED):
            return encrypted_text
        return _box(_secrets()).decrypt(encrypted_text.removeprefix(SEALED).encode()).decode()

    def can_delete_authenticator(self, authenticator: Authenticator) -> bool:
        return not wants_factor(with_factors(Person.objects).get(pk=authenticator.user_id))


def _secrets() -> tuple[str, ...]:
    return (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)


@functools.lru_cache(maxsize=4)
def _box(secrets: tuple[str, ...]) -> MultiFernet:
    """Seals with the first secret, opens with any of them."""
    return MultiFernet([Fernet(_key(secret)) for secret in secrets])


def _key(secret: str) -> bytes:
    derived = HKDF(algorithm=SHA256(), length=32, salt=None, info=b"deskwright second factor")
    return base64.urlsafe_b64encode(derived.derive(secret.encode()))
