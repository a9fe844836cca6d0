"""Findings about applications: where they are installed, and whether their licences are enough."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from planner import units
from planner.engine.capacity import known
from planner.engine.seats import licences_needed
from planner.review.base import Hit, rule

if TYPE_CHECKING:
    from planner.plan import Plan

BASES = {
    "people": "for every person",
    "at-once": "for every person at work at once",
    "devices": "for every desktop that may run",
    "hosts": "for every host",
}


@rule("application-no-image")
def no_image(plan: Plan) -> Iterator[Hit]:
    for application in plan.facts.applications:
        if application.image_id is None:
            yield Hit(application.ref.at("image_id"), application=application.label)


@rule("application-basis-unknown")
def basis_unknown(plan: Plan) -> Iterator[Hit]:
    for application in plan.facts.applications:
        if not application.licensed_by:
            yield Hit(application.ref.at("licensed_by"), application=application.label)


@rule("application-held-unknown")
def held_unknown(plan: Plan) -> Iterator[Hit]:
    for application in plan.facts.applications:
        if application.licensed_by in BASES and known(application.licences_held) is None:
            needed = licences_needed(plan.facts, application)
            needs = f" {units.show(needed)} are needed, one {BASES[application.licensed_by]}." if needed else ""
            yield Hit(application.ref.at("licences_held"), application=application.label, needs=needs)


@rule("application-licences-short")
def licences_short(plan: Plan) -> Iterator[Hit]:
    for application in plan.facts.applications:
        held, needed = known(application.licences_held), licences_needed(plan.facts, application)
        if held is not None and needed is not None and needed > held:
            yield Hit(application.ref.at("licences_held"), application=application.label, held=units.show(held),
                      needed=units.show(needed), basis=BASES.get(application.licensed_by, ""))  # fmt: skip
