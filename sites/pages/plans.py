"""Plans that are kept: the last ones of this process, so that a page that nothing moved costs one query.

A plan is kept under the :class:`sites.loading.State` of its site. The state is asked before everything is read and
once more after it: where both are the same nothing was written in between, so all rows are of one moment, whatever the
database lets a reader see of others who write. Within a transaction no plan is kept or taken: what is read there may
never have been, or be about to change under the same counter. The release and its catalogue are the process's own.

Whoever gets a plan shares it with other threads and must not change it. What pages derive from a plan alone is made
once (:func:`once`) and goes when the plan goes.
"""

from __future__ import annotations

import threading
import weakref
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import TypeVar, cast

from django.db import transaction

from planner import work_out
from planner.plan import Plan
from sites.loading import Rows, State, read_site, rows_of, state_of
from sites.models import Site

T = TypeVar("T")
MOST_PLANS = 32
MOST_RECORDS = 4_000  # of all kept plans together; the newest is kept however large it is
TRIES = 3  # while others write


@dataclass(frozen=True, slots=True)
class Kept:
    """A plan, what it was read from, and when that was so."""

    state: State
    plan: Plan
    rows: Rows

    @property
    def weight(self) -> int:
        """How many records it holds."""
        return sum(len(rows) for rows in self.rows.by_kind.values())


class Plans:
    """The last plans, each site's newest one; what was not asked for longest goes first."""

    def __init__(self, most: int = MOST_PLANS, records: int = MOST_RECORDS):
        self.most, self.records = most, records
        self._kept: OrderedDict[int, Kept] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, site: int) -> Kept | None:
        with self._lock:
            kept = self._kept.get(site)
            if kept is not None:
                self._kept.move_to_end(site)
            return kept

    def keep(self, site: int, new: Kept) -> Plan:
        """Keeps a plan, unless another thread has kept one of the same state meanwhile; gives the one that is kept."""
        with self._lock:
            before = self._kept.get(site)
            if before is None or before.state != new.state:
                self._kept[site] = new
                if before is not None:
                    _hand_on(before.plan, new.plan)
            self._kept.move_to_end(site)
            self._let_go()
            return self._kept[site].plan

    def _let_go(self) -> None:
        weight = sum(kept.weight for kept in self._kept.values())
        while len(self._kept) > 1 and (len(self._kept) > self.most or weight > self.records):
            _, gone = self._kept.popitem(last=False)
            weight -= gone.weight

    def clear(self) -> None:
        with self._lock:
            self._kept.clear()

    def __len__(self) -> int:
        return len(self._kept)


PLANS = Plans()


def kept_plan(site: Site) -> Plan:
    """The plan of a site as it stands now; shared, not to be changed."""
    if _in_transaction():
        return work_out(read_site(site))
    state = state_of(site)
    kept = PLANS.get(site.pk)
    if kept is not None and kept.state == state:
        return kept.plan
    return _read(site, state, kept)


def _in_transaction() -> bool:
    return transaction.get_connection().in_atomic_block


def _read(site: Site, state: State, before: Kept | None) -> Plan:
    """Reads what was written since ``before``, again while others write; what is still not of one moment then is
    shown, but not kept."""
    for _ in range(TRIES):
        if site.counter != state.counter:  # its own row is older than what was asked
            site = Site.objects.select_related("customer").get(pk=site.pk)
            state = state_of(site)
        rows = rows_of(site, before.rows if before else None)
        plan = work_out(read_site(site, rows), before.plan if before else None)
        after = state_of(site)
        if site.counter == state.counter and state == after and plan.facts.today == state.today:
            return PLANS.keep(site.pk, Kept(state, plan, rows))
        state = after
    return plan


# -- what pages derive from a plan -----------------------------------------------------------------

BEFORE = "of the plan before"
_DERIVED: weakref.WeakKeyDictionary[Plan, dict[Hashable, object]] = weakref.WeakKeyDictionary()


def once(plan: Plan, key: Hashable, make: Callable[[], T]) -> T:
    """What ``make`` makes of a plan, made once and shared like the plan itself.

    It may depend on nothing but the ``key``, the plan, and rows that are never written without the site's or the
    house's counter rising. Two threads may both make it; either is as good.
    """
    derived = _DERIVED.setdefault(plan, {})
    if key not in derived:
        derived[key] = make()
    return cast("T", derived[key])


def while_alike(plan: Plan, key: Hashable, what: list, make: Callable[[], T]) -> T:
    """As :func:`once`; and what was made of the site's plan before is taken where it was made of equal things.

    ``what`` is all that goes into it, but for the site itself and what the ``key`` tells apart.
    """
    whole = [plan.facts.site, plan.facts.customer, *what]
    of_before: dict[Hashable, tuple[list, T]] = once(plan, BEFORE, dict)
    before = of_before.get(key)

    def made() -> tuple[list, T]:
        if before is not None and before[0] == whole:
            return before
        return whole, make()

    return once(plan, (key, BEFORE), made)[1]


def _hand_on(before: Plan, after: Plan) -> None:
    """What the plan before came to, for as long as the plan after it is kept; nothing from further back."""
    derived = _DERIVED.pop(before, {})
    of_before = {
        key[0]: made
        for key, made in list(derived.items())
        if isinstance(key, tuple) and key[1:] == (BEFORE,)
    }
    _DERIVED.setdefault(after, {})[BEFORE] = of_before
