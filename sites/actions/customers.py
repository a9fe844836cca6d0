"""What can be done to customers and their members."""

from __future__ import annotations

from django.db import transaction

from sites.models import Customer, Membership, Person


@transaction.atomic
def make_customer(*, by: Person, values: dict) -> Customer:
    return Customer.objects.create(made_by=by, changed_by=by, **values)


@transaction.atomic
def change_customer(*, by: Person, customer: Customer, values: dict) -> Customer:
    """Changes a customer's own fields; its code stands in addresses of pages and stays."""
    changed = {name: value for name, value in values.items() if getattr(customer, name) != value}
    for name, value in changed.items():
        setattr(customer, name, value)
    if changed:
        customer.edits, customer.changed_by = customer.edits + 1, by
        customer.save()
    return customer


@transaction.atomic
def make_member(*, customer: Customer, person: Person, role: str) -> Membership:
    """Gives somebody a role at a customer. People get theirs by accepting an invitation
    (:mod:`sites.actions.invitations`); this is what that comes to."""
    made, _ = Membership.objects.update_or_create(customer=customer, person=person, defaults={"role": role})
    return made
