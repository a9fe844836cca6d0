"""The plan: one site's facts and everything that follows from them.

Each room of the engine is worked out when it is first asked for and then kept, so that nothing is
computed twice and a page pays only for what it shows.
"""

from __future__ import annotations

import functools

from planner import facts as facts_module
from planner import review, stages
from planner.assumptions import Numbers
from planner.engine import addressing, flows, leases, naming, placement, storage
from planner.facts import SiteFacts


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
        return addressing.work_out(self.facts, self.numbers)

    @functools.cached_property
    def leases(self) -> leases.Leases:
        return leases.work_out(self.facts, self.numbers)

    @functools.cached_property
    def naming(self) -> naming.Naming:
        return naming.work_out(self.facts)

    @functools.cached_property
    def storage(self) -> storage.Storage:
        return storage.work_out(self.facts, self.numbers)

    @functools.cached_property
    def placement(self) -> placement.Placement:
        return placement.work_out(self.facts, self.numbers, self.storage)

    @functools.cached_property
    def flows(self) -> flows.Flows:
        return flows.work_out(self.facts)

    @functools.cached_property
    def stages(self) -> stages.Stages:
        return stages.work_out(self)

    @functools.cached_property
    def review(self) -> review.Review:
        return review.review(self)


def work_out(facts: SiteFacts) -> Plan:
    """The plan of one site."""
    return Plan(facts)
