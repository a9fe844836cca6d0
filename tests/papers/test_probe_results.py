"""Results of the probe: what is read, what is refused, and what becomes of a check."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.papers.probe import Unreadable, preview, probe_of, read_results, read_run
from planner.papers.probe.preview import EVIDENCE
from planner.papers.probe.results import MOST_BYTES
from planner.plan import Plan
from tests.papers.demo_facts import demo

TODAY = dt.date(2026, 9, 1)
PLAN = Plan(dataclasses.replace(demo("harbour"), today=TODAY))
PROBE = probe_of(PLAN)
PLACES = {place.network.name: id for id, place in PROBE.places.items()}
ADDRESSES = {"rooms": "10.45.20.141", "desktops": "10.45.40.77", "management": "10.45.1.90"}


def results(place: str = "rooms", state: str = "ok", states: dict | None = None, **changed) -> dict:
    """A file as the script writes it, every question answered alike but those in ``states`` (by kind)."""
    tasks = PROBE.by_network[PLACES[place]]
    made = {
        "format": "deskwright probe results 1",
        "customer": "larkfield",
        "site": "harbour",
        "fingerprint": PLAN.fingerprint,
        "network": PLACES[place],
        "network_name": place,
        "began": "2026-09-01T13:10:00Z",
        "ended": "2026-09-01T13:12:00Z",
        "machine": {"address": ADDRESSES[place], "prefix": 24, "leased": True, "system": "linux"},
        "results": [
            {
                "id": task.id,
                "asked": task.words,
                "state": (states or {}).get(task.kind, state),
                "seen": "as it was seen",
                "ms": 3,
            }
            for task in tasks
        ],
    }
    return {**made, **changed}


def content(*arguments, **words) -> bytes:
    return json.dumps(results(*arguments, **words)).encode()


def states(*contents: bytes) -> dict[str, str]:
    found = preview(PLAN, PROBE, [read_run(one, PLAN, PROBE) for one in contents])
    return {verdict.check.key.partition("@")[0]: verdict.state for verdict in found.verdicts}


# -- reading -------------------------------------------------------------------------------------


def test_a_good_file_is_read_as_it_stands():
    run = read_run(content(), PLAN, PROBE)
    assert (run.network_name, run.address, run.fingerprint, run.inside) == (
        "rooms",
        "10.45.20.141",
        PLAN.fingerprint,
        True,
    )
    assert run.ended == dt.datetime(2026, 9, 1, 13, 12, tzinfo=dt.UTC)
    assert (
        not run.warnings
        and run.unknown == 0
        and len(run.seen) == len(PROBE.by_network[PLACES["rooms"]])
    )
    assert run.told.startswith(
        "Probe from rooms (10.45.20.141), 2026-09-01 13:12 UTC by its own clock"
    )


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"format": "something else"}, "no results file"),
        ({"site": "mill"}, "another site (larkfield/mill)"),
        ({"customer": "other"}, "another site"),
        ({"network": 4711}, "not in the plan"),
        ({"network": True}, "not in the plan"),
        ({"network": "9"}, "not in the plan"),
        ({"fingerprint": "abc"}, "no fingerprint"),
        ({"fingerprint": None}, "“fingerprint”"),
        ({"began": "yesterday"}, "no time"),
        ({"ended": "2026-13-01T00:00:00Z"}, "no time"),
        ({"machine": {}}, "address of the machine"),
        ({"machine": {"address": "::1"}}, "address of the machine"),
        ({"machine": None}, "address of the machine"),
        ({"results": {}}, "list of results"),
        ({"results": [{}] * 4000}, "list of results"),
        ({"results": ["x"]}, "A result"),
        ({"results": [{"id": "zz", "state": "ok", "seen": ""}]}, "A result"),
        ({"results": [{"id": "0" * 12, "state": "perfect", "seen": ""}]}, "A result"),
        ({"results": [{"id": "0" * 12, "state": "ok", "seen": 3}]}, "“seen”"),
        ({"results": [{"id": "0" * 12, "state": "ok", "seen": "x" * 2001}]}, "“seen”"),
        ({"results": [{"id": "0" * 12, "state": "ok", "seen": ""}] * 2}, "A result"),
        ({"results": [{"id": "0" * 12, "state": "ok", "seen": "", "value": []}]}, "“value”"),
    ],
)
def test_anything_else_is_refused_with_a_reason(changed, said):
    with pytest.raises(Unreadable) as seen:
        read_run(content(**changed), PLAN, PROBE)
    assert said in str(seen.value)


ODD = [
    b"",
    b"{",
    b"[]",
    b"3",
    b"\xff\xfe",
    b'{"a": NaN}',
    b'{"a":1,"a":2}',
    b"[" * 100_000,
    b"9" * 5000,
    b" " * (MOST_BYTES + 1),
]


@pytest.mark.parametrize("odd", ODD, ids=range(len(ODD)))
def test_what_is_no_json_is_refused(odd):
    with pytest.raises(Unreadable, match="file"):
        read_run(odd, PLAN, PROBE)


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
)


@settings(max_examples=150, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from([*results()]),
        ANYTHING,
        max_size=4,
    )
)
def test_whatever_stands_in_it_nothing_else_is_raised(changed):
    try:
        run = read_run(content(**changed), PLAN, PROBE)
    except Unreadable:
        return
    preview(PLAN, PROBE, [run])


def test_texts_of_a_file_are_kept_as_one_clean_line():
    made = results()
    made["results"][0]["seen"] = "a\x1b[2J\nb\N{RIGHT-TO-LEFT OVERRIDE}c <script>" + "x" * 900
    [seen] = [
        one
        for one in read_run(json.dumps(made).encode(), PLAN, PROBE).seen.values()
        if "script" in one.seen
    ]
    assert seen.seen.isprintable() and seen.seen.startswith("a [2J b c") and len(seen.seen) <= 320
    kept = read_run(json.dumps(made).encode(), PLAN, PROBE).kept(PROBE)
    assert b"<" not in kept and json.loads(kept)["network"] == "rooms"


# -- warnings ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"fingerprint": "0000-0000"}, "The plan has moved since this was taken (0000-0000"),
        (
            {"results": [{"id": "0" * 12, "state": "ok", "seen": ""}]},
            "1 of its results answer questions",
        ),
        ({"ended": "2026-08-01T00:00:00Z", "began": "2026-08-01T00:00:00Z"}, "31 days ago"),
        ({"ended": "2026-09-09T00:00:00Z"}, "in the future"),
        ({"began": "2026-09-01T14:00:00Z"}, "before it began"),
        ({"machine": {"address": "192.168.1.7"}}, "192.168.1.7 is not in rooms"),
    ],
)
def test_what_a_person_should_know_first(changed, said):
    [warning] = read_results(content(**changed), PLAN).warnings
    assert said in warning


def test_nothing_counts_that_was_asked_from_elsewhere():
    assert states(content(machine={"address": "192.168.1.7"})) == {}


def test_answers_of_an_older_plan_count_where_the_question_is_still_the_same():
    service = dataclasses.replace(PLAN.facts.service, address="10.45.1.33")
    moved = Plan(dataclasses.replace(PLAN.facts, service=service))
    found = read_results(content(), moved)
    assert found.unknown == 4 and "plan has moved" in found.warnings[0]
    assert [one.check.key.partition("@")[0] for one in found.verdicts] == [
        "subnet-exists",
        "display-port-answers",
    ]


# -- verdicts ------------------------------------------------------------------------------------


def test_proven_takes_every_question():
    assert (
        states(content())["subnet-exists"] == states(content())["entry-name-resolves"] == "proven"
    )
    assert states(content(states={"answers": "failed"}))["subnet-exists"] == "failed"
    assert states(content(states={"answers": "could not tell"}))["subnet-exists"] == "part"
    assert states(content(state="could not tell"))["subnet-exists"] == "untold"


def test_a_check_of_several_networks_waits_for_all_of_them():
    found = read_results(content(), PLAN).by_check["certificate-installed"]
    assert found.state == "part" and found.left == ("2 questions not asked yet, from management",)
    assert states(content(), content("management"))["certificate-installed"] == "proven"
    assert (
        states(content(), content("management", states={"certificate": "failed"}))[
            "certificate-installed"
        ]
        == "failed"
    )


def test_what_is_left_to_a_person_keeps_a_check_from_being_proven():
    files = [content(network) for network in PLACES]
    found = preview(PLAN, PROBE, [read_run(one, PLAN, PROBE) for one in files]).by_check
    assert found["flows-open"].state == "part" and found["flows-open"].completable
    assert any("by UDP" in one for one in found["flows-open"].left)
    display = next(one for key, one in found.items() if key.startswith("display-port"))
    assert display.state == "part" and not display.completable  # it wants a photo


def test_an_offer_is_enough_and_a_lease_alone_is_not():
    assert (
        states(content("desktops", states={"lease": "could not tell"}))["dhcp-answers"] == "proven"
    )
    assert states(content("desktops", states={"offer": "could not tell"}))["dhcp-answers"] == "part"
    assert states(content("desktops", states={"lease": "failed"}))["dhcp-answers"] == "failed"


def test_of_two_answers_the_later_counts():
    early = content(states={"answers": "failed"}, ended="2026-09-01T13:11:00Z")
    assert (
        states(content(), early)["subnet-exists"]
        == states(early, content())["subnet-exists"]
        == "proven"
    )


def test_evidence_says_where_when_and_what():
    found = read_results(content(states={"name": "failed"}), PLAN).by_check["entry-name-resolves"]
    lines = found.evidence.splitlines()
    assert (
        lines[0]
        == f"Probe from rooms (10.45.20.141), 2026-09-01 13:12 UTC by its own clock, plan {PLAN.fingerprint}."
    )
    assert lines[1] == "Not so:" and all(
        "harbour.larkfield.example" in one and "as it was seen" in one for one in lines[2:]
    )


def test_evidence_of_many_flows_is_short_and_whole():
    files = [content(network) for network in PLACES]
    evidence = (
        preview(PLAN, PROBE, [read_run(one, PLAN, PROBE) for one in files])
        .by_check["flows-open"]
        .evidence
    )
    assert "- from desktops: dc-3 (10.45.1.5): UDP 53, TCP 53, TCP 88" in evidence
    for task in PROBE.by_check["flows-open"]:
        line = next(
            one
            for one in evidence.splitlines()
            if task.whom in one and f"from {_name(task)}:" in one
        )
        assert task.what in line


def _name(task) -> str:
    return PROBE.places[task.network_id].network.name


def test_evidence_fits_a_proof():
    plan = Plan(demo("large"))
    probe = probe_of(plan)
    id = max(probe.by_network, key=lambda one: len(probe.by_network[one]))
    place = probe.places[id]
    made = results()
    made |= {
        "site": plan.facts.site.code,
        "customer": plan.facts.customer_code,
        "network": id,
        "machine": {"address": place.network.gateway},
    }
    for state in ("ok", "failed", "could not tell"):
        made["results"] = [
            {"id": task.id, "state": state, "seen": "x" * 300} for task in probe.by_network[id]
        ]
        found = preview(plan, probe, [read_run(json.dumps(made).encode(), plan, probe)])
        assert found.verdicts and all(len(one.evidence) <= EVIDENCE for one in found.verdicts)


def test_a_check_that_wants_a_value_gets_what_was_read():
    made = results("desktops")
    for one in made["results"]:
        if "offer addresses" in one["asked"]:
            one["value"] = "10.45.40.81 from 10.45.1.5"
    found = read_results(json.dumps(made).encode(), PLAN).by_check
    [verdict] = [one for key, one in found.items() if key.startswith("dhcp-answers")]
    assert verdict.measured == "10.45.40.81 from 10.45.1.5"
    assert all(one.measured == "" for one in found.values() if one.check.wants != "value")
