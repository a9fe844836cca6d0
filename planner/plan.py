"""The plan: one site's facts and everything that follows from them.

Each room of the engine is worked out when it is first asked for and then kept, so that nothing is
computed twice and a page pays only for what it shows.
"""

from __future__ import annotations

import functools

from planner import review, stages
from planner.catalogue.assumptions import Numbers
from planner.engine import surge
from planner.engine.addresses import addressing, layout, leases
from planner.engine.flows import port_sheet as flows
from planner.engine.names import naming
from planner.engine.people import activation, concurrency, line
from planner.engine.placement import placing as placement
from planner.engine.recovery import outages as recovery
from planner.engine.storage import datastores as storage
from planner.engine.upkeep import clocks, facility, lifecycles
from planner.record import facts as facts_module
from planner.record.facts import SiteFacts
from planner.stages import confirmed, day


class Plan:
    """Holds the facts, every engine result and every finding of one site."""

    def __init__(self, facts: SiteFacts):
        self.facts = facts

    @functools.cached_property
    def numbers(self) -> Numbers:
        return Numbers(self.facts.assumed)

    @functools.cached_property
    def fingerprint(self) -> str:
        return facts_module.fingerprint(self.facts)

    @functools.cached_property
    def addressing(self) -> addressing.Addressing:
        return addressing.work_out(self.facts, self.numbers.read_by("addressing"))

    @functools.cached_property
    def layout(self) -> layout.Layout:
        return layout.work_out(self.facts, self.addressing)

    @functools.cached_property
    def leases(self) -> leases.Leases:
        return leases.work_out(self.facts, self.numbers.read_by("leases"))

    @functools.cached_property
    def naming(self) -> naming.Naming:
        return naming.work_out(self.facts)

    @functools.cached_property
    def storage(self) -> storage.Storage:
        return storage.work_out(self.facts, self.numbers.read_by("storage"))

    @functools.cached_property
    def placement(self) -> placement.Placement:
        return placement.work_out(self.facts, self.numbers.read_by("placement"), self.storage)

    @functools.cached_property
    def concurrency(self) -> concurrency.Concurrency:
        return concurrency.work_out(self.facts, self.numbers.read_by("concurrency"))

    @functools.cached_property
    def line(self) -> line.Line:
        return line.work_out(self.facts, self.numbers.read_by("line"), self.concurrency)

    @functools.cached_property
    def activation(self) -> activation.Activation:
        return activation.work_out(self.facts, self.numbers.read_by("activation"))

    @functools.cached_property
    def recovery(self) -> recovery.Recovery:
        numbers = self.numbers.read_by("recovery")
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
        return surge.work_out(self.facts, self.numbers.read_by("surge"), self.placement)

    @functools.cached_property
    def flows(self) -> flows.Flows:
        return flows.work_out(self.facts)

    @functools.cached_property
    def stages(self) -> stages.Stages:
        return stages.work_out(self)

    @functools.cached_property
    def confirmed(self) -> tuple[confirmed.Confirmation, ...]:
        return confirmed.confirmed(self)

    @functools.cached_property
    def day(self) -> day.Day:
        return day.work_out(self)

    @functools.cached_property
    def review(self) -> review.Review:
        return review.review(self)

    def everything(self) -> Plan:
        """Works out every room now; what a test or a bench asks for, a page never does."""
        for name in ROOMS:
            getattr(self, name)
        return self


ROOMS = tuple(
    name for name, one in vars(Plan).items() if isinstance(one, functools.cached_property)
)


def work_out(facts: SiteFacts) -> Plan:
    """The plan of one site."""
    return Plan(facts)
