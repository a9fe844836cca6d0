"""Addresses, subnets and DHCP ranges that the plan proposes, written down as if somebody had typed them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from django.db import transaction

from planner import work_out
from planner.plan import Plan
from planner.record.facts import Ref, ref_of
from planner.review import Mend
from sites.actions.counter import edits_of
from sites.actions.locking import hold
from sites.actions.records import apply_mend
from sites.actions.stages import Refused
from sites.forms import guard
from sites.loading import read_site
from sites.models import RECORD_MODELS, Person, Site


@dataclass(frozen=True)
class Offer:
    """Values that one record would be given, as typed. ``edits`` is the edit counter they were offered at."""

    record: Ref
    label: str
    values: tuple[tuple[str, str], ...]
    edits: int = 0

    @property
    def token(self) -> str:
        """What the page sends back: it names the very values and the very state of the record."""
        typed = ";".join(f"{field}={text}" for field, text in self.values)
        return f"{self.record.anchor}|{typed}|{self.edits}"


def counted(site: Site, offers: Iterable[Offer]) -> list[Offer]:
    """The offers with the edit counters of their records: one query a kind."""
    offers = list(offers)
    found = edits_of(site, [one.record for one in offers])
    return [replace(one, edits=found.get(one.record.anchor, 0)) for one in offers]


@transaction.atomic
def take(
    *, by: Person, site: Site, at: Ref, value: str, offered: Callable[[Plan, Ref], str]
) -> str:
    """Gives a record the address that the page offered, and returns it.

    ``offered`` tells what is offered to a field now. Raises :class:`Refused` when that is no longer ``value``.
    """
    hold(site)
    plan = work_out(read_site(site))
    record = plan.facts.find(at)
    now = offered(plan, at)
    if record is None or not now:
        raise Refused(
            "That address is no longer offered: somebody changed the record meanwhile. Nothing was saved."
        )
    if now != value:
        raise Refused(
            f"Meanwhile {value} was taken or is no longer the next one for {record.label}: now it is {now}."
        )
    mend = Mend(at.at(""), ((at.field, value),))
    if not apply_mend(by=by, site=site, mend=mend, facts=plan.facts):
        raise Refused(f"{record.label} does not take {value}. Open its row and set it there.")
    return value


@transaction.atomic
def confirm(
    *, by: Person, site: Site, offer: Callable[[Plan], Iterable[Offer]], chosen: Sequence[str]
) -> int:
    """Writes down the offers that were chosen by their tokens: all of them, or none. Returns how many.

    ``offer`` makes the offers of a plan. They are made anew from the plan as it stands, so whatever was
    changed since the page was shown and bears on a chosen offer is noticed. Raises :class:`Refused`.
    """
    hold(site)
    plan = work_out(read_site(site))
    now = {one.token: one for one in counted(site, offer(plan))}
    for token in chosen:
        if token not in now:
            raise Refused(
                f"{_what_moved(plan, site, token)} Nothing was saved; this is how it stands now."
            )
    wanted: dict[Ref, dict[str, str]] = {}
    for token in dict.fromkeys(chosen):
        wanted.setdefault(now[token].record, {}).update(now[token].values)
    for record, values in wanted.items():
        if not apply_mend(
            by=by, site=site, mend=Mend(record, tuple(values.items())), facts=plan.facts
        ):
            raise Refused(
                f"{_label(plan, record)} does not take it: open its row and set it there. Nothing was saved."
            )
    return len(set(chosen))


def _what_moved(plan: Plan, site: Site, token: str) -> str:
    at = ref_of(token.partition("|")[0])
    edits = token.rpartition("|")[2]
    if at is None or at.kind not in RECORD_MODELS or at.kind == "site":
        return "That is not offered here."
    rows = RECORD_MODELS[at.kind].objects.filter(pk=at.id, site=site, removal=None)
    record = rows.select_related("changed_by").first()
    if record is None:
        return guard.REMOVED
    label = _label(plan, at)
    if edits != str(record.edits):
        return guard.changed(record.changed_by, label)
    return f"What was offered to {label} is no longer free or no longer needed."


def _label(plan: Plan, record: Ref) -> str:
    found = plan.facts.find(record)
    if found:
        return found.label
    return "the record"
