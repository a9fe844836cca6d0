"""Stands in until invitations are here: only what the pages of the house call."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from sites.models import Customer, Invitation, Person


@transaction.atomic
def invite(
    *, by: Person, customer: Customer | None, email: str, role: str, name: str = ""
) -> tuple[Invitation, str]:
    secret = secrets.token_urlsafe(32)
    made = Invitation.objects.create(
        customer=customer,
        role=role,
        email=email.lower(),
        name=name,
        inviter=by,
        digest=hashlib.sha256(secret.encode()).hexdigest(),
        by_letter=settings.SENDS_MAIL,
        ends_at=timezone.now() + dt.timedelta(days=settings.INVITATION_DAYS),
    )
    return made, secret
