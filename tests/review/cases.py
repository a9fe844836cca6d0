"""One case a rule: what raises it, what does not, and where it points."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from planner.review.base import RULES
from tests.factories import raised


@dataclass
class Case:
    """One rule: ``yes`` and ``no`` are records of a site; ``at`` is the field the rule points at.

    Where ``no`` holds the site, the directory or the service more than once, each is a site of its own
    with the other records. ``says`` stands in the finding's words; ``trial`` says whether the rule
    speaks up at a trial as well.
    """

    key: str
    yes: list
    no: list
    at: str = ""
    says: str = ""
    trial: bool = True

    def check(self) -> None:
        found = raised(self.key, *_with_purpose(self.yes, "live"))
        assert found, "not raised"
        assert found[0].at.field == self.at
        assert self.says in f"{found[0].title} {found[0].text}"
        for records in _apart(self.no):
            assert not raised(self.key, *_with_purpose(records, "live")), (
                "raised where it should not be"
            )
        assert (
            bool(raised(self.key, *_with_purpose(self.yes, "trial"), purpose="trial")) is self.trial
        )


def _with_purpose(records: list, purpose: str) -> list:
    return [
        dataclasses.replace(one, purpose=purpose) if one.kind == "site" else one for one in records
    ]


def _apart(records: list) -> list[list]:
    single = [one for one in records if one.kind in ("site", "directory", "service")]
    if len(single) == len({one.kind for one in single}):
        return [records]
    return [[one, *(other for other in records if other not in single)] for one in single]


def rules_of(*modules: str) -> set[str]:
    """The keys of every rule in these modules of the review."""
    return {key for key, rule in RULES.items() if rule.__module__.rpartition(".")[2] in modules}
