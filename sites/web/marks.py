"""A demo and a real house never meet: each database bears a mark, and a start of the other kind refuses.

The mark is made when the database is brought up to date. One from before there were marks is judged by what is
in it. Every command asks first (a system check), ``migrate`` before and after, and every process that serves.
"""

from __future__ import annotations

import pathlib

from django.conf import settings
from django.contrib.auth.hashers import check_password
from django.core.checks import CheckMessage, Error
from django.core.exceptions import ImproperlyConfigured, PermissionDenied, ValidationError
from django.core.management.base import CommandError
from django.db import DatabaseError, IntegrityError, connection, transaction

from planner.serving.folders import HouseKind, all_of_the_demo, demo_house
from sites.models import Customer, HouseMark, Person

OTHER = "name another folder in DESKWRIGHT_DATA, or another database in DATABASE_URL"
NO_DEMO = (
    "This database is a demo's: its passwords are printed for everybody, so no real house starts on it. "
    f"For a real house, {OTHER}."
)
NO_REAL = f"This database holds a real house: no demo ever goes there. For the demo, {OTHER}."
REFUSALS: dict[tuple[str, str], str] = {
    (HouseKind.REAL, HouseKind.DEMO): NO_DEMO,
    (HouseKind.DEMO, HouseKind.REAL): NO_REAL,
}  # by what starts, and what is there
BOTH = (
    "This database holds accounts with the demo's printed password beside records that no demo put there: {whose}. "
    "Neither a demo nor a real house starts on it. If the house is real, give each of them another password with "
    "“manage.py changepassword” and start again. If it was a demo, " + OTHER + "."
)


class WrongHouse(CommandError, ImproperlyConfigured):
    """This database is not for a start of this kind; the words say what to do."""


# -- what a database is --------------------------------------------------------------------------


def refusal() -> str:
    """Why this start must not touch this database; "" when it may. Raises DatabaseError when it cannot be asked."""
    kind = settings.STARTS_AS
    if kind == HouseKind.TEST or not _is_there():
        return ""
    there = set(connection.introspection.table_names())
    if HouseMark._meta.db_table in there:
        mark = HouseMark.objects.first()
    else:
        mark = None
    if mark is not None:
        return REFUSALS.get((kind, mark.kind), "")
    if not {Person._meta.db_table, Customer._meta.db_table} <= there:
        return ""
    return _refusal_without_mark(kind)


def _is_there() -> bool:
    """An embedded database that nobody made yet is not made by looking at it."""
    if connection.vendor != "sqlite" or connection.is_in_memory_db():
        return True
    return pathlib.Path(connection.settings_dict["NAME"]).exists()


def _refusal_without_mark(kind: str) -> str:
    people = dict(Person.objects.order_by().values_list("email", "password"))
    customers = list(Customer.objects.order_by().values_list("code", flat=True))
    if not people and not customers:
        return ""
    printed = _with_printed_password(people)
    if not printed:
        return REFUSALS.get((kind, HouseKind.REAL), "")
    if all_of_the_demo(people, customers):
        return REFUSALS.get((kind, HouseKind.DEMO), "")
    return BOTH.format(whose=", ".join(printed))


def _with_printed_password(people: dict[str, str]) -> list[str]:
    """Those of the demo's people who still have the password that everybody knows."""
    house = demo_house()
    known = [one["email"] for one in house["people"] if one["email"] in people]
    return [email for email in known if check_password(house["password"], people[email])]


# -- at every start ------------------------------------------------------------------------------


def refuse() -> None:
    """Raises :class:`WrongHouse` when this start must not touch this database."""
    words = refusal()
    if words:
        raise WrongHouse(words)


def claim() -> None:
    """Marks the database as what this start takes it for. Raises :class:`WrongHouse`, as :func:`refuse` does."""
    refuse()
    if (
        settings.STARTS_AS == HouseKind.TEST
        or HouseMark._meta.db_table not in connection.introspection.table_names()
    ):
        return
    try:
        with transaction.atomic():
            HouseMark.objects.get_or_create(defaults={"kind": settings.STARTS_AS})
    except IntegrityError:  # another start was faster: what it marked holds for this one, too
        refuse()


def refuse_before(using: str = "default", **kwargs) -> None:
    """Before tables are changed."""
    if using == connection.alias:
        refuse()


def claim_after(using: str = "default", **kwargs) -> None:
    """After tables were made or changed."""
    if using == connection.alias:
        claim()


def checked(app_configs, **kwargs) -> list[CheckMessage]:
    """The system check: every command asks, before it does anything."""
    try:
        words = _asked_apart()
    except DatabaseError:  # it cannot be asked now: the command itself will say so
        return []
    if words:
        return [Error(words, id="sites.E002")]
    return []


def _asked_apart() -> str:
    """As :func:`refusal`; a connection that was opened for it alone does not stay, nor pass to other processes."""
    was_open = connection.connection is not None
    try:
        return refusal()
    finally:
        if not was_open:
            connection.close()


def own_house(get_response):
    """No page is answered from a house of the other kind. Asked once, when the process starts; while the database
    does not answer, at the next request again."""
    known = _is_known()

    def middleware(request):
        nonlocal known
        known = known or _is_known()
        return get_response(request)

    return middleware


def _is_known() -> bool:
    try:
        words = _asked_apart()
    except DatabaseError:
        return False
    if words:
        raise WrongHouse(words)
    return True


# -- the password that everybody knows -----------------------------------------------------------


class NoPrintedPassword:
    """In a real house nobody comes in by the demo's password, and nobody may choose it."""

    def authenticate(self, request, password: str | None = None, **credentials) -> None:
        if password and _is_printed(password):
            raise PermissionDenied

    def validate(self, password: str, user=None) -> None:
        if _is_printed(password):
            raise ValidationError(
                "This password is printed in the demo: everybody knows it. Choose another."
            )

    def get_help_text(self) -> str:
        return ""


def _is_printed(password: str) -> bool:
    return settings.STARTS_AS == HouseKind.REAL and password == demo_house()["password"]
