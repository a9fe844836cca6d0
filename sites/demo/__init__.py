"""The demo house: loaded from ``fixtures/demo`` through the same forms and actions as a person's input.

A site's file holds, beside ``[customer]``, ``[members]`` and ``[site]``, one table a section of
``planner.record.chapters`` by its slug, ``[entered]`` (who typed it in and when, with ``[entered.hosts]`` and
so on where it was somebody else) and ``[[happened]]``: what was done since, in order (see
:mod:`sites.demo.happenings`).
"""

from __future__ import annotations

import tomllib

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.db import transaction

from planner.serving.folders import demo_house
from sites.actions import customers
from sites.demo.errors import DemoError
from sites.demo.happenings import carry_out
from sites.demo.house_asks import load_asked
from sites.demo.typing_in import type_in
from sites.demo_large import large_site
from sites.models import Customer, Person, Site
from sites.pages.standing import plan_of

FOLDER = settings.HOME / "fixtures" / "demo"


def load_house(large: bool = True) -> dict:
    """Loads what is not there yet; what is there stays as it is. Gives the house's own file."""
    house = read_house()
    people = load_people(house)
    load_asked(house, next(person for person in people.values() if person.is_staff))
    for path in sorted(FOLDER.glob("site-*.toml")):
        load_site(_read(path.name), people)
    if large:
        load_site(large_site(), people)
    return house


def read_house() -> dict:
    """The house's own file: its people and their password, and what it asks for at every site."""
    return demo_house()


def load_people(house: dict) -> dict[str, Person]:
    """The people of the house's file, by e-mail address."""
    hashed = make_password(
        house["password"]
    )  # once: everybody's is the same, and hashing is slow on purpose
    return {one["email"]: _person(one, hashed) for one in house["people"]}


def _read(name: str) -> dict:
    return tomllib.loads((FOLDER / name).read_text(encoding="utf-8"))


def _person(one: dict, hashed: str) -> Person:
    found = Person.objects.filter(email=one["email"]).first()
    if found is None:
        if one.get("staff"):
            make = Person.objects.create_superuser
        else:
            make = Person.objects.create_user
        found = make(one["email"], name=one["name"])
        found.password = hashed
        found.save()
    return found


@transaction.atomic
def load_site(content: dict, people: dict[str, Person]) -> Site | None:
    """One site with its customer and members; ``None`` when the site is there already."""
    code = content["customer"]["code"]
    if (
        code not in demo_house()["customers"]
    ):  # or a later start would take its own demo for a real house
        raise DemoError(f"{code} is not among the customers of house.toml")
    staff = next(person for person in people.values() if person.is_staff)
    customer = Customer.objects.filter(code=code).first()
    if customer is None:
        customer = customers.make_customer(by=staff, values=content["customer"])
    if Site.objects.filter(customer=customer, code=content["site"]["code"]).exists():
        return None
    for email, role in content.get("members", {}).items():
        customers.make_member(customer=customer, person=people[email], role=role)
    site = type_in(content, customer, staff, people)
    for entry in content.get("happened", []):
        carry_out(entry, site, people)
    site = Site.objects.select_related("customer").get(pk=site.pk)
    plan_of(site)  # so that the home page knows how it stands
    return site


__all__ = ["DemoError", "load_house", "load_people", "load_site", "read_house"]
