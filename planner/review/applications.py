"""Findings about applications: where they are installed, and whether their licences are enough."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from planner.engine.people.activation import LicenceNeed
from planner.record import units
from planner.record.choices import Licensing
from planner.record.facts import Application, Ref
from planner.review.base import Hit, rule
from planner.review.words import and_list
from planner.stages.staged import Staged

BASES: Mapping[str, str] = {
    Licensing.PEOPLE: "for every person",
    Licensing.AT_ONCE: "for every person at work at once; more are there at {risk} % of the busiest times at most",
    Licensing.DEVICES: "for every desktop that may run",
    Licensing.HOSTS: "for every host",
}


@rule("application-no-image")
def no_image(plan: Staged) -> Iterator[Hit]:
    for application in plan.facts.applications:
        if application.image_id is None:
            yield Hit(application.ref.at("image_id"), application=application.label)


@rule("application-basis-unknown")
def basis_unknown(plan: Staged) -> Iterator[Hit]:
    for application in plan.facts.applications:
        if not application.licensed_by:
            yield Hit(application.ref.at("licensed_by"), application=application.label)


def _needs(plan: Staged) -> Iterator[tuple[Application, LicenceNeed]]:
    """Applications on a known basis, with their licences."""
    for application in plan.facts.applications:
        need = plan.activation.licence(application.id)
        if need and need.basis in BASES:
            yield application, need


def _basis(plan: Staged, need: LicenceNeed) -> str:
    return BASES[need.basis].format(risk=units.show(100 * plan.concurrency.risk, 4))


@rule("application-held-unknown")
def held_unknown(plan: Staged) -> Iterator[Hit]:
    for application, need in _needs(plan):
        if need.held is None:
            if need.needed:
                needs = f" {units.show(need.needed)} are needed, one {_basis(plan, need)}."
            else:
                needs = ""
            yield Hit(
                application.ref.at("licences_held"), application=application.label, needs=needs
            )


@rule("application-licences-short")
def licences_short(plan: Staged) -> Iterator[Hit]:
    for application, need in _needs(plan):
        if need.short:
            yield Hit(
                application.ref.at("licences_held"),
                application=application.label,
                held=units.show(need.held),
                needed=units.show(need.needed),
                basis=_basis(plan, need),
            )


@rule("application-devices-rebuilt")
def devices_rebuilt(plan: Staged) -> Iterator[Hit]:
    for application, need in _needs(plan):
        if need.basis == Licensing.DEVICES and need.rebuilt:
            templates = and_list([plan.facts.named("template", id) for id in need.rebuilt])
            also = tuple(Ref("template", id, "reset_rule") for id in need.rebuilt)
            yield Hit(
                application.ref.at("licensed_by"),
                also=also,
                application=application.label,
                templates=templates,
            )
