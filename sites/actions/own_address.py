"""Whose address it is: a letter with a secret goes out, and whoever asked brings the secret back."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils import dateformat, timezone

from sites.actions.counter import touch_house
from sites.actions.customers import end_invitations_left_behind
from sites.actions.stages import Refused
from sites.models import AddressLetter, Person
from sites.web import notices, secret_links
from sites.web.journal import note

MOST_A_DAY = 5
ENDED = "This address of a page opens nothing any more. Ask for a new letter."


@transaction.atomic
def ask(*, by: Person, email: str) -> str:
    """Begins a proof that ``email`` is theirs, and gives the secret for the letter to it.

    Gives "" when the address is another's for good: then nothing is under way, and whoever asked is told the
    same as ever. Raises :class:`Refused` after too many letters in a day.
    """
    since = timezone.now() - dt.timedelta(days=1)
    if AddressLetter.objects.filter(person=by, made_at__gt=since).count() >= MOST_A_DAY:
        raise Refused(
            "You asked for enough letters today. Look among unwanted letters, or ask house staff."
        )
    secret = secret_links.make()
    ends = timezone.now() + dt.timedelta(days=settings.INVITATION_DAYS)
    made = AddressLetter.objects.create(
        person=by, email=email.lower(), digest=secret_links.digest_of(secret), ends_at=ends
    )
    note("address asked for", by=by, letter=made.pk)
    if anothers(by, email):
        return ""
    return secret


def anothers(person: Person, email: str) -> bool:
    """Whether an address belongs to somebody else in a way that no letter undoes."""
    holder = Person.objects.filter(email=email.lower()).exclude(pk=person.pk).first()
    return holder is not None and _for_good(holder)


def _for_good(holder: Person) -> bool:
    return bool(holder.proven_at or holder.is_staff)


def under_way(person: Person, secret: str) -> AddressLetter | None:
    """The letter a secret came with, if this person asked for it and it has not ended."""
    letters = AddressLetter.objects.filter(person=person, digest=secret_links.digest_of(secret))
    return letters.filter(ends_at__gt=timezone.now()).first()


def prove(*, by: Person, secret: str) -> str:
    """The secret came back: the address is theirs, and proven. Gives the address they had before, "" for none.

    All their letters under way end. An account that had the address and never proved it loses it. Raises
    :class:`Refused` when the secret opens nothing, or the address became another's meanwhile.
    """
    try:
        return _prove(by, secret)
    except IntegrityError as error:  # somebody else proved it in this very moment
        raise Refused(ENDED) from error


@transaction.atomic
def _prove(by: Person, secret: str) -> str:
    person = Person.objects.select_for_update().get(pk=by.pk)
    letter = under_way(person, secret)
    if letter is None:
        raise Refused(ENDED)
    holder = (
        Person.objects.select_for_update().filter(email=letter.email).exclude(pk=person.pk).first()
    )
    if holder is not None:
        if _for_good(
            holder
        ):  # asked of the row that is held: it may have been proven in this very moment
            raise Refused(ENDED)
        take_from(person=holder)
    if person.has_address:
        before = person.email
    else:
        before = ""
    person.email, person.proven_at = letter.email, timezone.now()
    if before != person.email:
        person.doors += 1
        end_invitations_left_behind(person, before)
    person.save(update_fields=["email", "proven_at", "doors"])
    AddressLetter.objects.filter(person=person).update(ends_at=timezone.now())
    touch_house()
    by.email, by.proven_at, by.doors = person.email, person.proven_at, person.doors
    note("address proven", by=by)
    return before


@transaction.atomic
def take_from(*, person: Person) -> None:
    """Takes an unproven address away: somebody showed that it is theirs.

    The account stays, and nobody signs in to it before house staff give it another address: no letter reaches it. It
    is told in the sessions that are open, and once it can sign in again; house staff see it on its page.
    """
    person.email = person.no_address()
    person.save(update_fields=["email"])
    AddressLetter.objects.filter(person=person).update(ends_at=timezone.now())
    touch_house()
    note("address lost", person=person)
    on = dateformat.format(timezone.now(), "j F Y")
    said = f"On {on} somebody showed by a letter that the address of this account is theirs."
    notices.tell(person, f"{said} If it was yours, tell house staff at once.")
