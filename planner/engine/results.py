"""Results: one site's facts and what is worked out from them, room by room.

Each room of the engine is worked out when it is first asked for and then kept, so that nothing is
computed twice and a page pays only for what it shows.
"""

from __future__ import annotations

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


class Results:
    """Holds the facts of one site, the planning numbers in force, and every result of the engine."""

    def __init__(self, facts: SiteFacts):
        self.facts = facts

    @functools.cached_property
    def numbers(self) -> Numbers:
        return Numbers(self.facts.assumed)

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
