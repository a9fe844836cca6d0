"""What can be done to customers and their members."""

from __future__ import annotations

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from sites.access.door import LEAD, role_at
from sites.actions.records import Saved, laid_over
from sites.actions.stages import Refused
from sites.models import Customer, Invitation, Membership, Person
from sites.models.identity import InvitationQuerySet
from sites.web.journal import note


@transaction.atomic
def make_customer(*, by: Person, values: dict) -> Customer:
    return Customer.objects.create(made_by=by, changed_by=by, **values)


@transaction.atomic
def change_customer(*, by: Person, customer: Customer, opened_at: int, values: dict) -> Saved:
    """Saves what was typed into a customer's form opened at edit counter ``opened_at``. Its code stands in addresses
    of pages and stays.

    If the customer has moved on since, fields that only one side changed are merged; where both changed the same
    field nothing is saved and the clashes come back.
    """
    held = Customer.objects.select_for_update().get(pk=customer.pk)
    clashes, values, merged = laid_over(held, opened_at, values)
    if clashes:
        return Saved(held, clashes, merged)
    changed = {name: value for name, value in values.items() if getattr(held, name) != value}
    if changed:
        for name, value in changed.items():
            setattr(held, name, value)
        held.edits, held.changed_by = held.edits + 1, by
        held.save(update_fields=[*changed, "edits", "changed_by", "changed_at"])
    return Saved(held, merged=merged)


@transaction.atomic
def make_member(*, customer: Customer, person: Person, role: str) -> Membership:
    """Gives somebody a role at a customer. People get theirs by accepting an invitation
    (:mod:`sites.actions.invitations`); this is what that comes to."""
    made, _ = Membership.objects.update_or_create(
        customer=customer, person=person, defaults={"role": role}
    )
    return made


@transaction.atomic
def change_role(*, by: Person, member: Membership, role: str) -> None:
    """Changes what a member may do. Raises :class:`Refused` for house staff and for the last lead."""
    _hold(by, member)
    if role != LEAD:
        _keep_a_lead(by, member)
    member.role = role
    member.save()
    note("role changed", by=by, person=member.person, customer=member.customer, role=role)


@transaction.atomic
def end_membership(*, by: Person, member: Membership) -> None:
    """Ends a membership, and the invitations that would bring it back. Raises :class:`Refused` as above."""
    _hold(by, member)
    _keep_a_lead(by, member)
    standing = Invitation.objects.standing(timezone.now()).filter(customer=member.customer)
    end_invitations_of(member.person, standing)
    note("membership ended", by=by, person=member.person, customer=member.customer)
    member.delete()


def end_invitations_of(person: Person, standing: InvitationQuerySet) -> None:
    """Ends those of the standing invitations that somebody made, and those to an address that is, or was, theirs."""
    accepted = Invitation.objects.filter(accepted_by=person).values_list("email", flat=True)
    addresses = {person.email, *accepted}
    theirs = standing.filter(Q(inviter=person) | Q(email__in=addresses))
    theirs.update(ended_at=timezone.now())


def end_invitations_left_behind(person: Person, before: str) -> None:
    """Ends the standing invitations to an address that somebody gives up, wherever they are a member already: later
    nobody would know that it was theirs."""
    standing = Invitation.objects.standing(timezone.now()).filter(email=before)
    customers = person.memberships.values("customer")
    standing.filter(customer__in=customers).update(ended_at=timezone.now())


def _hold(by: Person, member: Membership) -> None:
    """One change of a customer's members at a time: two leads cannot end each other."""
    customer = Customer.objects.select_for_update().get(pk=member.customer_id)
    if role_at(by, customer) != LEAD:
        raise Refused("You are no longer lead here.")
    if not Membership.objects.filter(pk=member.pk).exists():
        raise Refused("That membership was ended meanwhile.")
    member.refresh_from_db(fields=["role"])
    if member.person.house_staff and not by.house_staff:
        raise Refused(f"{member.person} is house staff: only house staff can change that.")


def _keep_a_lead(by: Person, member: Membership) -> None:
    """House staff may leave a customer without a lead: they look after it then."""
    if member.role != LEAD or by.house_staff:
        return
    others = Membership.objects.filter(
        customer=member.customer_id, role=LEAD, person__is_active=True
    )
    if not others.exclude(pk=member.pk).exists():
        raise Refused(
            f"{member.person} is the only lead here. Invite another lead first, or ask house staff."
        )
