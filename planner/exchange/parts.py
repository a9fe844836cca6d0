"""What a document is made of: its lists, the fields of each entry, and the type each field must be."""

from __future__ import annotations

import dataclasses
import functools
import types
import typing
from dataclasses import dataclass

from planner.record import chapters, kinds
from planner.record.chapters import Field
from planner.record.facts import RECORD_FIELDS, Record, SiteFacts

FORMAT = "deskwright.site"
VERSION = 1
SAID = ("assumed", "answers", "signatures", "acceptances")  # what people said about the plan
ELSEWHERE = (kinds.SITES,)  # kinds of fields that speak of other sites


@dataclass(frozen=True)
class Part:
    """A field of an entry. ``name`` is its name in the document, ``own`` the one in the facts; ``plain`` is
    its type (that of one item, where it holds ``several``); ``to`` is the record kind it refers to."""

    name: str
    own: str
    plain: type
    several: bool
    may_be_null: bool
    field: Field | None
    to: str = ""


@dataclass(frozen=True)
class Listing:
    """A list of the document, or a single entry."""

    name: str
    entry: type
    single: bool

    @property
    def kind(self) -> str:
        """The record kind; "" for what people said about the plan."""
        if issubclass(self.entry, Record):
            return self.entry.kind
        return ""


@functools.cache
def listings() -> tuple[Listing, ...]:
    """Everything a document holds of a site, in order."""
    hints = typing.get_type_hints(SiteFacts)
    found = []
    for name in ("site", *RECORD_FIELDS, *SAID):
        hint = hints[name]
        single = typing.get_origin(hint) is not tuple
        found.append(Listing(name, hint if single else typing.get_args(hint)[0], single))
    return tuple(found)


@functools.cache
def parts_of(entry: type) -> tuple[Part, ...]:
    """The fields of an entry, but for a record's id, which the document calls its key."""
    hints = typing.get_type_hints(entry)
    if issubclass(entry, Record):
        described = chapters.fields_of(entry.kind)
    else:
        described = {}
    names = [one.name for one in dataclasses.fields(entry)]
    if described:
        names.remove("id")
    found = (_part(name, hints[name], described.get(name)) for name in names)
    return tuple(one for one in found if one.field is None or one.field.kind not in ELSEWHERE)


def _part(name: str, hint: typing.Any, field: Field | None) -> Part:
    null = False
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        null, hint = True, next(one for one in typing.get_args(hint) if one is not types.NoneType)
    several = typing.get_origin(hint) is tuple
    if several:
        hint = typing.get_args(hint)[0]
    if field and field.kind.refers:
        to = field.to
    else:
        to = ""
    return Part(name.removesuffix("_id") if to else name, name, hint, several, null, field, to)
