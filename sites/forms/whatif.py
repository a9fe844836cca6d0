"""The what-if panel: today's values in boxes; what differs from them is a change to try."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django import forms
from django.http import QueryDict

from planner.comparing.whatif import CHANGEABLE, Change, Copies
from planner.comparing.whatif.changes import MOST_COPIES
from planner.record import kinds
from planner.record.chapters import Field, fields_of
from planner.record.choices import Dhcp
from planner.record.facts import LISTS, Record, Ref, SiteFacts
from sites.forms.fields import form_field

TITLES = {
    "template": "Desktop templates",
    "host": "Hosts",
    "seatgroup": "Seat groups",
    "network": "Leases",
}
MORE = Field("more", "More like it", kinds.WHOLE, low=0, high=MOST_COPIES)


def name_of(at: Ref) -> str:
    """The name of a box: ``template-4-most``."""
    return f"{at.kind}-{at.id}-{at.field}"


@dataclass(frozen=True)
class Line:
    """One record's boxes."""

    record: Record
    boxes: list[tuple[Field, forms.BoundField]]


class WhatIfForm(forms.Form):
    """A box for every value that may be tried. Boxes that the address does not name hold today's values."""

    def __init__(self, data: QueryDict, *, facts: SiteFacts):
        self.facts = facts
        self.places: dict[str, tuple[Ref, Field]] = {}
        for kind, names in CHANGEABLE.items():
            described = fields_of(kind)
            for record in getattr(facts, LISTS[kind]):
                if kind == "network" and record.dhcp != Dhcp.RANGE:
                    continue
                for name in names:
                    at = record.ref.at(name)
                    self.places[name_of(at)] = (at, described[name])
                if kind == "host":
                    self.places[name_of(record.ref.at("more"))] = (record.ref.at("more"), MORE)
        boxes = {name: form_field(field, facts, None) for name, (_, field) in self.places.items()}
        super().__init__(self._whole(data, boxes), auto_id="try-%s")
        self.fields |= boxes

    def _now(self, at: Ref):
        if at.field == "more":
            return 0
        return getattr(self.facts.find(at), at.field)

    def _whole(self, data: QueryDict, boxes: dict[str, forms.Field]) -> dict[str, str]:
        """Everything as typed, or as it stands today."""
        found = {}
        for name, (at, _) in self.places.items():
            if name in data:
                found[name] = data[name][:40]
            else:
                value = boxes[name].prepare_value(self._now(at))
                found[name] = "" if value is None else str(value)
        return found

    def groups(self) -> Iterator[tuple[str, list[Field], list[Line]]]:
        """The boxes for the page: title, columns, lines."""
        for kind, names in CHANGEABLE.items():
            described = [fields_of(kind)[name] for name in names] + (
                [MORE] if kind == "host" else []
            )
            lines = []
            for record in getattr(self.facts, LISTS[kind]):
                here = [(field, name_of(record.ref.at(field.name))) for field in described]
                if here[0][1] in self.fields:
                    lines.append(Line(record, [(field, self[name]) for field, name in here]))
            if lines:
                yield TITLES[kind], described, lines

    def changes(self) -> list[Change]:
        """What differs from today."""
        found = []
        for name, (at, _) in self.places.items():
            value = self.cleaned_data[name]
            if at.field != "more" and not _same(value, self._now(at)):
                found.append(Change(at, value))
        return found

    def copies(self) -> list[Copies]:
        wanted = (
            (at, self.cleaned_data[name])
            for name, (at, _) in self.places.items()
            if at.field == "more"
        )
        return [Copies(at.id, count) for at, count in wanted if count]

    def typed(self) -> list[tuple[str, str]]:
        """Name and text of every box that differs from today, to be sent once more when it is kept."""
        names = [name_of(change.at) for change in self.changes()]
        names += [f"host-{copies.host_id}-more" for copies in self.copies()]
        return [(name, self.data[name]) for name in names]

    def wrong(self) -> list[tuple[str, str, str]]:
        """Every box that cannot be: its id, what it is, and why."""
        found = []
        for name, errors in self.errors.items():
            at, field = self.places[name]
            label = self.facts.named(at.kind, at.id)
            found.append((self[name].id_for_label, f"{label}, {field.label}", " ".join(errors)))
        return found


def _same(new, old) -> bool:
    if new is None or old is None:
        return new is old
    return abs(new - old) <= 1e-9 * max(1.0, abs(old))


def link_of(changes: list[Change] | tuple[Change, ...], copies, facts: SiteFacts) -> str:
    """The query that fills the panel with changes: ``template-4-most=30&…``."""
    query = QueryDict(mutable=True)
    for change in changes:
        field = fields_of(change.at.kind)[change.at.field]
        value = form_field(field, facts, None).prepare_value(change.value)
        query[name_of(change.at)] = "" if value is None else str(value)
    for one in copies:
        query[f"host-{one.host_id}-more"] = str(one.count)
    return query.urlencode()
