"""People of every standing at one customer, for fixtures of one test and of a whole module."""

from __future__ import annotations

from sites.actions.customers import make_customer, make_member
from sites.models import Customer, Person

ROLES = ("reader", "editor", "lead")


def house_staff() -> Person:
    return Person.objects.create_superuser("staff@house.example", "paper-and-pencil", name="Staff")


def larkfield(staff: Person) -> Customer:
    """A customer with a member of each role."""
    made = make_customer(by=staff, values={"name": "Larkfield Vets", "code": "larkfield"})
    for role in ROLES:
        make_member(
            customer=made, person=Person.objects.create_user(f"{role}@larkfield.example"), role=role
        )
    return made


def outsider(staff: Person) -> Person:
    """The lead of another customer."""
    other = make_customer(by=staff, values={"name": "Other", "code": "other"})
    return make_member(
        customer=other, person=Person.objects.create_user("lead@other.example"), role="lead"
    ).person


def by_standing(staff: Person, outside: Person) -> dict[str, Person | None]:
    """One person of every standing, once they are all there."""
    found = {role: Person.objects.get(email=f"{role}@larkfield.example") for role in ROLES}
    return {"nobody": None, "outsider": outside, **found, "staff": staff}
