"""Notes: findings as the book prints them, numbered through, with their marks at what they speak of."""

from __future__ import annotations

import itertools
from collections.abc import Iterable

from planner.papers.book.bands import Anchor, Flow
from planner.papers.book.look import FAINT, NOTE, SMALL, SMALL_SOFT, SOFT, TEXT
from planner.papers.book.parts import Mark, barred, mark_pieces, marks_width
from planner.papers.book.words import clean
from planner.plan import Plan
from planner.record import chapters
from planner.record.chapters import Section
from planner.record.facts import Id, Ref
from planner.review.base import WEIGHTS, Finding

MOST_MARKS = 4  # beside one value; the notes say the rest
LEFT = 9.0
TOGETHER = 9  # lines of a note that are kept on one page
MOST_NOTES = 300  # in one place; more is not a plan but a fault in the copying of one
LONGEST = 2000  # characters of a note
REST = ""  # where a chapter's findings stand that belong to none of its sections


class Notes:
    """Every finding of a plan with its number, by where it is printed.

    The numbers are those of the ``whole`` book; ``printed`` are the chapters and sections whose findings a
    part prints, ``None`` is all of them.
    """

    def __init__(
        self, plan: Plan, whole: Plan | None = None, printed: frozenset[str] | None = None
    ):
        self.numbers: dict[str, int] = {}
        self._places: dict[tuple[int, str], list[Finding]] = {}
        self._marks: dict[tuple[str, Id, str], list[Mark]] = {}
        for found in _by_place(whole or plan).values():
            self._number(found)
        if printed is not None and not printed:
            return
        for place, found in _by_place(plan).items():
            if printed is None or (place[1] or str(place[0])) in printed:
                self._number(found)
                self._places[place] = found
        for finding in self.printed():
            self._mark(finding)

    def _number(self, found: Iterable[Finding]) -> None:
        for finding in found:
            self.numbers.setdefault(finding.token, len(self.numbers) + 1)

    def _mark(self, finding: Finding) -> None:
        mark = (finding.mark, self.numbers[finding.token])
        for ref in dict.fromkeys((finding.at, *finding.also)):
            self._marks.setdefault((ref.kind, ref.id, ref.field), []).append(mark)

    def marks(self, ref: Ref) -> tuple[Mark, ...]:
        """The marks at one field, or at the record itself when the reference names no field."""
        return tuple(self._marks.get((ref.kind, ref.id, ref.field), ())[:MOST_MARKS])

    def of(self, chapter: int, section: str = REST) -> list[Finding]:
        return self._places.get((chapter, section), [])

    def printed(self) -> list[Finding]:
        """Every finding that this part prints, in the order of its number."""
        return [finding for place in self._places.values() for finding in place]


def _by_place(plan: Plan) -> dict[tuple[int, str], list[Finding]]:
    """Findings by chapter and section, in the order of the book."""
    found: dict[tuple[int, str], list[Finding]] = {}
    for finding in plan.review.findings:
        found.setdefault((finding.chapter, _section(finding)), []).append(finding)
    return {
        place: sorted(found[place], key=lambda one: WEIGHTS.index(one.weight))
        for place in sorted(found, key=_order)
    }


def _section(finding: Finding) -> str:
    """The number of the section a finding is printed in, or "" for its chapter's end."""
    chapter = chapters.BY_NUMBER.get(finding.chapter)
    if chapter:
        candidates = [one for one in chapter.sections if one.kind == finding.at.kind]
    else:
        candidates = []
    for one in candidates:
        if finding.at.field in [field.name for field in one.fields]:
            return one.number
    if candidates:
        return candidates[0].number
    return REST


def _order(place: tuple[int, str]) -> tuple[int, ...]:
    chapter, section = place
    if section:
        parts = [int(part) for part in section.split(".")]
    else:
        parts = [99]
    return (chapter, *parts)


def key_of(number: int) -> str:
    return f"note-{number}"


def print_notes(flow: Flow, notes: Notes, findings: Iterable[Finding]) -> None:
    """Findings below what they speak of: title, what and why, source, and who accepted them."""
    found = list(findings)
    for _, same in itertools.groupby(found[:MOST_NOTES], key=_kin):
        _note(flow, notes, list(same))
    if len(found) > MOST_NOTES:
        flow.gap(7)
        flow.text(f"And {len(found) - MOST_NOTES:,} notes more on screen.", TEXT)


def of_section(flow: Flow, notes: Notes, chapter: int, section: Section | None = None) -> None:
    print_notes(flow, notes, notes.of(chapter, section.number if section else REST))


def _kin(finding: Finding) -> tuple[object, ...]:
    """Findings of one rule that stand next to each other share a note: its reason is said once."""
    if finding.accepted:
        alone = finding.token
    else:
        alone = ""
    return (finding.key, finding.weight, finding.why, finding.source, alone)


def _note(flow: Flow, notes: Notes, same: list[Finding]) -> None:
    flow.gap(7)
    start = len(flow.bands)
    room = (flow.measure - LEFT) * 0.9
    for _, alike in itertools.groupby(
        same, key=lambda one: (one.text, one.mend.words if one.mend else "")
    ):
        group = list(alike)
        for at, finding in enumerate(group):
            _title(
                flow,
                finding,
                notes.numbers[finding.token],
                keep=at in (0, len(group) - 2, len(group) - 1),
            )
        flow.text(clean(group[0].text, LONGEST), TEXT, left=LEFT, room=room)
        mend = group[0].mend
        if mend and mend.words:
            if len(group) == 1:
                lead = "Would mend it:"
            else:
                lead = "Would mend each:"
            flow.text(
                clean(mend.words, 400),
                SMALL,
                left=LEFT,
                room=room,
                lead=lead,
                lead_style=SMALL_SOFT,
            )
    first = same[0]
    flow.text(first.why, TEXT._replace(grey=SOFT), left=LEFT, room=room)
    tail = " · ".join(filter(None, (first.weight.words, first.source)))
    flow.text(tail, SMALL_SOFT, left=LEFT, room=room)
    if first.acceptance:
        flow.text(accepted_words(first), SMALL, left=LEFT, room=room)
    if len(flow.bands) - start <= TOGETHER:
        for band in flow.bands[start:-1]:
            band.keep = True
    barred(flow, start, FAINT if first.accepted else SOFT, 1.1)
    flow.gap(3)


def _title(flow: Flow, finding: Finding, number: int, keep: bool) -> None:
    """The mark with its number, and the title."""
    start = len(flow.bands)
    mark = (finding.mark, number)
    flow.text(
        clean(finding.title, 400) or "A finding",
        NOTE,
        left=LEFT + marks_width([mark], NOTE) + 1,
        keep=keep,
    )
    first = flow.bands[start]
    first.pieces = (*mark_pieces([mark], LEFT, first.pieces[0].down, NOTE), *first.pieces)
    first.anchor = Anchor(key_of(number), "", 2)


def accepted_words(finding: Finding) -> str:
    """``Accepted by A. Lead on Mon 2 Mar 2026, to look again on …: reason``."""
    acceptance = finding.acceptance
    if acceptance is None:
        return ""
    if acceptance.look_again:
        again = f", to look again on {chapters.show_date(acceptance.look_again)}"
    else:
        again = ""
    if acceptance.by:
        by = f" by {acceptance.by}"
    else:
        by = ""
    reason = clean(acceptance.reason, LONGEST)
    return f"Accepted{by} on {chapters.show_date(acceptance.at.date())}{again}{f': {reason}' if reason else ''}"
