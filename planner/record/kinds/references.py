"""Kinds of references: to other records of the site, and to other sites."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from planner.record.facts import KIND_WORDS, Id, Record, SiteFacts
from planner.record.kinds.base import NOTHING, Described, Kind, parts


def name_of(record: Record, facts: SiteFacts) -> str:
    """A record's label, with its anchor where another of its kind has the same."""
    label = record.label
    twins = sum(
        one.kind == record.kind and one.label.lower() == label.lower() for one in facts.records()
    )
    if twins < 2:
        return label
    return f"{label} ({record.ref.anchor})"


def named_so(text: str, records: Iterable[Record]) -> Record | None:
    """The record of that label, of that label with its anchor, or of that anchor; ``None`` when it is not plain."""
    wanted, found = text.strip().lower(), []
    for record in records:
        label, anchor = record.label.lower(), record.ref.anchor
        if wanted in (anchor, f"{label} ({anchor})"):
            return record
        if wanted == label:
            found.append(record)
    if len(found) == 1:
        return found[0]
    return None


def record_named(field: Described, text: str, facts: SiteFacts) -> Record:
    """The record a reference means. Raises ``ValueError`` when there is none, or more than one of that name."""
    found = named_so(text, (one for one in facts.records() if one.kind == field.to))
    if found is None:
        raise ValueError(f"“{text}” is not one {KIND_WORDS.get(field.to, field.to)} of this site.")
    return found


class Reference(Kind):
    """One record of the kind ``field.to``, by its id."""

    word = "record"
    width = 20
    refers = True
    plain = True

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return facts.named(field.to, value if isinstance(value, int) else None)

    def written(self, field: Described, value: Any, facts: SiteFacts) -> str:
        record = facts.index.get((field.to, value))
        if record:
            return name_of(record, facts)
        return NOTHING

    def read(self, field: Described, text: str, facts: SiteFacts) -> Id:
        return record_named(field, text, facts).id

    def sent(self, field: Described, text: str, facts: SiteFacts) -> str:
        return str(record_named(field, text, facts).id)


class References(Kind):
    """Several records of one kind."""

    word = "records"
    ticked = True
    width = 24
    refers = True
    several = True
    plain = True

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        labels = (facts.named(field.to, id) for id in value)
        return ", ".join(label for label in labels if label)

    def written(self, field: Described, value: Any, facts: SiteFacts) -> str:
        records = (facts.index.get((field.to, id)) for id in value)
        return ", ".join(name_of(record, facts) for record in records if record) or NOTHING

    def read(self, field: Described, text: str, facts: SiteFacts) -> tuple[Id, ...]:
        return tuple(record_named(field, part, facts).id for part in parts(text))

    def sent(self, field: Described, text: str, facts: SiteFacts) -> list[str]:
        return [str(record_named(field, part, facts).id) for part in parts(text)]


class Sites(Kind):
    """Other sites of the same customer."""

    word = "sites"
    ticked = True
    several = True
    plain = True

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return ", ".join(near.name for near in facts.neighbours if near.id in value)

    def read(self, field: Described, text: str, facts: SiteFacts) -> tuple[Id, ...]:
        return tuple(self._site(part, facts) for part in parts(text))

    def sent(self, field: Described, text: str, facts: SiteFacts) -> list[str]:
        return [str(self._site(part, facts)) for part in parts(text)]

    def _site(self, text: str, facts: SiteFacts) -> Id:
        for near in facts.neighbours:
            if near.name.lower() == text.strip().lower():
                return near.id
        raise ValueError(f"“{text}” is not a site that this one is joined to.")
