"""The one door to a customer's data: who may see and change what.

A view asks for a site or a customer with what it wants to do there; it gets the object, or the
request ends: 404 for people who may not know it exists, 403 for members who may look but not this.

To somebody who owes a second factor nothing opens, whatever their role: :mod:`sites.web.sessions` leads them to the
set-up before they get here, and this holds where a request comes another way.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from planner.record.choices import Role
from sites.access import asker
from sites.access.factors import owes_factor
from sites.models import Customer, Person, Site

READ, EDIT, LEAD = Role.READER, Role.EDITOR, Role.LEAD
RANK: dict[str, int] = {"": 0, READ: 1, EDIT: 2, LEAD: 3}


@dataclass(frozen=True)
class Access:
    """What a person may do at one customer."""

    person: Person
    role: str

    @property
    def may_edit(self) -> bool:
        return RANK[self.role] >= RANK[EDIT]

    @property
    def may_lead(self) -> bool:
        return RANK[self.role] >= RANK[LEAD]


def customers_of(person: Person) -> QuerySet[Customer]:
    """The customers a person may see."""
    if owes_factor(person):
        return Customer.objects.none()
    if person.house_staff:
        return Customer.objects.all()
    return Customer.objects.filter(memberships__person=person)


def sites_of(person: Person) -> QuerySet[Site]:
    """The sites a person may see, but removed ones."""
    if owes_factor(person):
        return Site.objects.none()
    sites = Site.objects.filter(removal=None).select_related("customer")
    if person.house_staff:
        return sites
    return sites.filter(customer__memberships__person=person)


def may_edit_at(person: Person) -> QuerySet[Customer]:
    """The customers where a person may change things."""
    if owes_factor(person):
        return Customer.objects.none()
    if person.house_staff:
        return Customer.objects.all()
    return Customer.objects.filter(memberships__person=person, memberships__role__in=(EDIT, LEAD))


def role_at(person: Person, customer: Customer) -> str:
    """A person's role at a customer, or "". House staff lead everywhere."""
    if person.house_staff:
        return LEAD
    membership = customer.memberships.filter(person=person).first()
    if membership and person.is_active:
        return membership.role
    return ""


def _allow(person: Person, customer: Customer, need: str) -> Access:
    if owes_factor(person):
        role = ""
    else:
        role = role_at(person, customer)
    if not role:
        raise Http404
    if RANK[role] < RANK[need]:
        raise PermissionDenied(f"This takes a customer's {need}; you are {role} here.")
    return Access(person, role)


def for_site(need: str, write: str = "") -> Callable:
    """Wraps a view: ``customer`` and ``site`` codes become a :class:`Site`, if the person may.

    ``need`` is what GET takes, ``write`` (as ``need`` when left out) what any other method takes.
    The view finds :class:`Access` at ``request.access``.
    """

    def wrap(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @login_required
        @functools.wraps(view)
        def inner(request: HttpRequest, customer: str, site: str, **words) -> HttpResponse:
            found = get_object_or_404(
                Site.objects.select_related("customer"),
                customer__code=customer,
                code=site,
                removal=None,
            )
            if request.method in ("GET", "HEAD"):
                wanted = need
            else:
                wanted = write or need
            request.access = _allow(request.user, found.customer, wanted)
            asker.now().site = found
            return view(request, found, **words)

        inner.door = ("site", need, write or need)  # read by the URL × role test
        return inner

    return wrap


def for_customer(need: str, write: str = "") -> Callable:
    """As :func:`for_site`, for pages of a customer."""

    def wrap(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @login_required
        @functools.wraps(view)
        def inner(request: HttpRequest, customer: str, **words) -> HttpResponse:
            found = get_object_or_404(Customer, code=customer)
            if request.method in ("GET", "HEAD"):
                wanted = need
            else:
                wanted = write or need
            request.access = _allow(request.user, found, wanted)
            return view(request, found, **words)

        inner.door = ("customer", need, write or need)
        return inner

    return wrap


def for_house(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Wraps a view that only house staff may know of."""

    @login_required
    @functools.wraps(view)
    def inner(request: HttpRequest, **words) -> HttpResponse:
        if not request.user.house_staff or owes_factor(request.user):
            raise Http404
        request.access = Access(request.user, LEAD)
        return view(request, **words)

    inner.door = ("house", "staff", "staff")
    return inner
