"""A site as a JSON document: what is written, its published schema, and what is read of somebody else's."""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
import json
import math
import pathlib

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner import exchange
from planner.exchange.parts import listings, parts_of
from planner.exchange.reading import COMMAS, FILE_BYTES
from planner.papers.sheets.table import Unreadable
from planner.plan import Plan
from planner.record import facts as f
from tests.bounded import bounded
from tests.engine.test_flows import LISTED, any_record
from tests.factories import TODAY, site_facts
from tests.foreign_sites import sites
from tests.papers.demo_facts import SITES, demo

PUBLISHED = (
    pathlib.Path(__file__).resolve().parents[2]
    / "fixtures"
    / "exchange"
    / f"site-{exchange.VERSION}.schema.json"
)
MOST_SECONDS = 8.0
MOST_MEBIBYTES = 64
slow = settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


# Source: JSON Schema, draft 2020-12, as the jsonschema library understands it, formats included
@functools.cache
def validator() -> jsonschema.Draft202012Validator:
    schema = exchange.schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(
        schema, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )


def there_and_back(facts: f.SiteFacts) -> exchange.Brought:
    return exchange.read_document(exchange.write(exchange.to_document(facts)), facts.today)


def document(**more) -> dict:
    return {**exchange.to_document(site_facts()), **more}


def read(found: dict | bytes) -> exchange.Brought:
    return exchange.read_document(
        found if isinstance(found, bytes) else json.dumps(found).encode(), TODAY
    )


# -- written -----------------------------------------------------------------------------------------


def test_the_published_schema_is_the_one_that_is_made():
    """When this fails: write exchange.schema() to the file, and raise VERSION if an older reader would misread it."""
    assert json.loads(PUBLISHED.read_text(encoding="utf-8")) == exchange.schema()


@pytest.mark.parametrize("name", SITES)
def test_demo_sites_keep_to_the_schema_and_come_back_whole(name):
    facts = demo(name)
    document = exchange.to_document(facts)
    assert not [(list(error.path), error.message) for error in validator().iter_errors(document)]
    brought = there_and_back(facts)
    assert brought.facts == facts and not brought.unknown and not brought.left_out
    assert brought.fingerprint == f.fingerprint(facts)


@slow
@given(sites())
def test_any_site_keeps_to_the_schema_and_comes_back_whole(facts):
    assert not [
        (list(error.path), error.message)
        for error in validator().iter_errors(exchange.to_document(facts))
    ]
    brought = there_and_back(facts)
    assert brought.facts == facts and not brought.left_out
    assert brought.fingerprint == f.fingerprint(facts) == f.fingerprint(brought.facts)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.one_of(*map(any_record, LISTED)), max_size=10), any_record(f.Service))
def test_absurd_facts_can_be_written_and_read(records, service):
    facts = site_facts(*records, service)
    brought = there_and_back(facts)
    assert len(list(brought.facts.records())) == len(list(facts.records()))
    assert not brought.unknown


def test_every_field_of_a_record_is_in_the_document():
    for listing in listings():
        if listing.kind:
            names = {part.own for part in parts_of(listing.entry)} | {"id"}
            elsewhere = {"joined"} if listing.kind == "site" else set()
            assert names == {one.name for one in dataclasses.fields(listing.entry)} - elsewhere


def test_what_is_of_other_sites_stays_out():
    facts = site_facts(f.Site(id=1, name="Mill Street", joined=(2,)))
    near = f.Neighbour(id=2, name="Barn", networks=(f.Network(id=9, cidr="10.9.0.0/24"),))
    text = exchange.write(
        exchange.to_document(dataclasses.replace(facts, neighbours=(near,)))
    ).decode()
    assert "Barn" not in text and "10.9.0.0" not in text and "joined" not in text


def test_references_are_keys_of_the_document():
    written = exchange.to_document(
        site_facts(
            f.Network(id=4, name="core"),
            f.Network(id=7, name="desks", reaches=(4,)),
            f.Host(id=2, network_id=4),
            f.Built(id=1, target="host-2", field="memory_gib", value="48 GiB"),
        )
    )
    assert [one["key"] for one in written["networks"]] == ["network-4", "network-7"]
    assert (written["networks"][1]["reaches"], written["hosts"][0]["network"]) == (
        ["network-4"],
        "network-4",
    )
    assert written["built"][0]["target"] == "host-2"


def test_a_number_that_is_none_is_written_as_unknown():
    written = exchange.to_document(
        site_facts(f.Host(id=1, memory_gib=math.nan, weight_kg=math.inf))
    )
    assert written["hosts"][0]["memory_gib"] is None is written["hosts"][0]["weight_kg"]
    json.loads(
        exchange.write(written), parse_constant=pytest.fail
    )  # Source: RFC 8259 section 6: no NaN, no Infinity


# -- read: what is taken, what is told ------------------------------------------------------------------


def test_unknown_fields_are_left_out_and_told():
    found = document(
        hosts=[
            {"key": "host-1", "name": "h1", "colour": "red"},
            {"key": "host-2", "colour": "blue"},
        ],
        weather={"rain": True},
    )
    brought = read(found)
    assert brought.unknown == ("hosts: “colour” (2 times)", "“weather”")
    assert [host.name for host in brought.facts.hosts] == ["h1", ""]


def test_bad_references_are_unknown():
    brought = read(
        document(
            networks=[{"key": "network-1", "name": "core", "reaches": ["network-9"]}],
            hosts=[
                {"key": "host-1", "name": "h1", "network": "network-9"},
                {"key": "host-2", "network": "host-1"},
                {"key": "host-3", "network": 1},
                {"key": "host-4", "network": "network-1"},
            ],
        )
    )
    assert [host.network_id for host in brought.facts.hosts] == [None, None, None, 1]
    assert brought.facts.networks[0].reaches == ()
    assert brought.left_out[:2] == (
        "networks, “core”: Reaches without a firewall: “network-9” is not a network of this file",
        "hosts, “h1”: Management network: “network-9” is not a network of this file",
    )


def test_keys_that_are_none_or_double_give_way():
    brought = read(
        document(
            networks=[
                {"key": "network-2", "name": "a"},
                {"key": "network-2", "name": "b"},
                {"name": "c"},
                {"key": "host-1", "name": "d"},
            ],
            devices=[{"key": "device-1", "network": "network-2"}],
        )
    )
    ids = [one.id for one in brought.facts.networks]
    assert ids[0] == 2 and len(set(ids)) == 4 and len(brought.left_out) == 3
    assert brought.facts.devices[0].network_id == 2  # the first bears the key


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("memory_gib", "64 GiB"),
        ("memory_gib", True),
        ("memory_gib", [1]),
        ("sockets", 2.5),
        ("sockets", 10**400),
        ("sockets", 2**63),
        ("name", 7),
        ("name", {"a": 1}),
        ("name", "a\x00b"),
        ("name", "x" * 20_001),
        ("name", "\ud800"),
        ("network", {}),
        ("clock_ghz", "1e3"),
        ("mac", False),
    ],
)
def test_a_value_of_another_type_is_unknown(field, value):
    host = {"key": "host-1", field: value, "model": "kept"}
    brought = read(document(hosts=[host]))
    own = "network_id" if field == "network" else field
    assert getattr(brought.facts.hosts[0], own) == getattr(f.Host(), own)
    assert brought.facts.hosts[0].model == "kept" and len(brought.left_out) == 1


@pytest.mark.parametrize(
    "day", ["2027-02-30", "14 Jan 2027", "2027-01-14T00:00:00", 20270114, "", None]
)
def test_days_that_are_none_are_unknown(day):
    site = {
        **document()["site"],
        "go_live_date": day,
        "work_starts": "25:00",
        "on_site_date": "2027-01-14",
    }
    facts = read(document(site=site)).facts
    assert (facts.site.go_live_date, facts.site.work_starts) == (None, None)
    assert facts.site.on_site_date == dt.date(2027, 1, 14)


@pytest.mark.parametrize("found", [None, 7, "x", [1, "a", None], {"key": "host-1"}, [[]], [[{}]]])
def test_lists_that_are_none_are_empty(found):
    assert read(document(hosts=found)).facts.hosts == ()
    assert read(document(answers=found)).facts.answers == ()


def test_sayings_that_are_not_whole_are_left_out():
    brought = read(
        document(
            assumed=[{"key": "host.vcpu-per-core"}, {"key": "a", "value": 1}],
            signatures=[{"stage": 1}],
        )
    )
    assert [one.key for one in brought.facts.assumed] == ["a"] and brought.facts.signatures == ()
    assert brought.left_out == (
        "assumed, “host.vcpu-per-core”: it is not whole",
        "signatures: it is not whole",
    )


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(["network-1", "host-1", "2026-03-02"]),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_any_json_in_any_place_is_read_into_a_plan(data):
    """Values of every kind in every place: something comes of it, and the plan of it can be worked out."""
    found = document()
    for listing in data.draw(st.lists(st.sampled_from(listings()), min_size=1, max_size=3)):
        names = st.sampled_from(
            ["key", *(part.name for part in parts_of(listing.entry))]
        ) | st.text(max_size=4)
        entry = st.dictionaries(names, JSON, max_size=5)
        found[listing.name] = data.draw(
            entry if listing.single else st.lists(entry | JSON, max_size=3)
        )
    brought = read(
        json.dumps(found)
        .replace("NaN", "0")
        .replace("-Infinity", "0")
        .replace("Infinity", "0")
        .encode()
    )
    assert Plan(brought.facts).fingerprint
    assert there_and_back(brought.facts).facts.records()


# -- refused -----------------------------------------------------------------------------------------


def deep(times: int) -> bytes:
    return (
        b'{"format": "deskwright.site", "version": 1, "hosts": '
        + b"[" * times
        + b"]" * times
        + b"}"
    )


def wide(one: bytes, times: int) -> bytes:
    return (
        b'{"format": "deskwright.site", "version": 1, "hosts": [' + b",".join([one] * times) + b"]}"
    )


REFUSED = {
    "nothing": (b"", "no site"),
    "newer": (
        json.dumps(document(version=exchange.VERSION + 1)).encode(),
        r"newer Deskwright: version 2 of the format",
    ),
    "no version": (json.dumps(document(version=None)).encode(), "does not say which version"),
    "version of words": (json.dumps(document(version="1")).encode(), "does not say which version"),
    "version yes": (json.dumps(document(version=True)).encode(), "does not say which version"),
    "version nought": (json.dumps(document(version=0)).encode(), "does not say which version"),
    "another format": (b'{"name": "x", "version": "1.0.0"}', "no site as Deskwright writes it"),
    "a list": (b"[1, 2, 3]", "no site"),
    "a number": (b"7", "no site"),
    "half": (json.dumps(document()).encode()[:-40], "damaged"),
    "not a number": (b'{"format": "deskwright.site", "version": NaN}', "damaged"),
    "words": (b'{"format": deskwright}', r"damaged: it is not whole JSON \(line 1\)"),
    "UTF-16": (json.dumps(document()).encode("utf-16"), "JSON in UTF-8"),
    "Western European": ('{"format": "größer"}'.encode("windows-1252"), "JSON in UTF-8"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(100), "JSON in UTF-8"),
    "an archive": (b"PK\x03\x04" + bytes(100), "no site"),
    "deep": (deep(100_000), "far more parts|nested far deeper"),
    "deep enough": (deep(40), "nested far deeper"),
    "deep in brackets only": (b'{"format":' + b"[" * 50_000, "nested far deeper"),
    "wide lists": (wide(b"[]", 2_000_000), "far more parts"),
    "wide numbers": (wide(b"1.5", 1_500_000), "far more parts"),
    "many records": (wide(b"{}", 5_001), "more than 5000 records"),
    "many answers": (
        json.dumps(document(answers=[{"check": "a"}] * 5_001)).encode(),
        "more than 5000 answers",
    ),
    "long number": (
        b'{"format": "deskwright.site", "version": ' + b"9" * 1_000_000 + b"}",
        "damaged",
    ),
    "too large": (b'{"a": "' + b"x" * FILE_BYTES + b'"}', "larger than 8 MiB"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_bad_input_is_refused_in_bounded_time_and_memory(name):
    data, why = REFUSED[name]
    with (
        bounded(mebibytes=MOST_MEBIBYTES, seconds=MOST_SECONDS),
        pytest.raises(Unreadable, match=why),
    ):
        read(data)


def test_the_dearest_that_is_read_is_bounded_too():
    """As many strings, each of its own, as the limits let pass."""
    one = b",".join(b'"%d"' % n for n in range(COMMAS - 1000))
    data = b'{"format": "deskwright.site", "version": 1, "hosts": [' + one + b"]}"
    with bounded(mebibytes=2 * MOST_MEBIBYTES, seconds=2 * MOST_SECONDS):
        assert read(data).facts.hosts == ()


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_are_a_site_or_refused(data):
    with pytest.raises(Unreadable):
        read(data)
