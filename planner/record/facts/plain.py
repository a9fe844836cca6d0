"""Facts as JSON and back, and the plan's short code."""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
import hashlib
import json
import types
import typing

from planner.record.facts.whole import NOT_PLANNED, SiteFacts


@functools.cache
def _names(cls: type) -> tuple[str, ...]:
    """The names of a dataclass's fields; () of any other type."""
    if dataclasses.is_dataclass(cls):
        return tuple(f.name for f in dataclasses.fields(cls))
    return ()


def _plain(value: typing.Any) -> typing.Any:
    if value is None or isinstance(value, str | int | float):
        return value
    names = _names(value.__class__)
    if names:
        return {name: _plain(getattr(value, name)) for name in names}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return value


def to_json(facts: SiteFacts) -> dict[str, typing.Any]:
    """Facts as plain JSON values; :func:`from_json` gives equal facts back."""
    return typing.cast(dict[str, typing.Any], _plain(facts))


def _typed(value: typing.Any, wanted: typing.Any) -> typing.Any:
    origin = typing.get_origin(wanted)
    if origin in (typing.Union, types.UnionType):
        if value is None:
            return None
        wanted = next(arg for arg in typing.get_args(wanted) if arg is not type(None))
        return _typed(value, wanted)
    if origin is tuple:
        return tuple(_typed(item, typing.get_args(wanted)[0]) for item in value)
    if dataclasses.is_dataclass(wanted):
        return _build(typing.cast(type, wanted), value)
    if wanted in (dt.date, dt.time, dt.datetime):
        return wanted.fromisoformat(value)
    return value


@functools.cache
def _hints(cls: type) -> dict[str, typing.Any]:
    hints = typing.get_type_hints(cls)
    return {f.name: hints[f.name] for f in dataclasses.fields(cls)}


def _build(cls: type, values: dict[str, typing.Any]) -> typing.Any:
    hints = _hints(cls)
    return cls(**{name: _typed(values[name], hints[name]) for name in hints if name in values})


def from_json(values: dict[str, typing.Any]) -> SiteFacts:
    """Facts from what :func:`to_json` gave; fields that are not known any more are passed over."""
    facts: SiteFacts = _build(SiteFacts, values)
    return facts


_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # no I, L, O, U: they are misread on paper


def _filled(value: typing.Any) -> typing.Any:
    """JSON values without the keys that hold nothing."""
    if isinstance(value, dict):
        return {
            key: _filled(inner)
            for key, inner in value.items()
            if inner is not None and inner not in ("", [])
        }
    if isinstance(value, list):
        return [_filled(inner) for inner in value]
    return value


def fingerprint(facts: SiteFacts) -> str:
    """The plan's short code, as ``7KQ2-M9XD``: it changes when any planned value changes.

    Forty bits of the SHA-256 of the plan's canonical JSON. Answers, signatures, acceptances and
    the day it is looked at are not part of it; a record's database id is, so that two records
    with equal values are told apart. What nobody has filled in is left out, so that a field that a
    later release adds moves no code before somebody fills it in.
    """
    plan = {key: value for key, value in to_json(facts).items() if key not in NOT_PLANNED}
    text = json.dumps(_filled(plan), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    content = text.encode(
        "utf-8", "surrogatepass"
    )  # a lone surrogate is no reason to be without a code
    number = int.from_bytes(hashlib.sha256(content).digest()[:5], "big")
    code = "".join(_LETTERS[(number >> shift) & 31] for shift in range(35, -1, -5))
    return f"{code[:4]}-{code[4:]}"
