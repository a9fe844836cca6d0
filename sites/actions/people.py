"""What can be done to the people of this house, by themselves or by house staff. Sessions, factors, passwords, and
who is house staff.

Every action takes the person's row, so that two of them never work on what the other has just changed.
"""

from __future__ import annotations

from allauth.account.forms import default_token_generator
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import IntegrityError, transaction
from django.db.models import Exists, OuterRef
from django.utils import dateformat, timezone

from planner.record.choices import Role
from sites.access import factors
from sites.actions.counter import touch_house
from sites.actions.customers import end_invitations_left_behind, end_invitations_of
from sites.actions.stages import Refused
from sites.models import AddressLetter, Customer, Invitation, Membership, Person
from sites.web import let_in as links
from sites.web import notices
from sites.web.journal import note
from sites.web.mail import plain


def _held(person: Person) -> Person:
    """The person's row, held until this is done."""
    return Person.objects.select_for_update().get(pk=person.pk)


# -- sessions --------------------------------------------------------------------------------------


@transaction.atomic
def end_all_sessions(*, by: Person, person: Person) -> None:
    """Ends all sessions of somebody, also those that no list knows. ``person`` has the new count afterwards."""
    held = _held(person)
    _shut_doors(held)
    person.doors = held.doors
    note("all sessions ended", by=by, person=person)


def _shut_doors(held: Person) -> None:
    held.doors += 1
    held.save(update_fields=["doors"])
    rows = UserSession.objects.filter(user=held)
    Session.objects.filter(
        session_key__in=list(rows.values_list("session_key", flat=True))
    ).delete()
    rows.delete()


@transaction.atomic
def end_session(*, by: Person, person: Person, pk: int) -> bool:
    """Ends one session; whether it was still there."""
    row = UserSession.objects.filter(user=person, pk=pk).first()
    if row is None:
        return False
    row.end()
    note("session ended", by=by, person=person)
    return True


# -- passwords -------------------------------------------------------------------------------------


@transaction.atomic
def choose_password(*, person: Person, secret: str, password: str) -> None:
    """Sets a password for the secret of a letter. It works once, ends all sessions and all other letters, and shows
    that the address is theirs. Raises :class:`Refused` when the secret opens nothing any more."""
    held = _held(person)
    if not held.is_active or not default_token_generator.check_token(held, secret):
        raise Refused("This link does not work any more.")
    held.set_password(password)
    if settings.SENDS_MAIL:  # else no letter went anywhere
        held.proven_at = held.proven_at or timezone.now()
    held.save(update_fields=["password", "proven_at"])
    _shut_doors(held)
    note("password chosen by letter", by=held, person=held)
    said = f"The password of your account was changed by a letter's link on {_today()}."
    notices.tell(held, f"{said} If that was not you, tell house staff at once.")


@transaction.atomic
def let_in(*, by: Person | None, person: Person) -> str:
    """A secret with which one browser may try this person's password, though others guessed too often. ``by`` is
    ``None`` for whoever has the machine. They are told."""
    held = _held(person)
    if not held.is_active:
        raise Refused("This account is ended.")
    note("a browser was let in", by=by, person=held)
    if by:
        who = plain(by)
    else:
        who = "Whoever runs this Deskwright"
    said = f"{who} gave out a link on {_today()} with which a new browser may try your password."
    notices.tell(held, f"{said} If you did not ask for that, tell house staff at once.")
    return links.make(held)


# -- the second factor -----------------------------------------------------------------------------


@transaction.atomic
def remove_lost_factor(*, by: Person | None, person: Person) -> bool:
    """Takes away a factor that somebody lost, with its recovery codes, and ends their sessions; whether there was
    one. ``by`` is ``None`` for whoever has the machine. They are told."""
    if by is not None and by.pk == person.pk:
        raise Refused("Somebody else of the house takes away what you lost, not you yourself.")
    held = _held(person)
    gone, _ = Authenticator.objects.filter(user=held).delete()
    if not gone:
        return False
    _shut_doors(held)
    note("lost factor taken away", by=by, person=held)
    if by:
        who = plain(by)
    else:
        who = "Whoever runs this Deskwright"
    said = f"{who} took your second factor away on {_today()}, because it was said to be lost."
    notices.tell(held, f"{said} If you did not ask for that, tell house staff at once.")
    return True


@transaction.atomic
def ask_for_factor(*, by: Person, customer: Customer, wanted: bool) -> None:
    """Says whether every member of a customer must have a second factor. Raises :class:`Refused` for somebody who
    asks others for what they have not got."""
    if wanted and not factors.has_factor(factors.with_factors(Person.objects).get(pk=by.pk)):
        raise Refused(
            "Set up a second factor for yourself first; then you can ask the members for one."
        )
    held = Customer.objects.select_for_update().get(pk=customer.pk)
    if held.factor_required == wanted:
        return
    held.factor_required, held.changed_by, held.edits = wanted, by, held.edits + 1
    held.save(update_fields=["factor_required", "changed_by", "changed_at", "edits"])
    note(
        "factor asked of members" if wanted else "factor no longer asked of members",
        by=by,
        customer=held,
    )


# -- accounts, as house staff change them ----------------------------------------------------------


@transaction.atomic
def change_name(*, by: Person, person: Person, name: str) -> None:
    held = _held(person)
    if held.name != name:
        held.name = name
        held.save(update_fields=["name"])
        touch_house()
        note("name changed", by=by, person=held)


@transaction.atomic
def change_address(*, by: Person, person: Person, email: str) -> None:
    """Gives somebody another address. It counts as not proven; their sessions and letters end, and both addresses
    are told. Raises :class:`Refused` when another account has it."""
    held = _held(person)
    before, email = held.email if held.has_address else "", email.lower()
    if email == held.email:
        return
    held.email, held.proven_at = email, None
    try:
        with transaction.atomic():
            held.save(update_fields=["email", "proven_at"])
    except IntegrityError as error:
        raise Refused("Another account has this address.") from error
    _shut_doors(held)
    _end_letters(held)
    end_invitations_left_behind(held, before)
    touch_house()
    note("address changed by staff", by=by, person=held)
    said = f"{plain(by)} gave your account another address on {_today()}."
    said += " If you did not ask for that, tell house staff."
    notices.tell(held, said)
    if before:
        notices.write(before, said)


@transaction.atomic
def end_account(*, by: Person, person: Person) -> None:
    """Ends an account: nothing opens to it any more. Memberships and what it signed stay as they are; invitations
    that it made, and those to its addresses, end.

    Raises :class:`Refused` for one's own account, and for the last active one of house staff.
    """
    held = _held_staff(by, person)
    if not held.is_active:
        return
    _keep_staff(held)
    held.is_active = False
    held.save(update_fields=["is_active"])
    _shut_doors(held)
    _end_letters(held)
    end_invitations_of(held, Invitation.objects.standing(timezone.now()))
    note("account ended", by=by, person=held)


@transaction.atomic
def open_account(*, by: Person, person: Person) -> None:
    """Opens an ended account again, with the roles that are still listed. Its old sessions stay ended."""
    held = _held(person)
    if not held.is_active:
        held.is_active = True
        held.save(update_fields=["is_active"])
        note("account opened again", by=by, person=held)


@transaction.atomic
def end_staff(*, by: Person, person: Person) -> None:
    """Makes somebody no longer house staff; their own memberships stay. Raises :class:`Refused` as ending does."""
    held = _held_staff(by, person)
    if not held.is_staff:
        return
    _keep_staff(held)
    held.is_staff = held.is_superuser = False
    held.save(update_fields=["is_staff", "is_superuser"])
    _end_invitations(held)
    note("no longer house staff", by=by, person=held)


def _held_staff(by: Person, person: Person) -> Person:
    """The person, held together with all house staff: of two who end each other, one is too late."""
    if by.pk == person.pk:
        raise Refused("Somebody else of the house does that to you, not you yourself.")
    staff = list(
        Person.objects.select_for_update().filter(is_staff=True, is_active=True).order_by("pk")
    )
    if by.pk not in {one.pk for one in staff}:
        raise Refused("You are no longer house staff.")
    return _held(person)


def _keep_staff(held: Person) -> None:
    others = Person.objects.filter(is_staff=True, is_active=True).exclude(pk=held.pk)
    if held.is_staff and not others.exists():
        raise Refused("This is the last one of house staff. Add another first.")


def _end_letters(held: Person) -> None:
    AddressLetter.objects.filter(person=held).update(ends_at=timezone.now())


def _end_invitations(held: Person) -> None:
    """The invitations that somebody made and nobody has accepted yet."""
    Invitation.objects.standing(timezone.now()).filter(inviter=held).update(ended_at=timezone.now())


def without_lead_after(person: Person) -> list[Customer]:
    """The customers that have no active lead once this account is ended."""
    leads = Membership.objects.filter(
        customer=OuterRef("pk"), role=Role.LEAD, person__is_active=True
    )
    theirs = Customer.objects.filter(Exists(leads.filter(person=person)))
    return list(theirs.exclude(Exists(leads.exclude(person=person))))


def _today() -> str:
    return dateformat.format(timezone.now(), "j F Y")
