"""What pages tell of how people come in."""

from __future__ import annotations

from django import template
from django.db.models import QuerySet

from sites.access.factors import with_factors
from sites.models import Customer, Person

register = template.Library()


@register.simple_tag
def without_factor(customer: Customer) -> QuerySet[Person]:
    """The active members of a customer who have no second factor."""
    members = Person.objects.filter(memberships__customer=customer, is_active=True)
    return with_factors(members).filter(factor_on=False).order_by("name", "email")
