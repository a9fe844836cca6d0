"""Built values: what was really built where it differs from the plan.

A built value names a record by its anchor and one of that record's fields, and holds the value as
text (see :mod:`planner.record.typed`). The plan itself stays as it was planned: :func:`drift` lays the two
side by side, :func:`as_built` gives the facts of what stands there now.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from planner.record import chapters, kinds
from planner.record.chapters import Chapter, Field
from planner.record.facts import (
    KIND_WORDS,
    RECORD_FIELDS,
    RECORDS,
    Built,
    Record,
    Ref,
    SiteFacts,
    ref_of,
)
from planner.record.typed import NOTHING, read

# nobody builds a check or a step
NOT_BUILT = tuple(kind for kind, record in RECORDS.items() if not record.planned)
OF_THE_RECORD = {
    "site": ("name", "code", "purpose", "paper")
}  # about this record, not about the place


# -- which record, which field -------------------------------------------------------------------


def record_of(target: str, facts: SiteFacts) -> Record | None:
    ref = ref_of(target)
    if ref and ref.kind not in NOT_BUILT:
        return facts.find(ref)
    return None


def record_words(record: Record) -> str:
    """``mill-h1 (host)``: a record among records of every kind."""
    word = KIND_WORDS.get(record.kind, record.kind)
    if word not in record.label:
        return f"{record.label} ({word})"
    return record.label


def targets(facts: SiteFacts) -> list[tuple[Chapter, list[Record]]]:
    """The records that may have built values, chapter by chapter."""
    found: dict[int, list[Record]] = {}
    for record in facts.records():
        if record.kind not in NOT_BUILT:
            found.setdefault(
                chapters.chapter_of(chapters.sections_of(record.kind)[0]).number, []
            ).append(record)
    return [(chapters.BY_NUMBER[number], found[number]) for number in sorted(found)]


def fields_of(kind: str) -> dict[str, Field]:
    """The fields of a record kind that may have a built value, by name."""
    if kind in NOT_BUILT:
        return {}
    left_out = ("note", *OF_THE_RECORD.get(kind, ()))
    return {name: one for name, one in chapters.fields_of(kind).items() if name not in left_out}


def field_called(kind: str, words: str) -> Field | None:
    """A record kind's field by its label, its column's heading or its name, in any case."""
    wanted = words.strip().lower()
    found = fields_of(kind).values()
    for name in ("label", "short", "column", "name"):
        for one in found:
            if wanted and getattr(one, name).lower() == wanted:
                return one
    return None


# -- plan and building, side by side -------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Drift:
    """One built value beside the planned one.

    ``planned`` and ``shown`` are the planned and the built value in words, with their unit; "" is not
    known. ``value`` is the built value typed as the field wants it; it means nothing unless ``known``.
    ``record`` is ``None`` when it was removed, ``field`` when it is not one of the record's.
    """

    built: Built
    record: Record | None
    field: Field | None
    planned: str
    shown: str
    reason: str
    value: Any = None
    known: bool = False

    @property
    def whose(self) -> str:
        if self.record:
            return record_words(self.record)
        if self.built.target:
            return f"{self.built.target} (removed)"
        return ""

    @property
    def what(self) -> str:
        if self.field:
            return self.field.label
        return self.built.field

    @property
    def differs(self) -> bool | None:
        """Whether it was built otherwise; ``None`` when that cannot be told."""
        if not self.known or self.record is None or self.field is None:
            return None
        return bool(self.value != getattr(self.record, self.field.name))


def drift(facts: SiteFacts) -> list[Drift]:
    """Every built value with what was planned, in the order they were entered. Never raises on facts."""
    return [_beside(built, facts) for built in facts.built]


def _beside(built: Built, facts: SiteFacts) -> Drift:
    record = record_of(built.target, facts)
    if record:
        field = fields_of(record.kind).get(built.field)
    else:
        field = None
    if record is None or field is None:
        return Drift(built, record, field, "", built.value, built.reason)
    planned = chapters.with_unit(field, chapters.show(field, record, facts))
    try:
        if built.value.strip():
            value = read(record.kind, field, built.value, facts)
        else:
            value = None
    except (ValueError, OverflowError):
        return Drift(built, record, field, planned, built.value, built.reason)
    if not built.value.strip():
        return Drift(built, record, field, planned, "", built.reason)
    shown = chapters.with_unit(field, chapters.show_value(field, value, facts)) or NOTHING
    return Drift(built, record, field, planned, shown, built.reason, value, known=True)


def as_built(facts: SiteFacts) -> SiteFacts:
    """The facts with every built value that is understood in the place of the planned one.

    Of several for one field the last holds. References are by name: one whose record was renamed or
    removed since is left as planned. Answers were given for the planned values, and a built value has its
    reason: it opens none of them again. Never raises on facts.
    """
    changed: dict[Ref, dict[str, Any]] = {}
    for one in drift(facts):
        if one.known and one.record and one.field:
            changed.setdefault(one.record.ref, {})[one.field.name] = one.value
    if not changed:
        return facts

    def put(record: Record) -> Any:
        values = changed.get(record.ref)
        if values:
            return dataclasses.replace(record, **values)
        return record

    lists = {name: getattr(facts, name) for name in RECORD_FIELDS}
    made: dict[str, Any] = {
        name: tuple(map(put, found)) if isinstance(found, tuple) else put(found)
        for name, found in lists.items()
    }
    answers = tuple(dataclasses.replace(answer, value=None) for answer in facts.answers)
    return dataclasses.replace(facts, site=put(facts.site), answers=answers, **made)


# -- in words, for the kinds of a built value's own fields ------------------------------------------


def _told(what: str) -> Callable[[Record, SiteFacts], str]:
    def of(built: Record, facts: SiteFacts) -> str:
        return getattr(_beside(built, facts), what) if isinstance(built, Built) else ""

    return of


def _record_named(anchor: str, facts: SiteFacts) -> str:
    record = record_of(anchor, facts)
    if record:
        return record_words(record)
    return anchor


def _field_named(name: str, facts: SiteFacts) -> str:
    """The word that most records use, where the built value itself is not at hand."""
    for section in chapters.SECTIONS:
        field = fields_of(section.kind).get(name)
        if field:
            return field.label
    return name


kinds.AnyRecord.beside, kinds.AnyRecord.alone = _told("whose"), _record_named
kinds.AnyField.beside, kinds.AnyField.alone = _told("what"), _field_named
kinds.Planned.beside, kinds.Planned.alone = _told("planned"), _field_named
