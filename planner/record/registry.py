"""What refers to what: for each kind of record its fields that name other records, and the kind they name."""

from __future__ import annotations

from planner.record import chapters
from planner.record.facts import RECORDS


def _references(kind: str) -> tuple[tuple[str, str], ...]:
    fields = chapters.fields_of(kind).values()
    return tuple((field.name, field.to) for field in fields if field.kind.refers)


REFERENCES = {kind: _references(kind) for kind in RECORDS}
