"""Field values as text that a person could have typed, and back: :func:`read` gives what
:func:`written` wrote. Built values are kept so, because they are shown and printed as they stand."""

from __future__ import annotations

from typing import Any

from planner.record.chapters.base import Field
from planner.record.facts import RECORDS, SiteFacts
from planner.record.kinds import NOTHING, bare

__all__ = ["NOTHING", "read", "written"]


def written(field: Field, value: object, facts: SiteFacts) -> str:
    """A field's typed value as text with its unit; ``nothing`` for one that is empty."""
    if value is None or value in ("", ()):
        return NOTHING
    return field.kind.written(field, value, facts)


def read(kind: str, field: Field, text: str, facts: SiteFacts) -> Any:
    """The typed value of a field of a record kind from its text; ``nothing`` gives the field's empty value.

    Raises ``ValueError`` when the text cannot be that field's value.
    """
    text = text.strip()
    if text.lower() == NOTHING:
        return getattr(RECORDS[kind](), field.name)
    return field.kind.read(field, bare(field, text), facts)
