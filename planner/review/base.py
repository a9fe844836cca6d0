"""What a finding is, and how a rule is written.

A rule is one small generator over the plan; its words, weights and source stand in
``fixtures/catalogue/findings/*.toml`` under the same key::

    @rule("host-memory-unknown")
    def memory_unknown(plan):
        for host in plan.facts.hosts:
            if host.memory_gib is None:
                yield Hit(host.ref.at("memory_gib"), host=host.label)

    ["host-memory-unknown"]
    chapter = 3
    trial = "concern"          # stopper | concern | remark | "" (not raised)
    live = "stopper"
    title = "{host}: memory is not known"
    text = "Nothing can be placed on a host whose memory nobody wrote down."
    why = "What fits on the host follows from its memory."
    source = "common practice, no source"
    mend = "Set it to {value}"  # the button's words, only where the rule gives a mend
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Annotated, Any

from planner.catalogue import files as catalogue
from planner.record.choices import Choice
from planner.record.facts import Acceptance, Ref
from planner.stages.staged import Staged


class Weight(Choice):
    """The heaviest first."""

    STOPPER = "stopper", "Stopper"
    CONCERN = "concern", "Concern"
    REMARK = "remark", "Remark"


WEIGHTS = tuple(Weight)
MARKS = {Weight.STOPPER: "‡", Weight.CONCERN: "†", Weight.REMARK: "*"}


@dataclass(frozen=True, slots=True)
class Mend:
    """What the tool can do itself: set fields of one record, as if a person typed ``values``.

    ``record`` is the record; ``values`` are (field, text as typed) pairs; ``words`` (filled by the
    review from the catalogue) is what the button says.
    """

    record: Ref
    values: tuple[tuple[str, str], ...]
    words: str = ""


class Hit:
    """What a rule yields: where, the numbers for the words, perhaps a mend, perhaps other places.

    ``also`` are further records it speaks of; their fields bear the mark too.
    ``twin`` tells apart several hits of one rule at one place (in the finding's token).
    """

    __slots__ = ("also", "at", "mend", "twin", "words")

    def __init__(
        self,
        at: Ref,
        *,
        mend: Mend | None = None,
        also: tuple[Ref, ...] = (),
        twin: str = "",
        **words: Any,
    ):
        self.at, self.mend, self.also, self.twin, self.words = at, mend, also, twin, words


@dataclass(frozen=True, slots=True)
class Finding:
    """Something the engine noticed, ready to be shown. ``chapter`` is where it is shown."""

    key: str
    chapter: int
    weight: Weight
    at: Ref
    title: str
    text: str
    why: str
    source: str
    mend: Mend | None = None
    also: tuple[Ref, ...] = ()
    twin: str = ""
    acceptance: Acceptance | None = None

    @property
    def token(self) -> str:
        """Names this finding from one computation to the next: rule, record, field."""
        parts = (self.key, self.at.anchor, self.at.field, self.twin)
        return ":".join(part for part in parts if part)

    @property
    def mark(self) -> str:
        return MARKS[self.weight]

    @property
    def accepted(self) -> bool:
        return self.acceptance is not None


@dataclass(frozen=True, slots=True)
class Entry:
    """One finding's entry in the catalogue."""

    key: str
    chapter: int
    trial: Annotated[str, Weight]
    live: Annotated[str, Weight]
    title: str
    text: str
    why: str
    source: str
    mend: str = ""


Rule = Callable[["Staged"], Iterator[Hit]]
RULES: dict[str, Rule] = {}


def rule(key: str) -> Callable[[Rule], Rule]:
    """Registers a rule under its key in the catalogue."""

    def register(function: Rule) -> Rule:
        if key in RULES:
            raise catalogue.CatalogueError(f"findings: two rules for {key}")
        RULES[key] = function
        return function

    return register


@functools.cache
def entries() -> dict[str, Entry]:
    """The catalogue's findings by key. Raises CatalogueError when an entry is not whole."""
    found = {}
    for key, values in catalogue.load("findings").items():
        try:
            entry = Entry(key=key, **values)
        except TypeError as error:
            raise catalogue.CatalogueError(f"findings: {key}: {error}") from error
        if {entry.trial, entry.live} - {*WEIGHTS, ""} or not 0 <= entry.chapter <= 11:
            raise catalogue.CatalogueError(f"findings: {key}: weight or chapter not allowed")
        found[key] = entry
    return found


@dataclass(frozen=True, slots=True)
class Review:
    """All findings of a plan: heaviest first, then by chapter."""

    findings: tuple[Finding, ...] = field(default=())

    def of_chapter(self, chapter: int) -> list[Finding]:
        return [finding for finding in self.findings if finding.chapter == chapter]

    def open(self, weight: str = "") -> list[Finding]:
        """Findings nobody accepted, of one weight or of all."""
        return [f for f in self.findings if not f.accepted and weight in ("", f.weight)]

    def heaviest(self, chapter: int) -> str:
        """The heaviest open weight in a chapter, or ""."""
        found = {f.weight for f in self.findings if f.chapter == chapter and not f.accepted}
        return next((weight for weight in WEIGHTS if weight in found), "")

    def get(self, token: str) -> Finding | None:
        return next((finding for finding in self.findings if finding.token == token), None)


def review(plan: Staged) -> Review:
    """Runs every rule over the plan. An acceptance holds until its day to look again has come."""
    live = plan.facts.site.live
    accepted = {a.finding: a for a in plan.facts.acceptances if not _due(a, plan)}
    findings = []
    for key, function in RULES.items():
        entry = entries()[key]
        if live:
            weight = entry.live
        else:
            weight = entry.trial
        if weight:
            findings += [_finding(entry, Weight(weight), hit, accepted) for hit in function(plan)]
    findings.sort(key=lambda f: (WEIGHTS.index(f.weight), f.chapter, f.key, f.at.id, f.twin))
    return Review(tuple(findings))


def _due(acceptance: Acceptance, plan: Staged) -> bool:
    return acceptance.look_again is not None and acceptance.look_again < plan.facts.today


def _finding(entry: Entry, weight: Weight, hit: Hit, accepted: dict[str, Acceptance]) -> Finding:
    mend = hit.mend and Mend(hit.mend.record, hit.mend.values, entry.mend.format(**hit.words))
    finding = Finding(
        key=entry.key,
        chapter=entry.chapter,
        weight=weight,
        at=hit.at,
        title=entry.title.format(**hit.words),
        text=entry.text.format(**hit.words),
        why=entry.why,
        source=entry.source,
        mend=mend,
        also=hit.also,
        twin=hit.twin,
    )
    acceptance = accepted.get(finding.token)
    if acceptance is None:
        return finding
    return dataclasses.replace(finding, acceptance=acceptance)
