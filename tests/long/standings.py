"""Who sends: one person of each standing at a site of the demo house."""

from __future__ import annotations

from sites.models import Person, Site


def at(site: Site) -> dict[str, Person | None]:
    members = site.customer.memberships.select_related("person")
    found: dict[str, Person | None] = {one.role: one.person for one in members}
    return {"nobody": None, "staff": Person.objects.filter(is_staff=True).first(), **found}
