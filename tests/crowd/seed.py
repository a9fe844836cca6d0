"""Run inside a house by ``House.ask``: people and a site for a crowd, and what stands in the record afterwards.

seed.py editors 50      50 editors, signed in, and one site; they fight over its directory's join account
seed.py look            every contact's name, and every join account there ever was
seed.py large           the demo's large site, and eleven readers, signed in
"""

from __future__ import annotations

import json
import os
import sys

import django


def _signed_in(name: str, customer, role: str) -> dict:
    """A member with a session in the database, as a browser would hold it."""
    from django.conf import settings
    from django.test import Client

    from sites.actions.customers import make_member
    from sites.models import Person

    person = Person.objects.create_user(
        f"{name.lower().replace(' ', '.')}@crowd.example", name=name
    )
    make_member(customer=customer, person=person, role=role)
    client = Client()
    client.force_login(person)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    return {"name": name, "cookie": f"{cookie.key}={cookie.value}"}


def editors(count: str) -> dict:
    from django.conf import settings

    from sites.actions.customers import make_customer
    from sites.actions.records import make_site
    from sites.models import Directory, Person

    staff = Person.objects.create_superuser("staff@house.example", None, name="Staff")
    customer = make_customer(by=staff, values={"name": "Crowd and Sons", "code": "crowd"})
    site = make_site(by=staff, customer=customer, code="field", name="The field")
    return {
        "csrf": settings.CSRF_COOKIE_NAME,
        "site": "/at/crowd/field/",
        "fought": Directory.objects.get(site=site).pk,
        "people": [
            _signed_in(f"Editor {number:02}", customer, "editor") for number in range(int(count))
        ],
    }


def look() -> dict:
    from sites.models import Contact, Directory

    history = Directory.objects.get(site__code="field").history.order_by("edits", "history_id")
    return {
        "names": list(Contact.objects.values_list("name", flat=True)),
        "accounts": list(history.values_list("join_account", flat=True)),
    }


def large() -> dict:
    from django.conf import settings

    from sites.demo import load_site
    from sites.demo_large import large_site
    from sites.models import Person

    staff = Person.objects.create_superuser("staff@house.example", None, name="Staff")
    site = load_site(large_site(), {staff.email: staff})
    assert site is not None, "it is there already"
    people = [_signed_in(f"Reader {number:02}", site.customer, "reader") for number in range(11)]
    return {
        "csrf": settings.CSRF_COOKIE_NAME,
        "site": f"/at/{site.customer.code}/campus/",
        "people": people,
    }


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")
    django.setup()
    print(
        json.dumps({"editors": editors, "look": look, "large": large}[sys.argv[1]](*sys.argv[2:]))
    )
