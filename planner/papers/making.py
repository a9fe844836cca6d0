"""Heavy papers from facts alone: what the press (:mod:`planner.serving.press`) is asked for."""

from __future__ import annotations

import dataclasses
from typing import Any

from planner import work_out
from planner.comparing.as_built import as_built
from planner.papers.book import build_book
from planner.papers.sheets.files import imprint, workbook_sheets, write_xlsx
from planner.plan import Plan
from planner.record.facts import SiteFacts


@dataclasses.dataclass(frozen=True)
class Ground:
    """What a paper is made from: a site's facts, and the plan's fingerprint as it was frozen or read."""

    facts: SiteFacts
    fingerprint: str

    @classmethod
    def of(cls, plan: Plan) -> Ground:
        return cls(plan.facts, plan.fingerprint)

    def plan(self) -> Plan:
        made = work_out(self.facts)
        made.fingerprint = self.fingerprint
        return made


def book(ground: Ground, edition: dict[str, Any]) -> bytes:
    """The build book; ``edition`` as :func:`planner.papers.book.build_book` has it."""
    return build_book(ground.plan(), **edition)


def workbook(ground: Ground, letter: str, counters: dict[str, int]) -> bytes:
    """The workbook of all sheets, as XLSX."""
    plan = ground.plan()
    mine = imprint(plan, revision=letter)
    return write_xlsx(workbook_sheets(plan, mine, counters), mine)


def handover(ground: Ground, edition: dict[str, Any]) -> tuple[bytes, bytes]:
    """The build book, and the sheets as everything was built."""
    plan = ground.plan()
    built = work_out(as_built(plan.facts))
    built.fingerprint = plan.fingerprint  # of the plan that it was built from
    mine = imprint(plan)
    return build_book(plan, **edition), write_xlsx(workbook_sheets(built, mine, {}), mine)
