"""Filling: puts a site's own values into the catalogue's texts.

A placeholder is one of

- ``{host.name}``: a field of the record the entry is for, of a record that one refers to
  (``{network.cidr}`` of a template's network), or of the site, the directory or the service;
- ``{hosts.name}``: that field of every record of the kind, "a, b and c", the first six of many; what is
  the same on several records and is no name is said once;
- ``{template.first_name}`` or ``{pilot_users}``: a value worked out in :mod:`planner.stages.words`.

Behind a colon may stand what the value is of, so that the sentence reads well at every site:

- ``{service.entry_name:the entry name}``: "the entry name (not known yet)" while nobody knows it;
- ``{host.rack_units:rack unit|rack units}``: "1 rack unit", "2 rack units", "no rack units", "a number
  of rack units (not known yet)".

Nothing else is understood: no format, no index, no attribute of an attribute. What people typed is
put in as it stands and never read as a template again, so braces in it do nothing.
"""

from __future__ import annotations

import dataclasses
import functools
import re
import string
import typing
from collections.abc import Callable
from dataclasses import dataclass

from planner.engine.flows import port_sheet as flows
from planner.record import chapters
from planner.record.facts import LISTS, RECORDS, SINGLES, Record, SiteFacts
from planner.record.kinds import NUMBERS_OF_THINGS
from planner.stages import words

MISSING = "not known yet"
PLURALS = {name: kind for kind, name in LISTS.items()}


NOUN = re.compile(r"[A-Za-z][A-Za-z0-9 .'’-]*")


class Name(typing.NamedTuple):
    """A placeholder: ``{kind.field}``, or ``{kind}`` alone with an empty field.

    ``noun`` says what the value is of while nobody knows it; with a ``plural`` beside it, it is what is counted.
    """

    kind: str
    field: str
    noun: str = ""
    plural: str = ""

    def say(self, value: str) -> str:
        """The value in its words; what nobody knows reads “not known yet”."""
        if self.plural:
            return self._count(value)
        if value:
            return value
        if self.noun:
            return f"{self.noun} ({MISSING})"
        return MISSING

    def _count(self, number: str) -> str:
        if not number:
            return f"a number of {self.plural} ({MISSING})"
        if number == "0":
            return f"no {self.plural}"
        return f"{number} {self.noun if number == '1' else self.plural}"


@dataclass(frozen=True, slots=True)
class Text:
    """A catalogue text, taken apart once: literal pieces and placeholders in order."""

    parts: tuple[str | Name, ...]

    @property
    def names(self) -> list[Name]:
        return [part for part in self.parts if isinstance(part, Name)]

    @property
    def only(self) -> Name | None:
        """The placeholder a text consists of alone, as a value does."""
        if len(self.parts) == 1:
            first = self.parts[0]
        else:
            first = None
        if isinstance(first, Name):
            return first
        return None


def parse(template: str) -> Text:
    """Takes a template apart. Raises ``ValueError`` on a brace out of place, a format or a conversion."""
    parts: list[str | Name] = []
    for literal, name, noun, conversion in string.Formatter().parse(template):
        if literal:
            parts.append(literal)
        if name is None:
            continue
        kind, _, field = name.partition(".")
        if conversion or not all(piece.isidentifier() for piece in name.split(".")) or "." in field:
            raise ValueError(f"“{{{name}}}” is not a placeholder")
        if noun:
            nouns = noun.split("|")
        else:
            nouns = []
        if len(nouns) > 2 or not all(NOUN.fullmatch(one) for one in nouns):
            raise ValueError(f"“{noun}” is no word for “{{{name}}}”")
        parts.append(Name(kind, field, *nouns))
    return Text(tuple(parts))


@functools.cache
def fields(kind: str) -> dict[str, chapters.Field]:
    """How each field of a record kind is shown, by name."""
    return chapters.fields_of(kind)


def refers_to(kind: str) -> set[str]:
    """The kinds of record that a record of ``kind`` refers to, each by its ``<kind>_id``."""
    return {
        name.removesuffix("_id")
        for name in (one.name for one in dataclasses.fields(RECORDS[kind]))
        if name.endswith("_id")
    }


def unknown(text: Text, kind: str) -> str:
    """The first placeholder that an entry for ``kind`` ("" for none) cannot fill, or ""."""
    for name in text.names:
        if not _understood(name, kind):
            return "{" + ".".join(filter(None, (name.kind, name.field))) + "}"
    return ""


def _understood(name: Name, kind: str) -> bool:
    if not name.field:
        return name.kind in words.OF_SITE or name.kind in words.OF_FLOWS
    if name.kind in PLURALS:
        return name.field in fields(PLURALS[name.kind])
    near = {*SINGLES, *({kind, *refers_to(kind)} if kind else ())}
    return name.kind in near and (
        name.field in fields(name.kind) or (name.kind, name.field) in words.OF_RECORD
    )


class Filler:
    """Fills texts with one site's values; every value is put into words once.

    ``port_sheet`` gives the site's flows where they have been worked out already.
    """

    def __init__(self, facts: SiteFacts, port_sheet: Callable[[], flows.Flows] | None = None):
        self.facts = facts
        self.port_sheet = port_sheet or functools.partial(flows.work_out, facts)
        self._values: dict[tuple[str, int, str], str] = {}
        self._of_site: dict[tuple[str, str], str] = {}

    def fill(self, text: Text, record: Record | None = None) -> str:
        """The text with its values; what nobody knows reads “not known yet”."""
        said = ""
        for part in text.parts:
            said += (
                part
                if isinstance(part, str)
                else self._say(part, record, begins=_at_a_beginning(said))
            )
        return said

    def _say(self, name: Name, record: Record | None, begins: bool) -> str:
        """A placeholder in its words; ours bear a capital letter where a sentence begins, a value stays as typed."""
        value = self.value(name, record)
        said = name.say(value)
        if begins and (not value or value == "0"):
            return said[0].upper() + said[1:]
        return said

    def value(self, name: Name, record: Record | None = None) -> str:
        """One placeholder's value in words; "" when nobody knows it."""
        if not name.field or name.kind in PLURALS:
            key = (name.kind, name.field)
            if key not in self._of_site:
                self._of_site[key] = self._over_site(name)
            return self._of_site[key]
        found = self.near(name.kind, record)
        if found:
            return self._of(found, name.field)
        return ""

    def near(self, kind: str, record: Record | None) -> Record | None:
        """The record that ``kind`` means beside ``record``: itself, one it refers to, or the site's one."""
        if record is not None and record.kind == kind:
            return record
        reference = getattr(record, f"{kind}_id", None)
        if reference is not None:
            return self.facts.index.get((kind, reference))
        return getattr(self.facts, kind) if kind in SINGLES else None

    def _of(self, record: Record, field: str) -> str:
        key = (record.kind, record.id, field)
        if key not in self._values:
            self._values[key] = show(record, field, self.facts)
        return self._values[key]

    def _over_site(self, name: Name) -> str:
        if name.kind in words.OF_FLOWS:
            return words.OF_FLOWS[name.kind](self.port_sheet())
        if not name.field:
            return words.OF_SITE[name.kind](self.facts)
        found = [self._of(record, name.field) for record in getattr(self.facts, name.kind)]
        return words.listed(found if name.field == "name" else dict.fromkeys(found))


def _at_a_beginning(said: str) -> bool:
    return not said or said.endswith((". ", "! ", "? "))


def show(record: Record, field: str, facts: SiteFacts) -> str:
    """A record's field in words with its unit, as the chapters show it; "" when unknown."""
    worked_out = words.OF_RECORD.get((record.kind, field))
    if worked_out:
        return worked_out(facts, record)
    if field == "name":
        return record.label
    if field in NUMBERS_OF_THINGS:
        number = getattr(record, field)
        if number is None:
            return ""
        return str(number)
    shown = fields(record.kind)[field]
    return chapters.with_unit(shown, chapters.show(shown, record, facts))
