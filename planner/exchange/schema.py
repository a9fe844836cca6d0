"""The JSON Schema of a document, made from the same description as everything else.

Source: JSON Schema, draft 2020-12. It says what this version writes; a reader takes less strictly what it gets.
"""

from __future__ import annotations

import datetime as dt

from planner.exchange.parts import FORMAT, VERSION, Listing, Part, listings, parts_of
from planner.record import facts as f
from planner.record.choices import AnswerState, NumberOrigin, NumberScope

Schema = dict[str, object]
DIALECT = "https://json-schema.org/draft/2020-12/schema"
TIME = r"^([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9](\.[0-9]{1,6})?)?$"  # without a zone, which "time" would want
PLAIN = {str: "string", int: "integer", float: "number", bool: "boolean"}
SAID_BY: dict[str, list[str]] = {  # choices of what people said about the plan
    "state": list(AnswerState),
    "scope": [NumberScope.SITE, NumberScope.HOUSE],
    "origin": list(NumberOrigin),
}


def schema() -> Schema:
    """The schema as plain JSON values."""
    properties: dict[str, Schema] = {
        "format": {"const": FORMAT},
        "version": {"const": VERSION},
        "made_on": {"type": "string", "format": "date"},
        "fingerprint": {"type": "string", "pattern": "^[0-9A-Z]{4}-[0-9A-Z]{4}$"},
        "customer": {"type": "string"},
        "customer_code": {"type": "string"},
    }
    for listing in listings():
        entry: Schema = {"$ref": f"#/$defs/{_word(listing)}"}
        properties[listing.name] = entry if listing.single else {"type": "array", "items": entry}
    return {
        "$schema": DIALECT,
        "title": "A site of Deskwright",
        "description": "Everything one site's plan says. An unknown text is empty, anything else unknown is null. "
        "A reference is the key of the record it means.",
        "type": "object",
        "required": list(properties),
        "properties": properties,
        "additionalProperties": False,
        "$defs": {_word(listing): _entry(listing) for listing in listings()},
    }


def _word(listing: Listing) -> str:
    return listing.kind or listing.entry.__name__.lower()


def _entry(listing: Listing) -> Schema:
    properties = {part.name: _part(part) for part in parts_of(listing.entry)}
    if listing.kind:
        properties = {
            "key": {"type": "string", "pattern": f"^{listing.kind}-[0-9]+$"},
            **properties,
        }
    words = f.KIND_WORDS.get(listing.kind, _word(listing))
    return {
        "title": words,
        "type": "object",
        "required": list(properties),
        "properties": properties,
        "additionalProperties": False,
    }


def _part(part: Part) -> Schema:
    told: Schema = {}
    if part.field:
        unit = part.field.kind.meaning or part.field.unit
        words = " ".join(filter(None, (part.field.hint, f"In {unit}." if unit else "")))
        told["title"] = part.field.label
        if words:
            told["description"] = words
    one = _one(part)
    if part.several:
        return {**told, "type": "array", "items": one}
    if part.may_be_null:
        return {**told, "anyOf": [{"type": "null"}, one]}
    if part.plain is str and part.field and {"format", "pattern"} & set(one):
        return {**told, "anyOf": [{"const": ""}, one]}
    return {**told, **one}


def _one(part: Part) -> Schema:
    """The schema of one value that is known."""
    if part.to:
        return {"type": "string", "pattern": f"^{part.to}-[0-9]+$"}
    if part.plain in (dt.date, dt.datetime):
        return {"type": "string", "format": "date" if part.plain is dt.date else "date-time"}
    if part.plain is dt.time:
        return {"type": "string", "pattern": TIME}
    if part.field is None:
        if part.own in SAID_BY:
            return {"enum": list(map(str, SAID_BY[part.own]))}
        return {"type": PLAIN[part.plain]}
    if part.field.choices:
        return {"enum": _choices(part)}
    bounds = {"minimum": part.field.low, "maximum": part.field.high}
    limits = {word: bound for word, bound in bounds.items() if bound is not None}
    return {"type": PLAIN[part.plain], **part.field.kind.shape, **limits}


def _choices(part: Part) -> list[object]:
    if part.field:
        keys = [part.plain(key) for key in part.field.choices]
    else:
        keys = []
    if part.plain is str and not part.several:
        unknown = [""]
    else:
        unknown = []
    return [*unknown, *keys]
