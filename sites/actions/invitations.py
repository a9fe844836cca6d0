"""Invitations. Naming an address opens nothing: a role begins when somebody who is signed in and holds the
secret accepts it.

An invitation is bound to one customer (or the house), one role, one address, one inviter. It ends after
:data:`~django.conf.settings.INVITATION_DAYS`, when it is taken back, when another one takes its place, as soon as
its inviter may no longer invite, and with the membership it was for.

What is judged is held: the customer's row first, then people's, then the invitation's. All take them in this order,
so that nobody waits for somebody who waits for them.
"""

from __future__ import annotations

import datetime as dt
from enum import Enum

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils import timezone

from sites.access.door import LEAD, RANK, role_at
from sites.actions import once
from sites.actions.customers import make_member
from sites.actions.own_address import take_from
from sites.actions.stages import Refused
from sites.models import Customer, Invitation, Membership, Person
from sites.models.identity import STAFF
from sites.web import secret_links
from sites.web.journal import note

MOST_A_DAY = 60  # by one inviter
MOST_LETTERS_A_DAY = 5  # to one address for one customer
NOTHING = "This invitation opens nothing any more. Ask whoever sent it for a new one."
TAKEN = "There is an account with this address: sign in with it, then accept."


class Standing(Enum):
    """How an address stands towards whoever holds an invitation to it."""

    FREE = "no account has it"
    UNPROVEN = "an account has it and never showed that it is theirs"
    TAKEN = "somebody's account has it"


@transaction.atomic
def invite(
    *,
    by: Person,
    customer: Customer | None,
    email: str,
    role: str,
    name: str = "",
    secret: str = "",
) -> tuple[Invitation, str]:
    """Offers a role; gives the invitation and its secret, which is told here once and kept nowhere.

    ``secret`` is one that a form brings along, so that sending the form twice tells the same.

    Raises :class:`Refused` when ``by`` may not, has invited too often today, or brings a secret that was used.
    """
    if customer is not None:
        _hold_customer(customer.pk)
    if not may_invite(_held_person(by), customer, role):
        raise Refused("You may not invite anybody here.")
    email = email.lower()
    _refuse_too_many(by, customer, email)
    Invitation.objects.standing(timezone.now()).filter(customer=customer, email=email).update(
        ended_at=timezone.now()
    )
    secret = secret or secret_links.make()
    digest = secret_links.digest_of(secret)
    if Invitation.objects.filter(digest=digest).exists():  # of a form that was kept for long
        raise Refused(once.GONE)
    made = Invitation.objects.create(
        customer=customer,
        role=role,
        email=email,
        name=name,
        inviter=by,
        digest=digest,
        by_letter=settings.SENDS_MAIL,
        ends_at=timezone.now() + dt.timedelta(days=settings.INVITATION_DAYS),
    )
    note("invited", by=by, customer=customer, invitation=made.pk, role=role)
    return made, secret


def may_invite(by: Person, customer: Customer | None, role: str) -> bool:
    if customer is None:
        return role == STAFF and by.house_staff
    return role != STAFF and role_at(by, customer) == LEAD


def _refuse_too_many(by: Person, customer: Customer | None, email: str) -> None:
    since = timezone.now() - dt.timedelta(days=1)
    lately = Invitation.objects.filter(inviter=by, made_at__gt=since).count()
    if lately >= MOST_A_DAY:
        raise Refused(
            f"You have invited {lately} people within a day. Go on tomorrow, or ask house staff."
        )
    letters = Invitation.objects.filter(customer=customer, email=email, made_at__gt=since).count()
    if letters >= MOST_LETTERS_A_DAY:
        raise Refused(
            "That address was invited often enough today. Ask there whether the letters arrive."
        )


def offered(secret: str) -> Invitation | None:
    """The invitation a secret opens, while it stands and its inviter may still invite."""
    standing = Invitation.objects.standing(timezone.now()).select_related("customer", "inviter")
    found = standing.filter(digest=secret_links.digest_of(secret)).first()
    if found is None or not may_invite(found.inviter, found.customer, found.role):
        return None
    return found


def stands(invitation: Invitation) -> bool:
    """Whether it may still be accepted."""
    standing = Invitation.objects.standing(timezone.now()).select_related("inviter", "customer")
    found = standing.filter(pk=invitation.pk).first()
    return found is not None and may_invite(found.inviter, found.customer, found.role)


def standing_of(invitation: Invitation) -> Standing:
    """How the invited address stands. Only for whoever holds the secret."""
    return _standing(invitation, Person.objects.filter(email=invitation.email).first())


def _standing(invitation: Invitation, holder: Person | None) -> Standing:
    """How the invited address stands with the account that has it."""
    if holder is None:
        return Standing.FREE
    untouchable = holder.proven_at or holder.is_staff or not holder.is_active
    if invitation.by_letter and not untouchable:
        return Standing.UNPROVEN
    return Standing.TAKEN


# -- what is held ----------------------------------------------------------------------------------


def _hold_customer(pk: int) -> None:
    """One change of a customer's members at a time. Rows that name it can still be written."""
    Customer.objects.select_for_update(no_key=True).get(pk=pk)


def _hold_customer_of(secret: str) -> None:
    told = Invitation.objects.filter(digest=secret_links.digest_of(secret)).first()
    if told is None:
        raise Refused(NOTHING)
    if told.customer_id is not None:
        _hold_customer(told.customer_id)


def _held_person(person: Person) -> Person:
    return Person.objects.select_for_update(no_key=True).get(pk=person.pk)


def _held(secret: str) -> Invitation:
    """The invitation, held until this is done: of two who accept at once one is too late."""
    Invitation.objects.select_for_update().filter(digest=secret_links.digest_of(secret)).first()
    found = offered(secret)
    if found is None:
        raise Refused(NOTHING)
    return found


# -- accepting -------------------------------------------------------------------------------------


@transaction.atomic
def accept(*, by: Person, secret: str) -> Invitation:
    """Begins what was offered, for whoever holds the secret. Raises :class:`Refused` when it opens nothing, or not
    to them. ``by`` knows afterwards what became of it."""
    _hold_customer_of(secret)
    person = _held_person(by)
    found = _held(secret)
    if not person.is_active or _was_ended_since(found, person):
        raise Refused(NOTHING)
    if found.customer is None:
        person.is_staff = True
    else:
        _give_role(found.customer, person, found.role)
    if found.by_letter and person.email == found.email and not person.proven_at:
        person.proven_at = timezone.now()  # the letter's secret came back
    person.save(update_fields=["is_staff", "proven_at"])
    by.is_staff, by.proven_at = person.is_staff, person.proven_at
    found.accepted_by, found.accepted_at = person, timezone.now()
    found.save(update_fields=["accepted_by", "accepted_at"])
    note("accepted", by=person, customer=found.customer, invitation=found.pk, role=found.role)
    return found


def _was_ended_since(invitation: Invitation, person: Person) -> bool:
    """Whether this person's membership was ended after the invitation was made: it dies with what it was for."""
    return Membership.history.filter(
        customer_id=invitation.customer_id,
        person_id=person.pk,
        history_type="-",
        history_date__gt=invitation.made_at,
    ).exists()


def _give_role(customer: Customer, person: Person, role: str) -> None:
    """Never less than somebody has: a lead who accepts a reader's invitation stays lead."""
    present = customer.memberships.filter(person=person).first()
    if present is None or RANK[present.role] < RANK[role]:
        make_member(customer=customer, person=person, role=role)


@transaction.atomic
def come_in(*, secret: str, name: str, password: str, take_address: bool = False) -> Person:
    """Makes an account with the invited address, where there is none, and accepts.

    ``take_address`` takes the address from an account that never proved it: only a letter's secret can.
    Raises :class:`Refused` when somebody's account has the address, or the invitation opens nothing.
    """
    _hold_customer_of(secret)
    email = Invitation.objects.get(digest=secret_links.digest_of(secret)).email
    holder = Person.objects.select_for_update().filter(email=email).first()
    found = _held(secret)
    standing = _standing(found, holder)
    if holder is not None and standing is Standing.UNPROVEN and take_address:
        take_from(person=holder)
    elif standing is not Standing.FREE:
        raise Refused(TAKEN)
    try:
        with transaction.atomic():
            made = Person.objects.create_user(found.email, password, name=name)
    except IntegrityError as error:  # made in this very moment
        raise Refused(TAKEN) from error
    note("account made", person=made, customer=found.customer, invitation=found.pk)
    accept(by=made, secret=secret)
    return made


@transaction.atomic
def withdraw(*, by: Person, invitation: Invitation) -> None:
    """Takes an invitation back: its secret opens nothing from now on."""
    Invitation.objects.filter(pk=invitation.pk, accepted_at=None, ended_at=None).update(
        ended_at=timezone.now()
    )
    note("invitation taken back", by=by, customer=invitation.customer, invitation=invitation.pk)
