"""Deskwright: the Django project, and the planning brain. Imports nothing from ``sites``."""

__version__ = "0.11.0"


def work_out(facts):
    """Everything that follows from a site's facts, computed once: see :class:`planner.plan.Plan`."""
    from planner.plan import work_out

    return work_out(facts)
