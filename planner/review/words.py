"""Small turns of phrase for findings."""

from __future__ import annotations

from collections.abc import Sequence

from planner.record import units


def and_list(words: Sequence[str], most: int = 3) -> str:
    """``a``, ``a and b``, ``a, b and c``, ``a, b, c and 4 more``."""
    shown = list(words[:most])
    if len(words) > most:
        shown.append(f"{len(words) - most} more")
    if len(shown) < 2:
        return "".join(shown)
    return f"{', '.join(shown[:-1])} and {shown[-1]}"


def chance_words(chance: float | None) -> str:
    """A chance between 0 and 1 for people: ``38 %``, ``0.04 %``, ``less than 0.01 %``, ``nearly always``."""
    if chance is None:
        return "not known"
    if chance > 0.995:
        return "nearly always"
    per_cent = 100 * chance
    if per_cent < 0.01:
        return "less than 0.01 %"
    return f"{units.show(per_cent, 0 if per_cent >= 9.5 else 1 if per_cent >= 0.95 else 2)} %"


def people_words(count: float | None) -> str:
    """``1 person``, ``12 people``."""
    if count == 1:
        return "1 person"
    return f"{units.show(count)} people"
