"""Whatever a site's facts are, its stages are worked out, and every finding of them is written."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings

from planner.plan import Plan
from planner.record.choices import AnswerState
from planner.review.base import RULES, entries
from planner.stages import read
from tests.shares import share
from tests.stages.odd import facts

KEYS = [
    *list(read().checks)[:40],
    "host-reachable@host-1",
    "host-reachable@host-2",
    "own@owncheck-1",
    "gone@host-9",
]
GROUPS = ("brief", "credentials", "directory", "service", "stages")


@settings(max_examples=share(50, of=150), deadline=None, suppress_health_check=list(HealthCheck))
@given(facts(KEYS))
def test_nothing_is_ever_raised(odd):
    stages = Plan(odd).stages
    assert len(stages.stages) == 8
    for stage in stages.stages:
        assert sum(stage.counts.values()) == stage.total == len(stage.checks)
        assert set(stage.counts) == set(AnswerState)
        assert stage.gate.state in ("open", "shut", "signed", "reopened")
        assert stage.gate.reason
        assert (stage.gate.state == "reopened") == bool(
            stage.gate.signature and stage.gate.blocking
        )
    answered = {answer.check for answer in odd.answers}
    shown = {key for key, check in stages.checks.items() if check.state != "open"} | {
        check.key for check in stages.gone
    }
    assert shown <= answered
    for step in stages.steps.values():
        assert step.title and step.do and step.minutes[0] <= step.minutes[1] <= step.minutes[2]
        assert all(key in stages.steps for key in step.after)


@settings(max_examples=share(50, of=150), deadline=None, suppress_health_check=list(HealthCheck))
@given(facts(KEYS))
def test_no_finding_of_these_groups_ever_fails(odd):
    plan = Plan(odd)
    for key, function in RULES.items():
        if function.__module__.rpartition(".")[2] in GROUPS:
            entry = entries()[key]
            for hit in function(plan):
                for words in (entry.title, entry.text, entry.mend if hit.mend else ""):
                    assert isinstance(words.format(**hit.words), str)
