"""Owners: who was named for each step before it began."""

from __future__ import annotations

from planner.record.facts import Contact, SiteFacts
from planner.stages.entries import StepEntry


class Owners:
    """The contacts that own steps of one site: of the catalogue's and the house's by the plans of steps, the
    newest first; of own ones by themselves."""

    def __init__(self, facts: SiteFacts):
        contacts = {one.id: one for one in facts.contacts}
        named = [(one.step, one.owner_id) for one in facts.step_plans]
        named += [(f"own@{one.ref.anchor}", one.owner_id) for one in facts.own_steps]
        self.by_step: dict[str, Contact] = {}
        for step, owner in named:
            if owner is not None and owner in contacts:
                self.by_step[step] = contacts[owner]

    def of(self, entry: StepEntry) -> Contact | None:
        return self.by_step.get(entry.key)

    def name(self, entry: StepEntry) -> str:
        """The owner's name, "" for nobody."""
        found = self.of(entry)
        if found:
            return found.label
        return ""
