"""The probe: a script that a technician runs from a network of the site, and the reading of what it saw."""

from __future__ import annotations

from planner.papers.probe.of_flows import flow_tasks
from planner.papers.probe.of_ground import ground_tasks
from planner.papers.probe.preview import Preview, Verdict, preview
from planner.papers.probe.results import Run, Unreadable, read_run
from planner.papers.probe.tasks import Listing, Place, Probe, Task
from planner.papers.probe.writing import MEDIA_TYPE, stem, write_script
from planner.plan import Plan

__all__ = [
    "MEDIA_TYPE",
    "Place",
    "Preview",
    "Probe",
    "Run",
    "Task",
    "Unreadable",
    "Verdict",
    "preview",
    "probe_of",
    "read_results",
    "read_run",
    "stem",
    "write_script",
]


def probe_of(plan: Plan) -> Probe:
    """What can be asked at a site, from each network, and what each answer speaks for. Never raises on facts."""
    listing = Listing(plan)
    ground_tasks(listing)
    flow_tasks(listing)
    return listing.made()


def read_results(content: bytes, plan: Plan) -> Preview:
    """What one results file would answer. Raises :class:`Unreadable` with a plain reason."""
    probe = probe_of(plan)
    return preview(plan, probe, [read_run(content, plan, probe)])
