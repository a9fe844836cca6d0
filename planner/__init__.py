"""Deskwright: the Django project, and the planning brain. Imports nothing from ``sites``."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.plan import Plan
    from planner.record.facts import SiteFacts

__version__ = "0.11.0"


def work_out(facts: SiteFacts, before: Plan | None = None) -> Plan:
    """Everything that follows from a site's facts, computed once: see :class:`planner.plan.Plan`."""
    from planner.plan import work_out

    return work_out(facts, before)
