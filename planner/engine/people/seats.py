"""Seats: what licences follow from who sits where.

How many people are there at once is weighed in :mod:`planner.engine.people.concurrency`.
"""

from __future__ import annotations

from planner.engine.people.concurrency import crowds, most_needed
from planner.engine.placement.capacity import counting_hosts, known
from planner.record.choices import Licensing
from planner.record.facts import Application, SeatGroup, SiteFacts, Template


def templates_of(facts: SiteFacts, application: Application) -> list[Template]:
    """The templates whose desktops hold an application: those made from its image."""
    return [
        t for t in facts.templates if t.image_id is not None and t.image_id == application.image_id
    ]


def groups_of(facts: SiteFacts, application: Application) -> list[SeatGroup]:
    """The seat groups whose people find an application on their desktop."""
    ids = {template.id for template in templates_of(facts, application)}
    return [group for group in facts.seat_groups if group.template_id in ids]


def licences_needed(facts: SiteFacts, application: Application, risk: float) -> int | None:
    """Licences an application needs on its basis, by the templates made from its image.

    *people*: everybody in their seat groups; *at-once*: so many that more of these people are there at
    once with a chance of at most ``risk``; *devices*: one for every desktop that may run; *hosts*:
    every host that counts; *free*: none. ``None`` when not known.
    Source: common practice, no source: the licence's own words decide.
    """
    templates, groups = templates_of(facts, application), groups_of(facts, application)
    counts: list[float | None]
    match application.licensed_by:
        case Licensing.FREE:
            return 0
        case _ if not templates:
            return None
        case Licensing.PEOPLE:
            counts = [known(group.people) for group in groups] or [None]
        case Licensing.AT_ONCE:
            if groups:
                pairs = crowds(groups)
            else:
                pairs = None
            counts = [None if pairs is None else most_needed(pairs, risk)]
        case Licensing.DEVICES:
            counts = [known(template.most) for template in templates]
        case Licensing.HOSTS:
            counts = [len(counting_hosts(facts)) or None]
        case _:
            return None
    if None in counts:
        return None
    return int(sum(count or 0 for count in counts))
