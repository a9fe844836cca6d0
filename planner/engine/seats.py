"""Seats: how many people of a group work at once, and what licences follow from them.

A simple count, people × share rounded up; how the chance of more is weighed is another room's work.
"""

from __future__ import annotations

import math

from planner.engine.capacity import counting_hosts, known
from planner.facts import Application, Id, SeatGroup, SiteFacts


def at_once(group: SeatGroup) -> int | None:
    """People of a seat group at work at once; ``None`` when people or share are not known or the share
    is above one."""
    people, share = known(group.people), known(group.share_at_once)
    if people is None or share is None or share > 1:
        return None
    return math.ceil(people * share - 1e-9)


def by_template(facts: SiteFacts) -> dict[Id, int | None]:
    """Desktops the seat groups of each template need at once; ``None`` when a group's number is not known."""
    needed: dict[Id, int | None] = {}
    for group in facts.seat_groups:
        if group.template_id is not None:
            before, here = needed.get(group.template_id, 0), at_once(group)
            needed[group.template_id] = None if before is None or here is None else before + here
    return needed


def licences_needed(facts: SiteFacts, application: Application) -> int | None:
    """Licences an application needs on its basis, by the templates made from its image.

    *people*: everybody in their seat groups; *at-once*: those at work at once; *devices*: one for every
    desktop that may run; *hosts*: every host that counts; *free*: none. ``None`` when not known.
    Source: common practice, no source: the licence's own words decide.
    """
    templates = [t for t in facts.templates if t.image_id is not None and t.image_id == application.image_id]
    if application.licensed_by == "free":
        return 0
    if not templates:
        return None
    ids = {template.id for template in templates}
    groups = [group for group in facts.seat_groups if group.template_id in ids]
    counts: list[float | None]
    if application.licensed_by == "people":
        counts = [known(group.people) for group in groups] or [None]
    elif application.licensed_by == "at-once":
        counts = [at_once(group) for group in groups] or [None]
    elif application.licensed_by == "devices":
        counts = [known(template.most) for template in templates]
    elif application.licensed_by == "hosts":
        counts = [len(counting_hosts(facts)) or None]
    else:
        return None
    return None if None in counts else int(sum(count or 0 for count in counts))
