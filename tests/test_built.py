"""Built values beside the plan, as facts of their own, and as text that reads back."""

import dataclasses
import datetime as dt
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.comparing import as_built as built
from planner.comparing.as_built import as_built, drift
from planner.plan import Plan
from planner.record import chapters, typed
from planner.record import facts as f
from tests.factories import make, site_facts

NET = make(f.Network, name="management", cidr="10.44.1.0/24", gateway="10.44.1.1", dhcp="none")
DESKS = make(f.Network, name="desktops", cidr="10.44.4.0/24", lease_minutes=11_520)
H1 = make(f.Host, name="mill-h1", memory_gib=96.0, network_id=NET.id, address="10.44.1.11")
H2 = make(
    f.Host, name="mill-h2", memory_gib=96.0, network_id=NET.id, address="10.44.1.12", state="to-buy"
)
STORE = make(f.Datastore, name="h1-local", raid="10", disk_gb=960.0, host_id=H1.id)
IMAGE = make(f.Image, name="office", bits=64, support_ends=dt.date(2028, 10, 10))
SEATS = make(f.SeatGroup, name="Reception", share_at_once=0.7, arrive_around=dt.time(7, 45))
SERVICE = f.Service(
    id=1, name="Mill Street desktops", initial_secret_changed=True, agent_ports=("8443/tcp",)
)
RECORDS = (NET, DESKS, H1, H2, STORE, IMAGE, SEATS, SERVICE)


def otherwise(record: f.Record, field: str, value: str, reason: str = "") -> f.Built:
    return make(f.Built, target=record.ref.anchor, field=field, value=value, reason=reason)


def with_built(*values: f.Built) -> f.SiteFacts:
    return site_facts(*RECORDS, *values)


@pytest.mark.parametrize(
    ("record", "field", "text", "value", "planned", "shown"),
    [
        (H1, "address", "10.44.1.13", "10.44.1.13", "10.44.1.11", "10.44.1.13"),
        (H1, "memory_gib", "128 GiB", 128.0, "96 GiB", "128 GiB"),
        (H1, "network_id", "desktops", DESKS.id, "management", "desktops"),
        (H1, "network_id", "nothing", None, "management", "nothing"),
        (H2, "state", "existing", "existing", "to buy", "existing"),
        (STORE, "disk_gb", "1,920 GB", 1920.0, "960 GB", "1,920 GB"),
        (STORE, "raid", "RAID 6", "6", "RAID 10", "RAID 6"),
        (DESKS, "lease_minutes", "1 day", 1440, "8 days", "1 day"),
        (NET, "vlan", "1010", 1010, "", "1010"),
        (NET, "reaches", "desktops", (DESKS.id,), "", "desktops"),
        (IMAGE, "bits", "32 bit", 32, "64 bit", "32 bit"),
        (
            IMAGE,
            "support_ends",
            "Tue 9 Oct 2029",
            dt.date(2029, 10, 9),
            "Tue 10 Oct 2028",
            "Tue 9 Oct 2029",
        ),
        (SEATS, "share_at_once", "80 %", 0.8, "70 %", "80 %"),
        (SEATS, "arrive_around", "08:10", dt.time(8, 10), "07:45", "08:10"),
        (SERVICE, "initial_secret_changed", "no", False, "yes", "no"),
        (
            SERVICE,
            "agent_ports",
            "8443/tcp, 9000-9010/udp",
            ("8443/tcp", "9000-9010/udp"),
            "8443/tcp",
            "8443/tcp, 9000-9010/udp",
        ),
    ],
)
def test_a_built_value_stands_beside_the_plan_and_in_the_facts(
    record, field, text, value, planned, shown
):
    facts = with_built(otherwise(record, field, text, "it was so"))
    (found,) = drift(facts)
    assert (found.record, found.field.name, found.planned, found.shown) == (
        record,
        field,
        planned,
        shown,
    )
    assert (found.reason, found.known, found.differs) == ("it was so", True, True)
    changed = as_built(facts)
    there = getattr(changed.find(record.ref), field)
    assert there == value and type(there) is type(value)
    assert drift(changed)[0].differs is False
    untouched = [one for one in facts.records() if one.ref != record.ref]
    assert untouched == [one for one in changed.records() if one.ref != record.ref]
    assert facts.find(record.ref) == record  # the plan itself stays as it was


def test_the_last_of_several_holds_and_two_fields_of_one_record_both_move():
    facts = with_built(
        otherwise(H1, "address", "10.44.1.13"),
        otherwise(H1, "memory_gib", "64 GiB"),
        otherwise(H1, "address", "10.44.1.14"),
    )
    there = as_built(facts).find(H1.ref)
    assert (there.address, there.memory_gib) == ("10.44.1.14", 64.0)


def test_without_built_values_the_facts_are_the_same_object():
    facts = with_built()
    assert as_built(facts) is facts and drift(facts) == []


def test_findings_run_on_what_was_built():
    """The address that was really given to one host is the other's: the plan is sound, the building is not."""
    facts = with_built(otherwise(H1, "address", "10.44.1.12"))
    planned = {one.key for one in Plan(facts).review.findings}
    there = {one.key for one in Plan(as_built(facts)).review.findings}
    assert "address-claimed-twice" not in planned and "address-claimed-twice" in there


def test_the_fingerprint_of_the_plan_does_not_move_but_that_of_the_building_does():
    facts = with_built(otherwise(H1, "memory_gib", "64 GiB"))
    assert f.fingerprint(facts) == f.fingerprint(with_built()) != f.fingerprint(as_built(facts))


@pytest.mark.parametrize(
    ("target", "field", "value", "whose", "what"),
    [
        ("host-999999", "address", "10.44.1.13", "host-999999 (removed)", "address"),
        (H1.ref.anchor, "colour", "blue", "mill-h1 (host)", "colour"),
        (H1.ref.anchor, "id", "7", "mill-h1 (host)", "id"),
        (H1.ref.anchor, "note", "x", "mill-h1 (host)", "note"),
        (H1.ref.anchor, "address", "upstairs", "mill-h1 (host)", "Management address"),
        (H1.ref.anchor, "memory_gib", "9" * 400, "mill-h1 (host)", "Memory"),
        (H1.ref.anchor, "network_id", "the old one", "mill-h1 (host)", "Management network"),
        (H1.ref.anchor, "address", "", "mill-h1 (host)", "Management address"),
        ("", "", "", "", ""),
        ("host", "address", "1", "host (removed)", "address"),
        ("site-1", "purpose", "trial", "Mill Street (site)", "purpose"),
        ("-", "\0", "²", "- (removed)", "\0"),
    ],
)
def test_what_cannot_be_read_is_shown_and_changes_nothing(target, field, value, whose, what):
    facts = with_built(make(f.Built, target=target, field=field, value=value))
    (found,) = drift(facts)
    assert (found.whose, found.what, found.shown, found.known, found.differs) == (
        whose,
        what,
        value,
        False,
        None,
    )
    assert as_built(facts) == facts


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=30), st.text(max_size=30), st.text(max_size=60), st.booleans())
def test_whatever_is_typed_nothing_is_raised(target, field, value, of_host):
    fields = sorted(built.fields_of("host"))
    name = fields[len(field) % len(fields)] if of_host else field
    facts = with_built(
        make(f.Built, target=H1.ref.anchor if of_host else target, field=name, value=value)
    )
    drift(facts)
    as_built(facts)


# -- values as text ------------------------------------------------------------------------------

EXAMPLES = {
    "whole": (0, 7, 4_094, 65_535),
    "number": (0.0, 2.4, 536.870912, 1_048_576.0),
    "percent": (0.0, 0.7, 0.333, 1.0),
    "length": (1, 90, 1440, 3845, 11_520),
    "yes-no": (True, False),
    "date": (dt.date(2027, 1, 14),),
    "time": (dt.time(7, 45), dt.time(0, 0)),
    "address": ("10.44.1.11",),
    "address6": ("2001:db8::11",),
    "prefix": ("10.44.1.0/24", "192.168.50.17/24"),
    "prefix6": ("2001:db8:44:1::/64",),
    "addresses": (("10.44.1.5",), ("10.44.1.5", "10.44.1.6")),
    "names": (("desk.larkfield.example", "*.larkfield.example"),),
    "ports": (("8443/tcp", "9000-9010/udp"),),
    "mac": ("00:00:5e:00:53:0b",),
    "zone": ("Europe/Vienna",),
    "text": ("release 8.2", "a, b; c"),
    "long": ("One line.\nAnother.",),
    "email": ("marsh@larkfield.example",),
    "sites": ((71,), (71, 72)),
}
EVERY = [(kind, one) for kind in f.RECORDS for one in built.fields_of(kind).values()]


def examples(kind: str, one: chapters.Field, facts: f.SiteFacts) -> list:
    default = getattr(f.RECORDS[kind](), one.name)
    if one.kind.chosen:
        keys = list(one.choices)
        if one.kind.several:
            return [default, (keys[0],), tuple(keys)]
        return [default, *(int(key) if one.name == "bits" else key for key in keys)]
    ids = [record.id for record in facts.records() if record.kind == one.to]
    if one.kind.word == "record":
        return [default, *ids]
    if one.kind.word == "records":
        return [default, (ids[0],), tuple(ids)]
    return [default, *EXAMPLES[one.kind.word]]


@pytest.mark.parametrize(("kind", "one"), EVERY, ids=lambda it: getattr(it, "name", it))
def test_every_field_reads_back_what_is_written(kind, one):
    """Also where two records have one name: their anchors tell them apart."""
    twin = dataclasses.replace(H1, id=9_999_999)
    protocol, template = make(f.Protocol, name="RDP"), make(f.Template, name="front desk")
    near = (f.Neighbour(id=71, name="Harbour Lane"), f.Neighbour(id=72, name="Back room"))
    facts = site_facts(*RECORDS, twin, protocol, template, neighbours=near)
    for value in examples(kind, one, facts):
        text = typed.written(one, value, facts)
        if possible(one, value):
            assert typed.read(kind, one, text, facts) == value, text
        else:
            with pytest.raises(ValueError, match="Give a number from"):
                typed.read(kind, one, text, facts)


def possible(one: chapters.Field, value) -> bool:
    """Whether a value lies between the bounds of its field; what is no number has none."""
    if not isinstance(value, int | float):
        return True
    low = -math.inf if one.low is None else one.low
    high = math.inf if one.high is None else one.high
    return low <= value <= high


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("mac", "nonsense"),
        ("mac", "00:00:5e:00:53"),
        ("address", "10.44.1.256"),
        ("address", "10.0.0.1/255.255.255.0"),
        ("memory_gib", "a lot"),
        ("sockets", "1.5"),
        ("state", "somewhere"),
    ],
)
def test_what_the_form_would_refuse_is_refused_here(name, text):
    with pytest.raises(ValueError, match=r"Give|is not"):
        typed.read("host", built.fields_of("host")[name], text, with_built())


@pytest.mark.parametrize(
    ("kind", "name", "text", "kept"),
    [
        ("host", "mac", "00-00-5E-00-53-0B", "00:00:5e:00:53:0b"),
        ("network", "cidr", "10.44.1.0/255.255.255.0", "10.44.1.0/24"),
        ("site", "on_site_date", "14.1.2027", dt.date(2027, 1, 14)),
        ("service", "outside_ports", "8443", ("8443/tcp",)),
    ],
)
def test_what_the_form_would_spell_otherwise_is_spelled_so_here(kind, name, text, kept):
    assert typed.read(kind, chapters.fields_of(kind)[name], text, with_built()) == kept


@given(st.floats(0, 1), st.sampled_from(["memory_gib", "clock_ghz", "rated_watts"]))
def test_any_number_reads_back_to_six_digits(share, name):
    one = built.fields_of("host")[name]
    number = one.low + share * (one.high - one.low)
    facts = with_built()
    assert typed.read("host", one, typed.written(one, number, facts), facts) == pytest.approx(
        number, abs=1e-6
    )


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("Management address", "address"),
        ("address", "address"),
        ("out_of_band_address", "out_of_band_address"),
        ("MEMORY", "memory_gib"),
        ("Memory, GiB", "memory_gib"),
        ("Cores each", "cores_per_socket"),
        ("Note", None),
        ("", None),
    ],
)
def test_a_field_is_known_by_its_label_its_heading_or_its_name(words, name):
    found = built.field_called("host", words)
    assert (found.name if found else None) == name


def test_records_are_offered_chapter_by_chapter_and_never_a_built_value():
    facts = with_built(otherwise(H1, "address", "10.44.1.13"), make(f.OwnCheck, name="x"))
    groups = {
        chapter.name: [built.record_words(one) for one in records]
        for chapter, records in built.targets(facts)
    }
    assert groups["Hosts"] == ["mill-h1 (host)", "mill-h2 (host)", "h1-local (datastore)"]
    assert groups["Networks"] == ["management (network)", "desktops (network)"]
    assert "Stages" not in groups and "Revisions and papers" not in groups
