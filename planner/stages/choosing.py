"""Choosing: which of the catalogue's checks and steps this site has, filled with its values."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Mapping, Sequence
from typing import Any

from planner.engine.results import Results
from planner.record.choices import AnswerState, Wanted
from planner.record.facts import LISTS, SINGLES, Answer, Record, Ref, ref_of
from planner.stages import conditions, states
from planner.stages.bounds import BOUNDS
from planner.stages.entries import Catalogue, CheckEntry, Entry, StepEntry
from planner.stages.filling import PLURALS, Filler
from planner.stages.own import title_of
from planner.stages.owners import Owners
from planner.stages.results import AskedBy, SiteCheck, SiteStep
from planner.stages.waiting import Waits

ADDED: dict[str, str] = {
    AskedBy.OWN: "An own check that was removed",
    AskedBy.HOUSE: "A check of the house that is no more, or not asked here",
}
# A record that is a part of one other counts for that one alone: another's local datastore makes no host wait.
PART_OF = {"application": "image", "datastore": "host", "seatgroup": "template"}
Place = Record | None


class Chooser:
    """One site's checks and steps, as nobody has answered them. Conditions and values are worked out once each."""

    def __init__(self, plan: Results, book: Catalogue):
        self.plan, self.book = plan, book
        self.filler = Filler(plan.facts, lambda: plan.flows)
        self.owners = Owners(plan.facts)
        self._checks: dict[int, tuple[SiteCheck, ...]] = {}
        self._holds: dict[tuple[str, str, int], bool] = {}
        self._places = {
            one.key: self._where(one) for one in (*book.checks.values(), *book.steps.values())
        }
        self._before: dict[tuple[str, Ref | None], tuple[str, ...]] = {}
        self._shown_by: dict[str, list[CheckEntry]] = {}
        self._by_reference: dict[tuple[str, str], dict[int | None, set[int | None]]] = {}

    def checks(self, stage: int) -> tuple[SiteCheck, ...]:
        """The checks of a stage in the order of their numbers, the house's and own ones last."""
        if stage not in self._checks:
            entries, _ = self.book.by_stage[stage]
            self._checks[stage] = tuple(
                self._check(entry, place, number)
                for entry in entries
                for place, number in self._numbered(entry)
            )
        return self._checks[stage]

    def steps(self, stage: int) -> list[SiteStep]:
        """The steps of a stage in the order of their numbers."""
        entries = self.book.by_stage[stage][1]
        return [
            self._step(entry, place, number)
            for entry in entries
            for place, number in self._numbered(entry)
        ]

    def gone(self, given: Mapping[str, Answer], applying: set[str]) -> list[SiteCheck]:
        """Checks that somebody answered and that do not apply any more, in the order of their keys."""
        lost = sorted(
            key
            for key, one in given.items()
            if one.state != AnswerState.OPEN and key not in applying
        )
        return [dataclasses.replace(self._lost(key), answer=given[key]) for key in lost]

    # -- where an entry applies ------------------------------------------------------------------

    def _where(self, entry: Entry) -> list[Place]:
        return self.places(entry.each, entry.when)

    def places(self, kind: str, when: Sequence[str]) -> list[Place]:
        """The records of a kind for which conditions hold, ``[None]`` for the site, ``[]`` for none."""
        if not all(self._holds_for(name, None) for name in when if name in conditions.OF_SITE):
            return []
        if not kind:
            return [None]
        of_record = [name for name in when if name in conditions.OF_RECORD]
        return [
            one
            for one in self._records(kind)
            if all(self._holds_for(name, one) for name in of_record)
        ]

    def _records(self, kind: str) -> list[Record]:
        found = getattr(self.plan.facts, kind if kind in SINGLES else LISTS[kind])
        if kind in SINGLES:
            return [found]
        return list(found)

    def _holds_for(self, name: str, record: Place) -> bool:
        key = (name, record.kind if record else "", record.id if record else 0)
        if key not in self._holds:
            if record is None:
                self._holds[key] = conditions.OF_SITE[name](self.plan)
            else:
                self._holds[key] = conditions.OF_RECORD[name][1](self.plan, record)
        return self._holds[key]

    def _numbered(self, entry: Entry) -> list[tuple[Place, str]]:
        """Where an entry applies, with its number there: 4.6, or 4.6a, 4.6b … for several records."""
        places = self._places[entry.key]
        if len(places) < 2:
            return [(place, f"{entry.stage}.{entry.number}") for place in places]
        return [
            (place, f"{entry.stage}.{entry.number}{_letters(count)}")
            for count, place in enumerate(places)
        ]

    # -- what it says there ----------------------------------------------------------------------

    def _words(self, entry: Entry, record: Place) -> dict[str, Any]:
        found: dict[str, Any] = dict(entry.plain)
        for name, text in entry.moving.items():
            found[name] = self.filler.fill(text, record)
        value = entry.texts.get("value")
        if value:  # a value to copy is never the words that say nobody knows it
            if entry.shows_value:
                only = value.only
            else:
                only = None
            found["value"] = (
                self.filler.value(only, record) if only else self.filler.fill(value, record)
            )
        return found

    def _ref(self, entry: Entry, record: Place) -> Ref | None:
        """The field the entry's value comes from, or the record it is for."""
        if entry.shows_value:
            only = entry.texts["value"].only
        else:
            only = None
        if only and only.field and only.kind not in PLURALS:
            holder = self.filler.near(only.kind, record)
            if holder:
                return holder.ref.at(
                    only.field if only.field in type(holder).__dataclass_fields__ else ""
                )
        if record:
            return record.ref
        return entry.ref

    def _check(self, entry: CheckEntry, record: Place, number: str) -> SiteCheck:
        key = site_key(entry, record)
        return SiteCheck(
            key=key,
            stage=entry.stage,
            number=number,
            wants=entry.wants,
            who=entry.who,
            chapter=entry.chapter,
            source=entry.source,
            ref=self._ref(entry, record),
            answer=Answer(check=key),
            unit=entry.unit,
            low=self._end(entry.low, entry.low_from, record),
            high=self._end(entry.high, entry.high_from, record),
            origin=entry.origin,
            **self._words(entry, record),
        )

    def _end(self, fixed: float | None, named: str, record: Place) -> float | None:
        """One end of what a measured value may be: a number of the catalogue, or one that follows from the plan."""
        if named:
            return BOUNDS[named](self.plan, record)
        return fixed

    def _step(self, entry: StepEntry, record: Place, number: str) -> SiteStep:
        settled = [self.book.checks[key] for key in entry.settles]
        return SiteStep(
            key=site_key(entry, record),
            stage=entry.stage,
            number=number,
            wait=entry.wait,
            minutes=self._waits.minutes(entry, record),
            wait_minutes=self._waits.of(entry, record),
            times_from=self._waits.origin(entry, record),
            owner=self.owners.name(entry),
            attended=entry.attended,
            alone=entry.alone,
            origin=entry.origin,
            plain_title=title_of(entry),
            chapter=entry.chapter,
            source=entry.source,
            ref=self._ref(entry, record),
            after=self.before(entry, record),
            settles=tuple(
                site_key(one, place) for one in settled for place in self._beside(one, record)
            ),
            proofs=tuple(
                site_key(one, place)
                for one in self._proving(entry)
                for place in self._beside(one, record)
            ),
            **self._words(entry, record),
        )

    def _proving(self, entry: StepEntry) -> list[CheckEntry]:
        """The checks that show what must be proven before a step begins."""
        if not self._shown_by:
            for check in self.book.checks.values():
                if check.shows and states.listed()[check.shows].proof:
                    self._shown_by.setdefault(check.shows, []).append(check)
        return [check for state in entry.needs for check in self._shown_by.get(state, ())]

    @functools.cached_property
    def _waits(self) -> Waits:
        return Waits(self.plan)

    def _lost(self, key: str) -> SiteCheck:
        """A check that does not apply any more, with what can still be said of it."""
        if key in self.book.checks:  # the house asks for it, but not here
            return self._check(self.book.checks[key], None, "")
        name, _, anchor = key.partition("@")
        entry, record = self.book.checks.get(name), self._anchored(anchor)
        if (
            entry
            and entry.each == (record.kind if record else "")
            and site_key(entry, record) == key
        ):
            return self._check(entry, record, "")
        if entry:
            title = f"{title_of(entry)} ({anchor}, removed)"
        else:
            title = f"A check that is no more ({key})"
        if name in ADDED:
            title = ADDED[name]
        return SiteCheck(
            key=key,
            stage=entry.stage if entry else 0,
            number="",
            title=title,
            why="",
            how="",
            proof="",
            wants=Wanted.NOTE,
            chapter=entry.chapter if entry else 10,
            answer=Answer(check=key),
            origin=name if name in ADDED else "",
        )

    def _anchored(self, anchor: str) -> Place:
        ref = ref_of(anchor)
        if ref:
            return self.plan.facts.index.get((ref.kind, ref.id))
        return None

    # -- what comes before what ------------------------------------------------------------------

    def _beside(self, entry: Entry, record: Place) -> list[Place]:
        """The places of another entry that belong with this record: its own, or those that refer to each other."""
        return self.belonging(entry.each, self._places[entry.key], record)

    def belonging(self, kind: str, places: list[Place], record: Place) -> list[Place]:
        """Those of these places of a kind that belong with this record."""
        if record is None or not kind or not places:
            return places
        if kind == record.kind:
            return [place for place in places if place and place.id == record.id]
        near = self._belonging(kind, record)
        return [place for place in places if place and place.id in near]

    def _belonging(self, kind: str, record: Record) -> set[int | None]:
        """The ids of the records of a kind that have to do with a record of another kind.

        A reference decides, whichever of the two bears it. While nobody knows what it refers to, or
        when there is none between such records, all of them do.
        """
        field = f"{kind}_id"
        if hasattr(record, field):
            wanted = getattr(record, field)
            if wanted is not None:
                return {wanted}
            return self._referring(kind, "").get(None, set())
        bearing = self._referring(kind, f"{record.kind}_id")
        return bearing.get(record.id, set()) | bearing.get(None, set())

    def _referring(self, kind: str, field: str) -> dict[int | None, set[int | None]]:
        """The ids of a kind's records by what they refer to in ``field``; ``None`` where it says nothing."""
        if (kind, field) not in self._by_reference:
            found: dict[int | None, set[int | None]] = {}
            for one in self._records(kind):
                found.setdefault(getattr(one, field, None), set()).add(one.id)
            self._by_reference[kind, field] = found
        return self._by_reference[kind, field]

    def before(self, entry: StepEntry, record: Place) -> tuple[str, ...]:
        """The keys of the steps that come before this one here.

        Where one of them does not apply, what comes before it takes its place. Where one of another
        kind of record applies, but to none that belongs with this record, it is waited for everywhere:
        rather a step too late than one too early. Parts of other records are not waited for, but what comes
        before them is.
        """
        key = (entry.key, record.ref if record else None)
        if key not in self._before:
            found: dict[str, None] = {}
            for name in entry.after:
                other = self.book.steps[name]
                places = self._beside(other, record)
                apart = (
                    record and other.each != record.kind and PART_OF.get(other.each) != record.kind
                )
                if not places and apart:
                    places = self._places[name]
                keys = [site_key(other, place) for place in places] or self.before(other, record)
                found.update(dict.fromkeys(keys))
            self._before[key] = tuple(found)
        return self._before[key]


def site_key(entry: Entry, record: Place) -> str:
    if record:
        return f"{entry.key}@{record.ref.anchor}"
    return entry.key


def _letters(count: int) -> str:
    """a, b … z, aa, ab …"""
    letters = ""
    count += 1
    while count:
        count, rest = divmod(count - 1, 26)
        letters = chr(ord("a") + rest) + letters
    return letters
