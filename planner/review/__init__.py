"""Findings: small rules over facts and engine results, one function a rule, grouped by chapter."""

from planner.review import (  # noqa: F401  (importing a module registers its rules)
    addresses,
    brief,
    clocks,
    day,
    desktops,
    directory,
    facility,
    hosts,
    images,
    joined,
    lifecycles,
    morning,
    names,
    ports,
    recovery,
    service,
    stages,
)
from planner.review.base import (
    MARKS,
    RULES,
    WEIGHTS,
    Finding,
    Mend,
    Review,
    Weight,
    entries,
    review,
)

__all__ = ["MARKS", "RULES", "WEIGHTS", "Finding", "Mend", "Review", "Weight", "entries", "review"]
