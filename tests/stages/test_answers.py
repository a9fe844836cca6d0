"""Rules about giving an answer, and which answer counts."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.facts import Answer
from planner.stages.answers import after_purpose_change, newest, refusal
from planner.stages.results import STATES
from tests.factories import plan_of

CHECKS = plan_of().stages.checks
ANYBODYS, LEADS = CHECKS["scope-agreed"], CHECKS["signed-by-both"]


def test_the_two_kinds_of_check_used_here():
    assert (ANYBODYS.who, LEADS.who) == ("editor", "lead")


@pytest.mark.parametrize(("state", "proof", "role", "live", "refused"), [
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
])  # fmt: skip
def test_who_may_say_what(state, proof, role, live, refused):
    said = refusal(ANYBODYS, state, proof, role, live)
    assert refused in said
    assert bool(said) == bool(refused)


def test_a_leads_check_is_for_a_lead():
    assert "Only a lead" in refusal(LEADS, "proven", "signed page", "editor", False)
    assert refusal(LEADS, "proven", "signed page", "lead", True) == ""


@given(state=st.sampled_from(STATES), proof=st.text(max_size=5), live=st.booleans())
def test_a_lead_is_refused_for_a_missing_proof_only(state, proof, live):
    said = refusal(LEADS, state, proof, "lead", live)
    assert bool(said) == (state in ("proven", "failed", "excused") and not proof.strip())


def test_turning_live_opens_what_was_on_trust():
    at = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
    given = [Answer(check=state, state=state, at=at) for state in STATES]
    mended = [
        Answer(check="mended", state="trust", at=at),
        Answer(check="mended", state="proven", at=at + dt.timedelta(hours=1)),
    ]
    assert [one.check for one in after_purpose_change([*given, *mended])] == ["trust"]


def test_the_newest_answer_of_each_check():
    early, late = (
        dt.datetime(2026, 3, 1, 9, tzinfo=dt.UTC),
        dt.datetime(2026, 3, 1, 8, tzinfo=dt.timezone(dt.timedelta(hours=-5))),
    )
    given = [Answer(check="a", state="proven", at=late), Answer(check="a", state="failed", at=early), Answer(check="a")]
    assert newest(given)["a"].state == "proven"  # 8 o'clock at UTC-5 is 13 UTC


def test_moments_with_and_without_a_zone_can_be_compared():
    given = [Answer(check="a", state="proven", at=dt.datetime(2026, 3, 1)),
             Answer(check="a", state="failed", at=dt.datetime(2026, 3, 2, tzinfo=dt.UTC)),
             Answer(check="a", state="trust")]  # fmt: skip
    assert newest(given)["a"].state == "failed"


def test_of_two_at_the_same_moment_the_later_in_the_list_counts():
    at = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
    given = [Answer(check="a", state="proven", at=at), Answer(check="a", state="failed", at=at)]
    assert newest(given)["a"].state == "failed"


def test_a_state_that_is_none_counts_as_open():
    assert newest([Answer(check="a", state="yes")])["a"].state == "open"
