"""Field values as text that a person could have typed, and back: :func:`read` gives what
:func:`written` wrote. Built values are kept so, because they are shown and printed as they stand."""

from __future__ import annotations

import datetime as dt
import functools
import ipaddress
import math
import re
import types
import typing
from collections.abc import Callable, Iterable

from planner.record import units
from planner.record.chapters.base import Field, show_date, show_value
from planner.record.facts import KIND_WORDS, RECORDS, Id, Record, SiteFacts
from planner.stages import own

NOTHING = "nothing"  # what is known to be left out
DIGITS = 6  # after the point: as many as a form keeps
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
PARSES: dict[str, Callable] = {
    "address": ipaddress.IPv4Address,
    "address6": ipaddress.IPv6Address,
    "addresses": ipaddress.IPv4Address,
    "prefix": ipaddress.IPv4Interface,
    "prefix6": ipaddress.IPv6Interface,
}


def name_of(record: Record, facts: SiteFacts) -> str:
    """A record's label, with its anchor where another of its kind has the same."""
    label = record.label
    twins = sum(
        one.kind == record.kind and one.label.lower() == label.lower() for one in facts.records()
    )
    return label if twins < 2 else f"{label} ({record.ref.anchor})"


def named_so(text: str, records: Iterable[Record]) -> Record | None:
    """The record of that label, of that label with its anchor, or of that anchor; ``None`` when it is not plain."""
    wanted, found = text.strip().lower(), []
    for record in records:
        label, anchor = record.label.lower(), record.ref.anchor
        if wanted in (anchor, f"{label} ({anchor})"):
            return record
        if wanted == label:
            found.append(record)
    return found[0] if len(found) == 1 else None


# -- writing -------------------------------------------------------------------------------------


def written(field: Field, value: object, facts: SiteFacts) -> str:
    """A field's typed value as text with its unit; ``nothing`` for one that is empty."""
    if value is None or value in ("", ()):
        return NOTHING
    match field.kind:
        case "step" | "steps":
            keys = (value,) if isinstance(value, str) else typing.cast(tuple, value)
            return ", ".join(own.number_of(key, facts) for key in keys)
        case "record":
            return ", ".join(_names(field, (value,), facts)) or NOTHING
        case "records":
            return ", ".join(_names(field, typing.cast(tuple, value), facts)) or NOTHING
        case "number" | "percent" | "length":
            return _quantity(field, float(str(value)))
        case "date":
            return show_date(value) if isinstance(value, dt.date) else str(value)
    text = show_value(field, value, facts)
    return f"{text} {field.unit}" if field.unit else text


def _names(field: Field, ids: Iterable[object], facts: SiteFacts) -> list[str]:
    found = [facts.index.get((field.to, id)) for id in ids if isinstance(id, int)]
    return [name_of(record, facts) for record in found if record]


def _quantity(field: Field, number: float) -> str:
    if field.kind == "length":
        size, word = next(
            (size, word)
            for size, word in ((1440, "day"), (60, "h"), (1, "min"))
            if number % size == 0 or size == 1
        )
        count = number / size
        return f"{units.show(count, DIGITS)} {'days' if word == 'day' and count != 1 else word}"
    if field.kind == "percent":
        number *= 100
    return f"{units.show(number, DIGITS)} {field.unit}".strip()


# -- reading -------------------------------------------------------------------------------------


def read(kind: str, field: Field, text: str, facts: SiteFacts) -> typing.Any:
    """The typed value of a field of a record kind from its text; ``nothing`` gives the field's empty value.

    Raises ``ValueError`` when the text cannot be that field's value.
    """
    text = text.strip()
    wanted = _hints(kind)[field.name]
    if text.lower() == NOTHING:
        return getattr(RECORDS[kind](), field.name)
    value = _of_kind(field, bare(field, text), facts)
    if wanted is int and not isinstance(value, int):
        value = round(float(value))
    return value


def bare(field: Field, text: str) -> str:
    """The text without the field's own unit at its end."""
    unit = field.unit.lower()
    return text[: -len(unit)].rstrip() if unit and text.lower().endswith(f" {unit}") else text


def _of_kind(field: Field, text: str, facts: SiteFacts) -> typing.Any:
    match field.kind:
        case "whole" | "number":
            return _finite(units.parse(text, {**field.units, field.unit.lower(): 1.0}))
        case "percent":
            return round(units.parse(text, {"%": 1.0}) / 100, DIGITS + 2)
        case "length":
            return units.parse(text, dict(field.units))
        case "choice":
            return choice(field, text)
        case "several":
            return tuple(choice(field, part) for part in parts(text))
        case "yes-no":
            return (
                {"yes": True, "no": False}[text.lower()]
                if text.lower() in ("yes", "no")
                else _refuse(text)
            )
        case "date":
            return _day(text)
        case "time":
            return dt.time.fromisoformat(text)
        case "record":
            return record(field, text, facts).id
        case "records":
            return tuple(record(field, part, facts).id for part in parts(text))
        case "sites":
            return tuple(_site(part, facts) for part in parts(text))
        case "step":
            return own.key_named(text, facts)
        case "steps":
            return tuple(own.key_named(part, facts) for part in parts(text))
        case "names" | "ports":
            return tuple(parts(text))
        case "addresses":
            return tuple(str(PARSES["addresses"](part)) for part in parts(text))
    if field.kind in PARSES:
        PARSES[field.kind](text)
    return text


def choice(field: Field, text: str) -> str:
    """The key of a choice from its words or its key. Raises ``ValueError`` naming what may be chosen."""
    for key, words in field.choices.items():
        if text.strip().lower() in (key.lower(), words.lower()):
            return key
    raise ValueError(f"“{text}” is not one of {', '.join(field.choices.values())}")


def parts(text: str) -> list[str]:
    return [part.strip() for part in re.split(r"[,;\n]", text) if part.strip()]


def record(field: Field, text: str, facts: SiteFacts) -> Record:
    """The record a reference means. Raises ``ValueError`` when there is none, or more than one of that name."""
    found = named_so(text, (one for one in facts.records() if one.kind == field.to))
    if found is None:
        raise ValueError(f"“{text}” is not one {KIND_WORDS.get(field.to, field.to)} of this site")
    return found


def _site(text: str, facts: SiteFacts) -> Id:
    for near in facts.neighbours:
        if near.name.lower() == text.strip().lower():
            return near.id
    raise ValueError(f"“{text}” is not a site that this one is joined to")


def _day(text: str) -> dt.date:
    found = re.search(r"(\d{1,2}) ([A-Za-z]{3}) (\d{4})$", text)
    if found and found[2].lower() in MONTHS:
        return dt.date(int(found[3]), MONTHS.index(found[2].lower()) + 1, int(found[1]))
    return dt.date.fromisoformat(text)


def _finite(number: float) -> float:
    if not math.isfinite(number):
        raise ValueError("that number is too large")
    return number


def _refuse(text: str) -> typing.NoReturn:
    raise ValueError(f"“{text}” is not understood here")


@functools.cache
def _hints(kind: str) -> dict[str, typing.Any]:
    """The plain type of each field: ``int | None`` is ``int``."""
    found = {}
    for name, hint in typing.get_type_hints(RECORDS[kind]).items():
        if typing.get_origin(hint) in (typing.Union, types.UnionType):
            hint = next(one for one in typing.get_args(hint) if one is not type(None))
        found[name] = hint
    return found
