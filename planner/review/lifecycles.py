"""Findings about published ends of support: dates nobody typed, and typed ones that are not the publisher's."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from planner.engine.upkeep.lifecycles import FROM_MEMORY, Lifecycle, Row, SupportState
from planner.record.chapters import show_date
from planner.record.facts import Ref
from planner.review.base import Hit, Mend, rule
from planner.stages.staged import Staged


def _hit(one: Lifecycle, **words: str) -> Hit:
    """A hit at the field of the date, with the mend that sets the published one."""
    record, row = Ref("image", one.image_id), one.rows[0]
    mend = Mend(record, (("support_ends", row.ends.isoformat()),))
    words = {
        "image": one.name,
        "system": row.label,
        "ends": show_date(row.ends),
        "read": _read(row),
        "note": f" {row.note}" if row.note else "",
        **words,
    }
    return Hit(record.at("support_ends"), mend=mend, also=(record.at("operating_system"),), **words)


def _read(row: Row) -> str:
    """When and where somebody read the date."""
    if row.read == FROM_MEMORY:
        return "from memory, read nowhere"
    return f"read on {show_date(dt.date.fromisoformat(row.read))}"


def _untyped(plan: Staged) -> Iterator[Lifecycle]:
    return (
        one for one in plan.lifecycles.images if one.typed is None and one.published is not None
    )


@rule("image-support-published")
def published(plan: Staged) -> Iterator[Hit]:
    for one in _untyped(plan):
        if one.state == SupportState.ENOUGH:
            yield _hit(one)


@rule("image-published-end-near")
def published_end_near(plan: Staged) -> Iterator[Hit]:
    start, today = plan.lifecycles.start, plan.facts.today
    if start == today:
        since = "today"
    else:
        since = f"go-live, {show_date(start)}"
    for one in _untyped(plan):
        if one.days is not None and one.state in (SupportState.ENDED, SupportState.SOON):
            away = abs(one.days)
            if one.state == SupportState.ENDED:
                side = "before"
            else:
                side = "after"
            when = f"{away} day{'s' if away != 1 else ''} {side} {since}"
            yield _hit(one, when=when if away else f"on the day of {since}")


@rule("image-support-differs")
def differs(plan: Staged) -> Iterator[Hit]:
    for one in plan.lifecycles.images:
        if one.differs and one.typed:
            yield _hit(one, typed=show_date(one.typed))


@rule("image-edition-unsaid")
def edition_unsaid(plan: Staged) -> Iterator[Hit]:
    """Several editions, several ends; a date somebody typed that is one of them settles it."""
    for one in plan.lifecycles.images:
        if one.rows and one.published is None and one.typed not in {row.ends for row in one.rows}:
            ends = "; ".join(f"{row.edition}: {show_date(row.ends)}" for row in one.rows)
            at = Ref("image", one.image_id, "operating_system")
            yield Hit(
                at,
                also=(at.at("support_ends"),),
                image=one.name,
                system=one.rows[0].name,
                ends=ends,
            )
