"""Who may write now. Everybody locks in one order, so that nobody waits for somebody who waits for them:

1. the house's own rows, then every site (:func:`hold_house`); or
2. the sites an action writes at, by their keys (:func:`hold`, :func:`hold_all_of`);
3. records and whatever else hangs on a site: never before the site;
4. then the customer's row, for the room its proofs take (:mod:`sites.actions.proofs`);
5. last of all the house's counter (:func:`sites.actions.counter.touch_house`): whoever holds it waits for nobody.

So the first statement of every action that writes at a site is one of these, and what the action goes by is read after
it: two presses at the same moment come one after the other. ``tests/sites/test_locking.py`` holds both.

The embedded database has one writer at a time anyway; there these only read.
"""

from __future__ import annotations

from django.db import connection

from sites.models import Customer, Site

HOUSE = 0x686F7573  # of the lock in a PostgreSQL: "hous"


def hold(site: Site) -> Site:
    """Others wait before they write at this site, until the transaction ends. Gives the site as it is now.

    Rows that name the site can still be added meanwhile: who looks at a page is noted, whatever is written.
    """
    return Site.objects.select_for_update(no_key=True).get(pk=site.pk)


def hold_all_of(customer: Customer | int) -> None:
    """As :func:`hold`, for every site of a customer: for what is written at several."""
    of_customer = Site.objects.filter(customer=customer)
    _lock(of_customer)


def hold_house() -> None:
    """Others wait before they change what the house asks for everywhere, or write at any site."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [HOUSE])
    _lock(Site.objects.all())


def _lock(sites) -> None:
    in_order = sites.select_for_update(no_key=True).order_by("pk")
    list(in_order.values_list("pk", flat=True))
