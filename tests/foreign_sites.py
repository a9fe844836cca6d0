"""Whole sites at random, every field filled with what its form would take, references and all."""

from __future__ import annotations

import dataclasses
import datetime as dt
import ipaddress

from hypothesis import strategies as st

from planner.catalogue import assumptions
from planner.exchange.parts import listings, parts_of
from planner.record import facts as f
from planner.record.chapters import Field, fields_of
from tests.factories import TODAY

LETTERS = st.characters(
    codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp"), exclude_characters="\ufffe\uffff"
)
WORDS = st.text(LETTERS, max_size=12).map(str.strip)
ITEMS = st.text(st.characters(codec="utf-8", categories=("L", "N")), min_size=1, max_size=8)
ADDRESSES = st.integers(0, 2**32 - 1).map(lambda n: str(ipaddress.IPv4Address(n)))
ADDRESSES_6 = st.integers(0, 2**128 - 1).map(lambda n: str(ipaddress.IPv6Address(n)))
MACS = st.binary(min_size=6, max_size=6).map(lambda raw: raw.hex(":"))
PORTS = st.builds("{}/{}".format, st.integers(1, 65535), st.sampled_from(["tcp", "udp"]))
PREFIXES = st.builds("{}/{}".format, ADDRESSES, st.integers(0, 32))
PREFIXES_6 = st.integers(0, 2**64 - 1).map(lambda n: f"{ipaddress.IPv6Address(n << 64)}/64")
STEPS = st.sampled_from(["fix-host", "carry-host", "seal-image"])
TEXTS = {
    "address": ADDRESSES,
    "address6": ADDRESSES_6,
    "prefix": PREFIXES,
    "prefix6": PREFIXES_6,
    "mac": MACS,
    "zone": st.sampled_from(["Europe/Vienna", "Asia/Tokyo", "UTC"]),
    "email": st.just("marsh@larkfield.example"),
    "step": STEPS,
    "steps": STEPS,
    "addresses": ADDRESSES,
    "names": ITEMS,
    "ports": PORTS,
    "any-field": st.just("memory_gib"),
}


def _known(field: Field, part) -> st.SearchStrategy:
    """A value that is known, but for references."""
    if field.choices:
        return st.sampled_from([part.plain(key) for key in field.choices])
    if part.plain in (int, float):
        low = 0 if field.low is None else field.low
        high = 2**31 if field.high is None else field.high
        if part.plain is int:
            return st.integers(int(low), int(high))
        return st.floats(low, high, allow_nan=False, allow_infinity=False)
    if part.plain is bool:
        return st.booleans()
    if part.plain is dt.date:
        return st.dates(dt.date(2000, 1, 1), dt.date(2100, 1, 1))
    if part.plain is dt.time:
        return st.times().map(lambda time: time.replace(microsecond=0))
    return TEXTS.get(field.kind.word, WORDS)


@st.composite
def sites(draw, most: int = 3) -> f.SiteFacts:
    """A site that any form would have let in, as read from a database: references only to what is there."""
    counts = {
        one.name: 1 if one.single else draw(st.integers(0, most)) for one in listings() if one.kind
    }
    ids = {
        one.kind: draw(
            st.lists(
                st.integers(1, 10**9),
                min_size=counts[one.name],
                max_size=counts[one.name],
                unique=True,
            )
        )
        for one in listings()
        if one.kind
    }
    lists = {}
    for one in listings():
        if one.kind:
            made = tuple(_record(draw, one.entry, id, ids) for id in sorted(ids[one.kind]))
            lists[one.name] = made[0] if one.single else made
    keys = draw(st.lists(st.sampled_from(list(assumptions.listed())), max_size=3, unique=True))
    lists["assumed"] = tuple(_assumed(draw, key) for key in keys)
    lists["answers"] = tuple(
        draw(st.lists(_answers(ids), max_size=4, unique_by=lambda one: one.check))
    )
    return f.SiteFacts(today=TODAY, customer=draw(WORDS), customer_code="larkfield", **lists)


def _record(draw, entry: type, id: int, ids: dict) -> f.Record:
    values = {"id": id}
    fields = fields_of(entry.kind)
    for part in parts_of(entry):
        field = fields[part.own]
        if part.to:
            known = st.sampled_from(ids[part.to]) if ids[part.to] else st.nothing()
        elif field.kind.word == "any-record":
            known = st.sampled_from(
                [f"{kind}-{n}" for kind in ("host", "site", "service") for n in ids[kind]]
            )
        else:
            known = _known(field, part)
        if part.several:
            values[part.own] = tuple(draw(st.lists(known, max_size=3, unique=True)))
        elif draw(st.booleans()) and not known.is_empty:
            values[part.own] = draw(known)
    return entry(**values)


def _assumed(draw, key: str) -> f.Assumed:
    base = assumptions.listed()[key]
    value = draw(st.floats(base.low, base.high, allow_nan=False))
    origin = draw(st.sampled_from(["measured", "supplier", "house-rule", "common-practice"]))
    return f.Assumed(
        key=key,
        value=value,
        origin=origin,
        note=draw(WORDS),
        set_on=draw(st.none() | st.just(TODAY)),
    )


def _answers(ids: dict) -> st.SearchStrategy:
    checks = ["scope-agreed", *(f"host-reachable@host-{n}" for n in ids["host"])]
    states = st.sampled_from(["open", "proven", "trust", "excused", "failed"])
    moments = st.just(dt.datetime(2026, 3, 1, 9, 30, tzinfo=dt.UTC))
    return st.builds(
        f.Answer, check=st.sampled_from(checks), state=states, by=WORDS, at=moments, proof=WORDS
    )


def counted_through(facts: f.SiteFacts) -> f.SiteFacts:
    """The same site with its records' ids counted from 1: two sites are alike when these are equal."""
    new = {
        (r.kind, r.id): n
        for kind in f.RECORDS
        for n, r in enumerate(
            sorted((r for r in facts.records() if r.kind == kind), key=lambda r: r.id), 1
        )
    }
    anchors = {f"{kind}-{old}": f"{kind}-{n}" for (kind, old), n in new.items()}

    def put(record):
        values = {"id": new[record.kind, record.id]}
        for name, field in fields_of(record.kind).items():
            value = getattr(record, name)
            if field.kind.word == "record" and value is not None:
                values[name] = new[field.to, value]
            elif field.kind.word == "records":
                values[name] = tuple(new[field.to, one] for one in value)
            elif field.kind.word == "any-record":
                values[name] = anchors.get(value, value)
        return dataclasses.replace(record, **values)

    lists = {"site": put(facts.site)}
    for name in f.RECORD_FIELDS:
        found = getattr(facts, name)
        lists[name] = tuple(map(put, found)) if isinstance(found, tuple) else put(found)
    return dataclasses.replace(facts, **lists)
