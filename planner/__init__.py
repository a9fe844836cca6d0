"""Deskwright: the Django project, and the planning brain. Imports nothing from ``sites``."""


def work_out(facts, before=None):
    """Everything that follows from a site's facts, computed once: see :class:`planner.plan.Plan`."""
    from planner.plan import work_out

    return work_out(facts, before)
