"""Brings a database up to date and makes one customer with one site; says on standard output how to come in."""

from __future__ import annotations

import json

import django


def main() -> None:
    django.setup()
    from django.conf import settings
    from django.core.management import call_command
    from django.db import connection
    from django.test import Client

    from sites.actions.records import make_site
    from sites.models import Person
    from tests.people import house_staff, larkfield

    call_command("migrate", verbosity=0)
    staff = house_staff()
    site = make_site(by=staff, customer=larkfield(staff), code="mill", name="Mill Street")
    client = Client()
    client.force_login(Person.objects.get(email="editor@larkfield.example"))
    cookie = client.cookies[settings.SESSION_COOKIE_NAME].value
    site.refresh_from_db()
    connection.close()
    print(json.dumps({"cookie": cookie, "counter": site.counter}))


if __name__ == "__main__":
    main()
