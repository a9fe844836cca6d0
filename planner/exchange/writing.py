"""Facts → document."""

from __future__ import annotations

import datetime as dt
import json
import math

from planner.exchange.parts import FORMAT, VERSION, Part, listings, parts_of
from planner.record import facts as f


def to_document(facts: f.SiteFacts) -> dict[str, object]:
    """The whole site as plain JSON values. A number that is none (a NaN) is written as unknown."""
    document: dict[str, object] = {
        "format": FORMAT,
        "version": VERSION,
        "made_on": facts.today.isoformat(),
        "fingerprint": f.fingerprint(facts),
        "customer": facts.customer,
        "customer_code": facts.customer_code,
    }
    for listing in listings():
        value, parts = getattr(facts, listing.name), parts_of(listing.entry)
        document[listing.name] = (
            _entry(value, parts) if listing.single else [_entry(one, parts) for one in value]
        )
    return document


def write(document: dict[str, object]) -> bytes:
    """The document as a file: UTF-8, indented, so that two of them can be laid side by side."""
    return (
        json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False).encode(
            "utf-8", "replace"
        )
        + b"\n"
    )


def _entry(entry: object, parts: tuple[Part, ...]) -> dict[str, object]:
    values = {part.name: _value(part, getattr(entry, part.own)) for part in parts}
    if isinstance(entry, f.Record):
        return {"key": entry.ref.anchor, **values}
    return values


def _value(part: Part, value: object) -> object:
    if isinstance(value, tuple):
        return [_plain(part, one) for one in value]
    return _plain(part, value)


def _plain(part: Part, value: object) -> object:
    if value is None:
        return None
    if part.to:
        return f"{part.to}-{value}"
    if isinstance(value, dt.date | dt.time):  # a moment is a date, too
        return value.isoformat()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
