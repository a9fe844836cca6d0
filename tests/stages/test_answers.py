"""Rules about giving an answer, and which answer counts."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.record import facts as f
from planner.record.choices import AnswerState
from planner.record.facts import Answer
from planner.stages.answers import Given, newest, number_in, opens_again_when_live, outside, refusal
from tests.factories import make, plan_of

CHECKS = plan_of().stages.checks
ANYBODYS, LEADS = CHECKS["scope-agreed"], CHECKS["signed-by-both"]


def test_the_two_kinds_of_check_used_here():
    assert (ANYBODYS.who, LEADS.who) == ("editor", "lead")


@pytest.mark.parametrize(
    ("state", "proof", "role", "live", "refused"),
    [
        ("proven", "read aloud to A. Marsh", "editor", True, ""),
        ("proven", "", "editor", True, "looked at"),
        ("proven", "  \n ", "lead", False, "looked at"),
        ("failed", "the door is 70 cm", "editor", True, ""),
        ("failed", "", "editor", False, "what you saw"),
        ("trust", "", "editor", False, ""),
        ("trust", "", "editor", True, ""),
        ("excused", "no tills here", "editor", False, ""),
        ("excused", "", "editor", False, "reason"),
        ("excused", "no tills here", "editor", True, "only a lead"),
        ("excused", "no tills here", "lead", True, ""),
        ("excused", "", "lead", True, "reason"),
        ("open", "", "editor", True, ""),
        ("proven", "seen", "reader", False, "reader"),
        ("open", "", "reader", False, "reader"),
        ("proven", "seen", "", False, "reader"),
        ("done", "seen", "lead", False, "five answers"),
    ],
)
def test_who_may_say_what(state, proof, role, live, refused):
    said = refusal(ANYBODYS, state, Given(proof), role, live)
    assert refused in said
    assert bool(said) == bool(refused)


def test_a_leads_check_is_for_a_lead():
    signed = Given("signed page", files=1)
    assert "Only a lead" in refusal(LEADS, "proven", signed, "editor", False)
    assert refusal(LEADS, "proven", signed, "lead", True) == ""


@given(state=st.sampled_from(AnswerState), proof=st.text(max_size=5), live=st.booleans())
def test_a_lead_is_refused_for_a_missing_proof_only(state, proof, live):
    said = refusal(ANYBODYS, state, Given(proof), "lead", live)
    assert bool(said) == (state in ("proven", "failed", "excused") and not proof.strip())


# -- each check its own kind of proof ------------------------------------------------------------

HOST = make(f.Host, name="mill-h1", address="10.44.0.11")
OF_HOST = plan_of(HOST).stages.checks
NOTE, PHOTO, PROBE = (
    CHECKS["scope-agreed"],
    CHECKS["room-seen"],
    OF_HOST[f"host-address-free@{HOST.ref.anchor}"],
)
VALUE, RANGE = CHECKS["review-date-set"], CHECKS["clocks-agree"]


def test_the_five_kinds_used_here():
    assert [one.wants for one in (NOTE, PHOTO, PROBE, VALUE, RANGE)] == [
        "note",
        "photo",
        "probe",
        "value",
        "value",
    ]
    assert (VALUE.unit, RANGE.unit, RANGE.low, RANGE.high, RANGE.range_words) == (
        "",
        "s",
        0,
        5,
        "0 to 5 s",
    )


@pytest.mark.parametrize(
    ("check", "given", "refused"),
    [
        (NOTE, Given(files=2), "needs a proof"),
        (NOTE, Given(measured="14"), "needs a proof"),
        (NOTE, Given("read aloud"), ""),
        (PHOTO, Given("I was there, honestly"), "photo"),
        (PHOTO, Given(files=1), ""),
        (PROBE, Given(), "what answered"),
        (PROBE, Given("no answer at 14:12"), ""),
        (PROBE, Given(probes=1), ""),
        (PROBE, Given(files=1), ""),
        (VALUE, Given("next spring"), "value"),
        (VALUE, Given(measured="15 December"), ""),
        (RANGE, Given("all agree"), "in s"),
        (RANGE, Given(measured="fine"), "not a number in s"),
        (RANGE, Given(measured="4 min"), "not a number in s"),
        (RANGE, Given(measured="0,9"), ""),
        (RANGE, Given(measured="0.9 S"), ""),
        (RANGE, Given(measured="5"), ""),
        (RANGE, Given(measured="5.1"), "failed, not proven"),
        (RANGE, Given(measured="-1"), "failed, not proven"),
        (RANGE, Given(measured="9" * 400), "not a number"),
    ],
)
def test_proven_takes_the_proof_that_the_check_wants(check, given, refused):
    said = refusal(check, "proven", given, "lead", True)
    assert refused in said
    assert bool(said) == bool(refused)


@pytest.mark.parametrize("check", [NOTE, PHOTO, PROBE, VALUE, RANGE])
def test_failed_takes_anything_that_was_seen(check):
    for seen in (Given("not so"), Given(measured="999"), Given(files=1), Given(probes=1)):
        assert refusal(check, "failed", seen, "editor", True) == ""
    assert "what you saw" in refusal(check, "failed", Given(" "), "editor", True)


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("300", 300.0),
        ("300 s", 300.0),
        (" 1,5s ", 1.5),
        ("−2", -2.0),
        ("-2 s", -2.0),
        ("1,200", 1200.0),
        ("", None),
        ("s", None),
        ("3 h", None),
        ("--3", None),
        ("nan", None),
        ("inf", None),
        ("3 s 4 s", None),
    ],
)
def test_a_typed_number_in_the_checks_unit(typed, number):
    assert number_in(RANGE, typed) == number


@pytest.mark.parametrize(
    ("low", "high", "typed", "out"),
    [
        (18, 27, "17.9", True),
        (18, 27, "18", False),
        (18, 27, "27", False),
        (18, 27, "27.1", True),
        (18, 27, "24.1 °C", False),
        (18, 27, "24.1 °c", False),
        (None, 300, "-5", False),
        (None, 300, "301", True),
        (25, None, "24", True),
        (25, None, "25", False),
        (None, None, "1000000", False),
        (18, 27, "warm", False),
    ],
)
def test_the_ends_of_a_range_are_allowed(low, high, typed, out):
    """Source: ASHRAE TC 9.9, Thermal Guidelines (recommended inlet 18 to 27 °C), as the check cites it."""
    unit = "°C" if low == 18 else "s"
    assert outside(dataclasses.replace(RANGE, low=low, high=high, unit=unit), typed) is out


@given(
    typed=st.text(max_size=20), measured=st.text(max_size=20), state=st.sampled_from(AnswerState)
)
def test_whatever_is_typed_is_answered_in_words(typed, measured, state):
    for check in (NOTE, PHOTO, PROBE, VALUE, RANGE):
        assert isinstance(refusal(check, state, Given(typed, measured), "lead", True), str)


# -- turning live --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("state", "by_lead", "opens"),
    [
        ("trust", True, True),
        ("trust", False, True),
        ("excused", True, False),
        ("excused", False, True),
        ("proven", False, False),
        ("failed", False, False),
        ("open", False, False),
    ],
)
def test_turning_live_opens_trust_and_excusals_by_others_than_leads(state, by_lead, opens):
    assert opens_again_when_live(state, by_lead) is opens


# -- the value it was given for ------------------------------------------------------------------


def host_check(value: str | None, state: str = "proven", now: str = "10.44.0.11"):
    """The reachability check of a host whose address is ``now``, answered when it was ``value``."""
    host = f.Host(id=7, name="mill-h1", address=now)
    answer = Answer(
        check="host-reachable@host-7",
        state=state,
        value=value,
        at=dt.datetime(2026, 3, 1),
        proof="seen",
    )
    return plan_of(host, answer).stages.checks["host-reachable@host-7"]


@pytest.mark.parametrize(
    ("value", "state", "moved"),
    [
        ("10.44.0.11", "proven", False),
        ("10.44.0.12", "proven", True),
        ("10.44.0.12", "trust", True),
        ("10.44.0.12", "failed", False),
        ("10.44.0.12", "excused", False),
        ("10.44.0.12", "open", False),
        (None, "proven", False),
        ("", "proven", True),
    ],
)
def test_an_answer_for_another_value_is_open_again(value, state, moved):
    found = host_check(value, state)
    assert found.moved is moved
    assert found.state == ("open" if moved else state)
    assert found.answer.state == state  # what was said stays


def test_what_has_moved_is_said_with_both_values():
    assert (
        host_check("10.44.0.12").moved_words
        == "proven for 10.44.0.12, the plan says 10.44.0.11 now"
    )
    assert (
        host_check("").moved_words
        == "proven before the plan had a value, the plan says 10.44.0.11 now"
    )
    assert (
        host_check("10.44.0.12", now="").moved_words
        == "proven for 10.44.0.12, the plan says nothing now"
    )
    assert host_check("10.44.0.12", "trust").moved_words.startswith("on trust for 10.44.0.12")
    assert host_check("10.44.0.11").moved_words == ""


def test_a_check_that_is_no_longer_asked_keeps_its_answer():
    answer = Answer(check="host-reachable@host-9", state="proven", value="10.44.0.12", proof="seen")
    (gone,) = plan_of(answer).stages.gone
    assert (gone.state, gone.moved) == ("proven", False)


# -- which answer counts -------------------------------------------------------------------------


def test_the_newest_answer_of_each_check():
    early, late = (
        dt.datetime(2026, 3, 1, 9, tzinfo=dt.UTC),
        dt.datetime(2026, 3, 1, 8, tzinfo=dt.timezone(dt.timedelta(hours=-5))),
    )
    given = [
        Answer(check="a", state="proven", at=late),
        Answer(check="a", state="failed", at=early),
        Answer(check="a"),
    ]
    assert newest(given)["a"].state == "proven"  # 8 o'clock at UTC-5 is 13 UTC


def test_moments_with_and_without_a_zone_can_be_compared():
    given = [
        Answer(check="a", state="proven", at=dt.datetime(2026, 3, 1)),
        Answer(check="a", state="failed", at=dt.datetime(2026, 3, 2, tzinfo=dt.UTC)),
        Answer(check="a", state="trust"),
    ]
    assert newest(given)["a"].state == "failed"


def test_of_two_at_the_same_moment_the_later_in_the_list_counts():
    at = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
    given = [Answer(check="a", state="proven", at=at), Answer(check="a", state="failed", at=at)]
    assert newest(given)["a"].state == "failed"


def test_a_state_that_is_none_counts_as_open():
    assert newest([Answer(check="a", state="yes")])["a"].state == "open"
