"""Gates: what opens one, what shuts it, what opens a signed one again."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from planner.plan import Plan
from planner.record import facts as f
from tests.factories import make, plan_of, site_facts

WHEN = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)


def keys(stage: int, **values) -> list[str]:
    return [check.key for check in plan_of(**values).stages.stages[stage - 1].checks]


def answers(stage: int, state: str = "proven", **values) -> tuple[f.Answer, ...]:
    return tuple(
        f.Answer(check=key, state=state, at=WHEN, proof="seen") for key in keys(stage, **values)
    )


def but(given: tuple[f.Answer, ...], state: str, number: int = 0) -> tuple[f.Answer, ...]:
    """The answers with one of them in another state."""
    changed = dataclasses.replace(given[number], state=state)
    return (*given[:number], changed, *given[number + 1 :])


def signed(stage: int, given: tuple[f.Answer, ...], **values) -> f.Signature:
    return f.Signature(
        stage=stage,
        by="L. Reed",
        at=WHEN,
        checks=tuple(one.check for one in given),
        on_trust=tuple(one.check for one in given if one.state == "trust"),
        excused=tuple(one.check for one in given if one.state == "excused"),
        **values,
    )


def gate(stage: int, *records, purpose: str = "live", **values):
    return Plan(site_facts(*records, purpose=purpose, **values)).stages.stages[stage - 1].gate


# -- Open and shut -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("state", "purpose", "opens"),
    [
        ("proven", "live", True),
        ("excused", "live", True),
        ("trust", "live", False),
        ("failed", "live", False),
        ("open", "live", False),
        ("proven", "trial", True),
        ("excused", "trial", True),
        ("trust", "trial", True),
        ("failed", "trial", False),
        ("open", "trial", False),
    ],
)
def test_what_opens_a_gate(state, purpose, opens):
    """The five answers by purpose, as the vocabulary has them."""
    found = gate(1, *but(answers(1), state), purpose=purpose)
    assert found.state == ("open" if opens else "shut")
    assert [check.key for check in found.blocking] == ([] if opens else [answers(1)[0].check])


def test_an_open_gate_says_so():
    assert gate(1, *answers(1)).reason == "Nothing stands in the way: a lead may sign."


def test_a_shut_gate_says_what_is_in_the_way():
    given = but(but(answers(1), "failed"), "trust", 1)[:-1]
    found = gate(1, *given)
    assert found.reason == "In the way: 1 failed; 1 on trust, on a live site; 1 open."
    assert len(found.blocking) == 3


def test_what_a_signature_will_name():
    found = gate(1, *but(but(answers(1), "trust"), "excused", 1), purpose="trial")
    assert [check.key for check in found.on_trust] == [answers(1)[0].check]
    assert [check.key for check in found.excused] == [answers(1)[1].check]


def test_gates_are_signed_in_order():
    first, second = answers(1), answers(2)
    waiting = gate(2, *first, *second)
    assert (waiting.state, waiting.blocking) == ("shut", ())
    assert waiting.reason.startswith("Gate 1 comes first")
    assert gate(2, *first, *second, signed(1, first)).state == "open"


def test_a_gate_behind_one_that_reopened_waits_too():
    first, second = but(answers(1), "failed"), answers(2)
    assert gate(2, *first, *second, signed(1, first)).state == "shut"


# -- Signed and reopened -------------------------------------------------------------------------


def test_a_signed_gate_stands():
    given = answers(1)
    found = gate(1, *given, signed(1, given))
    assert (found.state, found.reason, found.signature.by) == (
        "signed",
        "Signed by L. Reed.",
        "L. Reed",
    )


def test_a_later_gate_stands_though_an_earlier_one_reopened():
    first, second = answers(1), answers(2)
    plan = plan_of(*but(first, "open"), *second, signed(1, first), signed(2, second))
    assert [stage.gate.state for stage in plan.stages.stages[:2]] == ["reopened", "signed"]
    assert plan.stages.passed == 1
    assert plan.stages.current.number == 1


def test_a_fact_that_brings_a_check_reopens_the_gate():
    """A seat group is added after the survey was signed."""
    given = answers(1)
    group = make(f.SeatGroup, name="Reception")
    found = gate(1, *given, group, signed(1, given))
    assert found.state == "reopened"
    assert [check.key for check in found.blocking] == [f"seats-known@{group.ref.anchor}"]
    assert "the plan brought 1 check that nobody signed for" in found.reason


def test_an_answer_that_changes_reopens_the_gate():
    given = answers(1)
    found = gate(1, *but(given, "failed"), signed(1, given))
    assert found.state == "reopened"
    assert "1 check changed answer since" in found.reason


def test_turning_live_reopens_what_stood_on_trust():
    given = but(but(answers(1), "trust"), "trust", 1)
    signature = signed(1, given)
    assert gate(1, *given, signature, purpose="trial").state == "signed"
    turned = gate(1, *given, signature, purpose="live")
    assert turned.state == "reopened"
    assert "2 checks held on trust while this was a trial" in turned.reason
    reopened = (
        tuple(dataclasses.replace(one, state="open", reopened=True) for one in given[:2])
        + given[2:]
    )
    again = gate(1, *reopened, signature, purpose="live")
    assert again.state == "reopened"
    assert again.reason == turned.reason


def test_a_value_that_moves_reopens_the_gate():
    """The subnet is proven and signed for; then the plan says another one."""
    network = f.Network(id=5, name="desks", cidr="10.44.40.0/24")
    key = "subnet-exists@network-5"
    given = tuple(
        dataclasses.replace(one, value="10.44.40.0/24") if one.check == key else one
        for one in (
            f.Answer(check=check.key, state="proven", at=WHEN, proof="seen")
            for check in plan_of(network).stages.stages[1].checks
        )
    )
    assert gate(2, network, *given, signed(2, given)).state == "signed"
    moved = gate(2, dataclasses.replace(network, cidr="10.44.41.0/24"), *given, signed(2, given))
    assert moved.state == "reopened"
    assert [check.key for check in moved.blocking] == [key]
    assert "1 check answered for a value that the plan has changed since" in moved.reason
    unsigned = gate(2, dataclasses.replace(network, cidr="10.44.41.0/24"), *given)
    assert (unsigned.state, unsigned.reason) == (
        "shut",
        "In the way: 1 answered for another value.",
    )


def test_a_value_that_moves_back_shuts_it_again():
    network = f.Network(id=5, name="desks", cidr="10.44.40.0/24")
    answer = f.Answer(
        check="subnet-exists@network-5", state="proven", at=WHEN, value="10.44.40.0/24"
    )
    away = plan_of(dataclasses.replace(network, cidr="10.44.41.0/24"), answer)
    assert away.stages.checks[answer.check].state == "open"
    assert plan_of(network, answer).stages.checks[answer.check].state == "proven"


def test_an_excusal_that_was_no_leads_reopens_when_the_site_turns_live():
    given = but(answers(1), "excused")
    signature = signed(1, given)
    reopened = (dataclasses.replace(given[0], state="open", reopened=True), *given[1:])
    found = gate(1, *reopened, signature)
    assert found.state == "reopened"
    assert "1 check excused while this was a trial, and not by a lead" in found.reason


def test_several_reasons_are_all_said():
    given = but(answers(1), "trust")
    group = make(f.SeatGroup, name="Reception")
    found = gate(1, *but(given, "failed", 2), group, signed(1, given))
    assert found.reason == (
        "Signed by L. Reed, and open again: the plan brought 1 check that nobody signed for; "
        "1 check held on trust while this was a trial; 1 check changed answer since."
    )


def test_what_came_and_was_answered_since_is_said_beside_a_signature():
    given = answers(1)
    group = make(f.SeatGroup, name="Reception")
    new = f.Answer(check=f"seats-known@{group.ref.anchor}", state="proven", at=WHEN, proof="seen")
    found = gate(1, *but(given, "excused"), new, group, signed(1, given))
    assert found.state == "signed"
    assert found.reason == "Signed by L. Reed. 2 checks came or changed answer since."


def test_a_fact_that_takes_a_check_away_leaves_the_gate_signed():
    group = make(f.SeatGroup, name="Reception")
    given = (
        *answers(1),
        f.Answer(check=f"seats-known@{group.ref.anchor}", state="proven", at=WHEN),
    )
    found = gate(1, *given, signed(1, given))
    assert found.state == "signed"


def test_the_newest_signature_counts():
    given = answers(1)
    old = dataclasses.replace(signed(1, given), by="Old", at=dt.datetime(2026, 1, 1))
    assert gate(1, *given, signed(1, given), old).signature.by == "L. Reed"


def test_all_gates_signed_is_the_end():
    given = {stage: answers(stage) for stage in range(1, 9)}
    everything = [one for found in given.values() for one in found]
    stages = plan_of(*everything, *(signed(stage, found) for stage, found in given.items())).stages
    assert stages.passed == 8
    assert stages.current is None
    assert stages.fullness == 1.0
