"""1 Brief: contacts. The site itself is in customers.py."""

from planner.record import facts
from sites.models.base import SiteRecord
from sites.models.fields import words


class Contact(SiteRecord):
    facts = facts.Contact

    name = words()
    role = words(20)
    phone = words(60)
    email = words(254)
