"""Results: one site's facts and what is worked out from them, room by room.

Each room of the engine is worked out when it is first asked for and then kept, so that nothing is
computed twice and a page pays only for what it shows.

Several threads may share one plan. A room is worked out from facts that never change, so two that work out the same
one at the same moment come to the same, and either may stay. Only the planning numbers note who reads them: they
stand there from the beginning, so that all threads read the same ones.

A plan that follows another takes its rooms over where only what people said of the plan is new (answers, names under
gates, findings lived with): nothing here is worked out from that.
"""

from __future__ import annotations

import dataclasses
import functools

from planner.catalogue.assumptions import Numbers
from planner.engine import surge
from planner.engine.addresses import addressing, layout, leases, scopes
from planner.engine.flows import port_sheet as flows
from planner.engine.names import naming
from planner.engine.people import activation, concurrency, line
from planner.engine.placement import placing as placement
from planner.engine.recovery import building
from planner.engine.recovery import outages as recovery
from planner.engine.storage import datastores as storage
from planner.engine.upkeep import clocks, facility, lifecycles
from planner.record.facts import SiteFacts, fingerprint

SAID = ("answers", "signatures", "acceptances")


class Results:
    """Holds the facts of one site, the planning numbers in force, and every result of the engine."""

    def __init__(self, facts: SiteFacts, before: Results | None = None):
        self.facts = facts
        self.numbers = Numbers(facts.assumed)
        if before is not None and _alike_but_for_what_was_said(before.facts, facts):
            self.take_over(before)

    def take_over(self, before: Results) -> None:
        """The rooms that another plan has worked out already, of facts that are the same to them."""
        self.numbers = before.numbers
        worked_out = dict(vars(before))
        for name in self.UNSAID:
            if name in worked_out:
                vars(self)[name] = worked_out[name]

    @functools.cached_property
    def fingerprint(self) -> str:
        return fingerprint(self.facts)

    @functools.cached_property
    def addressing(self) -> addressing.Addressing:
        return addressing.work_out(self.facts, self.numbers.read_by("addressing"))

    @functools.cached_property
    def layout(self) -> layout.Layout:
        return layout.work_out(self.facts, self.addressing)

    @functools.cached_property
    def leases(self) -> leases.Leases:
        return leases.work_out(
            self.facts, self.numbers.read_by("leases", "building"), self.building
        )

    @functools.cached_property
    def scopes(self) -> tuple[scopes.Scope, ...]:
        numbers = self.numbers.read_by("scopes", "building")
        return scopes.propose(self.facts, self.addressing, numbers, self.building)

    @functools.cached_property
    def naming(self) -> naming.Naming:
        return naming.work_out(self.facts)

    @functools.cached_property
    def storage(self) -> storage.Storage:
        return storage.work_out(self.facts, self.numbers.read_by("storage"))

    @functools.cached_property
    def placement(self) -> placement.Placement:
        return placement.work_out(
            self.facts, self.numbers.read_by("placement", "storage"), self.storage
        )

    @functools.cached_property
    def concurrency(self) -> concurrency.Concurrency:
        return concurrency.work_out(self.facts, self.numbers.read_by("concurrency"))

    @functools.cached_property
    def line(self) -> line.Line:
        return line.work_out(
            self.facts, self.numbers.read_by("line", "concurrency"), self.concurrency
        )

    @functools.cached_property
    def activation(self) -> activation.Activation:
        return activation.work_out(self.facts, self.numbers.read_by("activation"))

    @functools.cached_property
    def building(self) -> building.Building:
        numbers = self.numbers.read_by("building", "placement")
        return building.work_out(self.facts, numbers, self.storage, self.placement)

    @functools.cached_property
    def recovery(self) -> recovery.Recovery:
        numbers = self.numbers.read_by("recovery", "placement", "concurrency")
        return recovery.work_out(
            self.facts, numbers, self.storage, self.placement, self.concurrency
        )

    @functools.cached_property
    def facility(self) -> facility.Facility:
        return facility.work_out(self.facts, self.numbers.read_by("facility"))

    @functools.cached_property
    def lifecycles(self) -> lifecycles.Lifecycles:
        return lifecycles.work_out(self.facts, self.numbers.read_by("lifecycles"))

    @functools.cached_property
    def clocks(self) -> clocks.Clocks:
        return clocks.work_out(self.facts, self.numbers.read_by("clocks"))

    @functools.cached_property
    def surge(self) -> surge.Surge:
        return surge.work_out(
            self.facts, self.numbers.read_by("surge", "placement"), self.placement
        )

    @functools.cached_property
    def flows(self) -> flows.Flows:
        return flows.work_out(self.facts)

    # The rooms that nothing people say moves.
    UNSAID: tuple[str, ...] = tuple(
        name for name, room in locals().items() if isinstance(room, functools.cached_property)
    )


def _alike_but_for_what_was_said(before: SiteFacts, after: SiteFacts) -> bool:
    return all(
        getattr(before, one.name) == getattr(after, one.name)
        for one in dataclasses.fields(SiteFacts)
        if one.name not in SAID
    )
