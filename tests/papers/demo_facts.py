"""The demo sites as facts, straight from what ``fixtures/demo`` holds, without a database."""

from __future__ import annotations

import datetime as dt
import functools
import pathlib
import tomllib
import typing

from dateutil import parser as dates

from planner.record import facts as f
from planner.record import units
from planner.record.chapters import SECTIONS
from planner.record.chapters.base import Field
from sites.demo_large import large_site
from tests.factories import TODAY, site_facts

FOLDER = pathlib.Path(__file__).resolve().parents[2] / "fixtures" / "demo"
SITES = ("bench", "mill", "workshop", "harbour", "large")
PLANNED = ("mill", "harbour", "large")  # those that are planned to the end


@functools.cache
def demo(name: str) -> f.SiteFacts:
    """One of SITES."""
    return facts_from(large_site() if name == "large" else _content(name))


def _content(name: str) -> dict:
    [path] = FOLDER.glob(f"site-*-{name}.toml")
    return tomllib.loads(path.read_text(encoding="utf-8"))


def facts_from(content: dict) -> f.SiteFacts:
    """Facts of one demo file; ids are counted through, references found by name."""
    ids: dict[tuple[str, str], int] = {}
    typed: list[tuple[str, dict]] = []
    single: dict[str, dict] = {}
    for section in SECTIONS:
        if section.single:
            single.setdefault(section.kind, {"id": 1}).update(
                _known(section.fields, content.get(section.kind, {}))
            )
        else:
            for values in content.get(section.slug, []):
                number = len(typed) + 1
                ids.setdefault((section.kind, values.get("name", "")), number)
                typed.append((section.kind, {"id": number, **_known(section.fields, values)}))
    head = {
        name: content["site"][name]
        for name in ("code", "name", "purpose")
        if name in content["site"]
    }
    single["site"] = head | single.get("site", {})
    records = [_record(kind, values, ids) for kind, values in [*single.items(), *typed]]
    customer = content["customer"]
    return site_facts(
        *records, customer=customer["name"], customer_code=customer["code"], today=TODAY
    )


def _known(fields: tuple[Field, ...], values: dict) -> dict:
    return {
        one.name: (one, values[one.name.removesuffix("_id")])
        for one in fields
        if one.name.removesuffix("_id") in values
    }


def _record(kind: str, values: dict, ids: dict[tuple[str, str], int]) -> f.Record:
    made = {
        name: _value(*one, ids) if isinstance(one, tuple) else one for name, one in values.items()
    }
    hints = typing.get_type_hints(f.RECORDS[kind])
    for name, value in made.items():
        if isinstance(value, str) and int in (hints[name], *typing.get_args(hints[name])):
            made[name] = int(value)  # a choice among numbers
    return f.RECORDS[kind](**made)


def _value(field: Field, value: typing.Any, ids: dict[tuple[str, str], int]) -> typing.Any:
    match field.kind.word:
        case "record":
            return ids[field.to, value]
        case "records":
            return tuple(ids[field.to, name] for name in _several(value))
        case "several" | "names" | "ports" | "addresses" | "steps":
            return tuple(_several(value))
        case "whole" | "number" | "percent" | "length":
            number = value if isinstance(value, int | float) else units.parse(value, _units(field))
            if field.kind.word == "percent":
                number /= 100
            return round(number) if field.kind.whole else float(number)
        case "yes-no":
            return value == "yes"
        case "date":
            return dates.parse(value).date()
        case "time":
            return dt.time.fromisoformat(value)
    return str(value)


def _several(value: str | list[str]) -> list[str]:
    return value if isinstance(value, list) else [part.strip() for part in value.split(",")]


def _units(field: Field) -> dict[str, float]:
    own = {"%": 1.0} if field.kind.word == "percent" else {field.unit.lower(): 1.0}
    return {**own, **{name.lower(): size for name, size in field.units.items()}}
