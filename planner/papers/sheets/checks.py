"""The checks of a site with their answers."""

from __future__ import annotations

from planner.papers.sheets.parts import Column, ColumnKind, Sheet, Value
from planner.plan import Plan
from planner.record.choices import AnswerState
from planner.stages.results import SiteCheck

COLUMNS = (
    Column("No.", width=7),
    Column("Stage", width=12),
    Column("What must be true", width=50),
    Column("Answer", width=12),
    Column("By", width=18),
    Column("On", ColumnKind.DATE, 12),
    Column("Proof or reason", width=40),
    Column("Why", width=40),
    Column("How to see it", width=40),
    Column("What counts as proof", width=30),
    Column("May answer", width=12),
)
GONE = "no longer applies"


def check_sheet(plan: Plan) -> Sheet:
    """Every check that applies, stage by stage; then answered ones that no longer do."""
    stages = {stage.number: stage.name for stage in plan.stages.stages}
    rows = [_row(check, stages.get(check.stage, "")) for check in plan.stages.checks.values()]
    rows += [_row(check, GONE) for check in plan.stages.gone]
    return Sheet("Checks", "Checks: what must be true before each gate opens", COLUMNS, tuple(rows))


def _row(check: SiteCheck, stage: str) -> tuple[Value, ...]:
    answer = check.answer
    return (
        check.number,
        stage,
        check.title,
        AnswerState.words_of(answer.state),
        answer.by,
        answer.at.date() if answer.at else None,
        answer.proof,
        check.why,
        check.how,
        check.proof,
        check.who,
    )
