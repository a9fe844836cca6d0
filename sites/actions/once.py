"""A form that adds something counts once, however often it is sent.

Each such form carries a random token, made when it is shown (``{% once %}`` in a template). What it made is noted
beside the token in the same transaction: sent again (pressed twice, in two processes at the same moment, or once more
after the answer was lost), it gives back what it made. Token and content count together: whoever goes back, changes
a value and sends the form again means another record. A form without a token is taken as it comes.
"""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from django.db import models, transaction
from django.http import QueryDict
from django.utils import timezone
from django.utils.crypto import salted_hmac

from sites.models import Person, TakenForm

NAME = "once"  # of the hidden field
KEPT = dt.timedelta(days=7)
SWEPT = 500  # rows at a time
GONE = "This form was sent before. What it made has been removed since, or has ended."
One = TypeVar("One", bound=models.Model)
_TOKEN = re.compile(r"[A-Za-z0-9_-]{16,64}")
_APART = (NAME, "csrfmiddlewaretoken")  # they say nothing of what is to be made


@dataclass(frozen=True)
class Sent:
    """A form as somebody sent it: ``what`` it makes and ``where``, so that a token means nothing elsewhere."""

    by: Person
    what: str
    where: int
    form: QueryDict

    @property
    def digest(self) -> str:
        """What is kept of token and content; "" without a token."""
        token = self.form.get(NAME, "")
        if not _TOKEN.fullmatch(token):
            return ""
        content = sorted((name, values) for name, values in self.form.lists() if name not in _APART)
        return hashlib.sha256(repr((token, self.what, self.where, content)).encode()).hexdigest()

    @property
    def secret(self) -> str:
        """A secret that is the same whenever this form is sent, and that follows from nothing that is kept."""
        if not self.digest:
            return secrets.token_urlsafe(32)
        mac = salted_hmac("deskwright.once", self.form[NAME] + self.digest, algorithm="sha256")
        return base64.urlsafe_b64encode(mac.digest()).rstrip(b"=").decode()


@dataclass(frozen=True)
class Made:
    """What a form made: the key of the record, or a count; ``before`` when that was at an earlier time."""

    record: int
    before: bool


def new_token() -> str:
    return secrets.token_urlsafe(24)


def token_of(form: QueryDict) -> str:
    """The token that a form was sent with, if it is one."""
    token = form.get(NAME, "")
    if _TOKEN.fullmatch(token):
        return token
    return ""


def take(
    sent: Sent, *, valid: Callable[[], bool], make: Callable[[], int | models.Model]
) -> Made | None:
    """What a form makes, or has made before; ``None`` for one that is not ``valid`` and has made nothing.

    ``valid`` is asked after a look at what was made before: what the first press made may be what the second one
    trips over. It is asked outside the transaction, so the look is repeated where it says no. What ``make`` raises
    goes through, and nothing is noted then.
    """
    before = _before(sent)
    if before is not None:
        return before
    if not valid():
        return _before(sent)
    return _make(sent, make)


def _before(sent: Sent) -> Made | None:
    if not sent.digest:
        return None
    found = TakenForm.objects.filter(by=sent.by, token=sent.digest).first()
    if found:
        return Made(found.record, before=True)
    return None


@transaction.atomic
def _make(sent: Sent, make: Callable[[], int | models.Model]) -> Made:
    if not sent.digest:
        return Made(_key(make()), before=False)
    # Noted first: a second press waits here for the end of the first, and finds what that made.
    noted, fresh = TakenForm.objects.get_or_create(
        by=sent.by, token=sent.digest, defaults={"kind": sent.what[:20], "record": 0}
    )
    if not fresh:
        return Made(noted.record, before=True)
    noted.record = _key(make())
    noted.save(update_fields=["record"])
    transaction.on_commit(sweep, robust=True)
    return Made(noted.record, before=False)


def _key(made: int | models.Model) -> int:
    if isinstance(made, models.Model):
        return made.pk
    return made


def still_there(made: Made, rows: models.QuerySet[One]) -> One | None:
    """What was made, unless it is gone since."""
    return rows.filter(pk=made.record).first()


def sweep() -> None:
    """Forgets forms that nobody will send again."""
    old = (
        TakenForm.objects.filter(at__lt=timezone.now() - KEPT)
        .order_by("pk")
        .values_list("pk", flat=True)
    )
    found = list(old[:SWEPT])
    if found:
        TakenForm.objects.filter(pk__in=found).delete()
