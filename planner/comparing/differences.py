"""What differs between two plans, record by record and field by field."""

from __future__ import annotations

from dataclasses import dataclass

from planner.record import chapters
from planner.record.facts import KIND_WORDS, Record, SiteFacts


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference: ``field`` is "" when the whole record came or went."""

    chapter: int
    kind: str
    record: str
    field: str
    before: str
    after: str


def compare(before: SiteFacts, after: SiteFacts) -> list[Difference]:
    """Differences of the planned values, in the order of the chapters. What is not planned (answers,
    acceptances, the day it is looked at) is left out, as in the fingerprint."""
    found = []
    old = {(r.kind, r.id): r for r in before.records() if r.planned}
    new = {(r.kind, r.id): r for r in after.records() if r.planned}
    for key in sorted({*old, *new}, key=lambda key: (_chapter(key[0]), key)):
        found += _of_record(key[0], old.get(key), new.get(key), before, after)
    return found + _assumed(before, after)


def _chapter(kind: str) -> int:
    return chapters.chapter_of(chapters.sections_of(kind)[0]).number


def _of_record(
    kind: str, old: Record | None, new: Record | None, before: SiteFacts, after: SiteFacts
) -> list[Difference]:
    word = KIND_WORDS[kind]
    if old is None or new is None:
        there = new or old
        if there:
            label = there.label
        else:
            label = ""
        return [
            Difference(
                _chapter(kind), word, label, "", "there" if old else "", "there" if new else ""
            )
        ]
    found = []
    for name, one in chapters.fields_of(kind).items():
        if getattr(old, name) != getattr(new, name):
            texts = [
                chapters.with_unit(one, chapters.show(one, r, f))
                for r, f in ((old, before), (new, after))
            ]
            found.append(Difference(_chapter(kind), word, new.label, one.label, *texts))
    return found


def _assumed(before: SiteFacts, after: SiteFacts) -> list[Difference]:
    old = {(a.scope, a.key): a.value for a in before.assumed}
    new = {(a.scope, a.key): a.value for a in after.assumed}
    return [
        Difference(
            8,
            "assumption",
            key,
            f"set for the {scope}",
            str(old.get((scope, key), "")),
            str(new.get((scope, key), "")),
        )
        for scope, key in sorted({*old, *new})
        if old.get((scope, key)) != new.get((scope, key))
    ]
