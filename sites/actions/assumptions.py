"""Planning numbers set anew, for one site or for the whole house."""

from __future__ import annotations

import datetime as dt

from django.db import transaction

from sites.actions.counter import touch, touch_house
from sites.actions.locking import hold, hold_house
from sites.models import Assumed, HouseAssumption, Person, Site


@transaction.atomic
def assume(
    *, by: Person, site: Site | None, key: str, value: float, origin: str, note: str, on: dt.date
) -> Assumed | HouseAssumption:
    """Sets a planning number at a site, or for every site that has none of its own (``site`` None)."""
    _hold(site)
    found = own_value(site, key)
    if found is None:
        if site is None:
            found = HouseAssumption(key=key)
        else:
            found = Assumed(site=site, key=key)
    found.value, found.origin, found.note, found.set_on = value, origin, note, on
    found._history_user = by
    found.save()
    _tell(site)
    return found


@transaction.atomic
def assume_no_more(*, by: Person, site: Site | None, key: str) -> None:
    """Takes a site's own value back to the house's, or the house's back to the catalogue's."""
    _hold(site)
    found = own_value(site, key)
    if found is not None:
        found._history_user = by
        found.delete()
        _tell(site)


def own_value(site: Site | None, key: str) -> Assumed | HouseAssumption | None:
    if site is None:
        return HouseAssumption.objects.filter(key=key).first()
    return Assumed.objects.filter(site=site, key=key).first()


def _hold(site: Site | None) -> None:
    if site is None:
        hold_house()
    else:
        hold(site)


def _tell(site: Site | None) -> None:
    if site is None:
        touch_house()
    else:
        touch(site)
