"""Builds facts for tests: small sites whose every number is in the test that uses them."""

from __future__ import annotations

import datetime as dt
import itertools

from planner.plan import Plan
from planner.record import facts as f
from planner.review import base

TODAY = dt.date(2026, 3, 2)
_ids = itertools.count(1)


def make(cls: type[f.Record], **values) -> f.Record:
    """One record with a fresh id: ``make(f.Host, name="mill-h1", memory_gib=96)``."""
    return cls(**{"id": next(_ids), **values})


def site_facts(
    *records: f.Record, purpose: str = "live", today: dt.date = TODAY, **values
) -> f.SiteFacts:
    """Facts with the given records, each put where it belongs by its type."""
    lists: dict[str, list] = {}
    single = {"site": f.Site(id=1, name="Mill Street", code="mill", purpose=purpose)}
    for record in records:
        name = LISTS.get(type(record))
        if name is None:
            single[record.kind] = record
        else:
            lists.setdefault(name, []).append(record)
    return f.SiteFacts(
        **{
            "today": today,
            "customer": "Larkfield Vets",
            "customer_code": "larkfield",
            **single,
            **values,
        },
        **{name: tuple(found) for name, found in lists.items()},
    )


def plan_of(*records: f.Record, **values) -> Plan:
    return Plan(site_facts(*records, **values))


def findings(*records: f.Record, **values) -> dict[str, list]:
    """The plan's findings by key."""
    by_key: dict[str, list] = {}
    for finding in plan_of(*records, **values).review.findings:
        by_key.setdefault(finding.key, []).append(finding)
    return by_key


def raised(key: str, *records: f.Record, **values) -> list[base.Finding]:
    """The findings of one rule alone, worded and weighed as the review would."""
    plan = plan_of(*records, **values)
    entry = base.entries()[key]
    weight = entry.live if plan.facts.site.live else entry.trial
    return (
        [base._finding(entry, weight, hit, {}) for hit in base.RULES[key](plan)] if weight else []
    )


LISTS = {
    **{cls: f.LISTS[kind] for kind, cls in f.RECORDS.items() if kind in f.LISTS},
    f.HouseStep: "house_steps",
    f.HouseCheck: "house_checks",
    f.Estimate: "estimates",
    f.Assumed: "assumed",
    f.Answer: "answers",
    f.Signature: "signatures",
    f.Acceptance: "acceptances",
}
