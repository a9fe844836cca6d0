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
def set_member(*, customer: Customer, email: str, role: str, name: str = "") -> Person:
    """Makes somebody a member in a role, or ends the membership when the role is "".

    Somebody new gets an account without a password; ``name`` is taken only then.
    """
    person = Person.objects.filter(email=email.lower()).first()
    if person is None:
        person = Person.objects.create_user(email, name=name)
    if not role:
        for one in Membership.objects.filter(customer=customer, person=person):
            one.delete()
        return person
    member = Membership.objects.filter(customer=customer, person=person).first()
    if member is None:
        Membership.objects.create(customer=customer, person=person, role=role)
    elif member.role != role:
        member.role = role
        member.save()
    return person
