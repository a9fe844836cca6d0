"""Run sheets: steps with a box to tick, checks with circles to mark, values large, cautions before the work."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from planner.papers.book import parts
from planner.papers.book.bands import Band, Flow, Piece, baseline, line_shape
from planner.papers.book.circles import box_shape, circle_shape, frame_shape, known, word_of
from planner.papers.book.edition import Book
from planner.papers.book.look import (
    FAINT,
    HEAD,
    ITEM,
    LARGE,
    SMALL,
    SMALL_SOFT,
    SOFT,
    TEXT,
    TEXT_BOLD,
    TEXT_SOFT,
)
from planner.papers.book.moments import show_moment
from planner.papers.book.words import brief, clean, lines, listed, shortened, width
from planner.record.choices import Answerer, AnswerState, Wanted
from planner.stages.day_words import length_words
from planner.stages.results import GateState, SiteCheck, SiteStep, Stage, TimesFrom

LEFT = 26.0  # of the words, right of box or circle
FEW = 6  # checks of a gate that are told by their titles
LARGEST = 4  # lines of a value shown large
DOTS = (0.6, 1.8)
STEP_TEXTS = (
    ("do", "", TEXT),
    ("expect", "Should happen:", TEXT),
    ("otherwise", "If not:", TEXT),
    ("back", "Way back:", TEXT_SOFT),
)
CHECK_TEXTS = (
    ("how", "How to see it:", TEXT),
    ("proof", "Proof:", TEXT),
    ("why", "Why:", TEXT_SOFT),
)
MARKED = [
    state for state in AnswerState if state != AnswerState.OPEN
]  # the circles to mark by hand
WANTS: Mapping[str, str] = {
    Wanted.NOTE: "a note",
    Wanted.VALUE: "the value read",
    Wanted.PHOTO: "a photo",
    Wanted.PROBE: "a probe's result",
}


class RunSheet:
    """Prints one stage's steps and checks. What reads word for word as at the record before is not said again."""

    def __init__(self, flow: Flow, book: Book):
        self.flow, self.book = flow, book
        self.said: dict[str, tuple[str, dict[str, str]]] = {}

    def put(self, one: SiteCheck | SiteStep) -> None:
        flow = self.flow
        start = len(flow.bands)
        self._title(one)
        if one.caution:
            self._caution(one.caution)
        if one.value_name:
            self._value(one)
        self._texts(one)
        if isinstance(one, SiteCheck):
            self._answer(one)
        else:
            self._done()
        parts.hold(flow.bands[start:], flow.sheet.room)

    def _title(self, one: SiteCheck | SiteStep) -> None:
        flow = self.flow
        aside = clean(_minutes(one) if isinstance(one, SiteStep) else _who(one))
        number = f"{one.number} {one.kind}"
        flow.gap(11)
        flow.add(Band(1, shapes=(line_shape(0, flow.measure, 0.5, FAINT, 0.5),), keep=True))
        down = baseline(HEAD) + 3
        pieces = (
            Piece(LEFT, down, clean(number), HEAD),
            Piece(flow.measure - width(aside, SMALL), down, aside, SMALL_SOFT),
        )
        flow.add(Band(HEAD.leading + 3, pieces, keep=True))
        at = len(flow.bands)
        flow.text(clean(one.title, 400), ITEM, left=LEFT, keep=True)
        if isinstance(one, SiteStep):
            shape = box_shape(3, 2.2, 10)
        else:
            shape = circle_shape(known(one.state), 2.5, ITEM.leading / 2, 5)
        if len(flow.bands) == at:
            flow.add(Band(ITEM.leading, keep=True))
        flow.bands[at].shapes = (*flow.bands[at].shapes, shape)
        flow.text(_origin(one), SMALL_SOFT, left=LEFT, keep=True)
        flow.gap(2)

    def _caution(self, text: str) -> None:
        """A caution stands before the work it warns of."""
        bands = Flow(self.flow.sheet)
        bands.text(
            text,
            TEXT,
            left=LEFT + 9,
            room=self.flow.measure - LEFT - 18,
            lead="Caution:",
            lead_style=TEXT_BOLD,
        )
        framed = [Band(4, keep=True), *bands.bands, Band(4)]
        parts.boxed(self.flow, framed, left=LEFT)

    def _value(self, one: SiteCheck | SiteStep) -> None:
        """The one value to enter, large, in a frame."""
        flow = self.flow
        room = flow.measure - LEFT - 20
        name = shortened(clean(one.value_name, 400), room, SMALL)
        if one.value:
            broken = [
                part for line in one.value.splitlines() for part in lines(clean(line), room, LARGE)
            ]
        else:
            broken = []
        if len(broken) > LARGEST:  # too long to be read large: a list, not a value
            style = TEXT_BOLD
            broken = [
                part for line in one.value.splitlines() for part in lines(clean(line), room, style)
            ][:40]
        else:
            style = LARGE
        if name:
            head = 12.0
        else:
            head = 4.0
        high = head + max(len(broken), 1) * style.leading + 6
        if name:
            pieces = [Piece(LEFT + 9, 11, name, SMALL_SOFT)]
        else:
            pieces = []
        pieces += [
            Piece(LEFT + 9, head + at * style.leading + baseline(style), line, style)
            for at, line in enumerate(broken)
        ]
        shapes: tuple[Any, ...] = (frame_shape(LEFT, flow.measure, 0, high),)
        if not broken:
            pieces.append(Piece(LEFT + 9, head + baseline(style), parts.NOT_KNOWN, TEXT_SOFT))
            shapes = (
                *shapes,
                line_shape(
                    LEFT + 80, flow.measure - 10, head + baseline(style) + 2, SOFT, 0.5, DOTS
                ),
            )
        flow.gap(3)
        flow.add(Band(high, tuple(pieces), shapes, keep=True))
        flow.gap(6)

    def _texts(self, one: SiteCheck | SiteStep) -> None:
        words = {
            name: getattr(one, name)
            for name, _, _ in (STEP_TEXTS if isinstance(one, SiteStep) else CHECK_TEXTS)
        }
        source = self.book.cite(one.source)
        if isinstance(one, SiteStep):
            last = "back"
        else:
            last = "why"
        if source and words[last]:
            words[last] += f" [{source}]"
        key = one.key.partition("@")[0]
        before, said = self.said.get(key, ("", {}))
        same = []
        for name, lead, style in STEP_TEXTS if isinstance(one, SiteStep) else CHECK_TEXTS:
            if words[name] and said.get(name) == words[name]:
                same.append(lead.removesuffix(":").lower() or "what to do")
                continue
            if name == "proof" and isinstance(one, SiteCheck) and one.wants in WANTS:
                if one.range_words:
                    within = f" ({one.range_words})"
                else:
                    within = ""
                lead = f"Proof, {WANTS[one.wants]}{within}:"
            if words[name]:
                self.flow.text(
                    words[name],
                    style,
                    left=LEFT,
                    lead=lead,
                    lead_style=style._replace(font=TEXT_BOLD.font),
                )
        if same:
            self.flow.text(f"{', '.join(same).capitalize()}: as {before}", SMALL_SOFT, left=LEFT)
            before_now = before
        else:
            before_now = one.number
        self.said[key] = (before_now, {**said, **words} if same else words)

    # -- what is written by hand -----------------------------------------------------------------

    def _answer(self, check: SiteCheck) -> None:
        flow, answer = self.flow, check.answer
        if check.moved:
            flow.text(f"Open again: {check.moved_words}.", TEXT_BOLD, left=LEFT)
        elif answer.state != AnswerState.OPEN:
            when = show_moment(answer.at, self.book.facts.site.time_zone)
            said = f"{word_of(answer.state)} by {brief(answer.by, 120) or 'nobody named'}"
            said += f", {when}" if when else ""
            flow.gap(3)
            flow.text(
                answer.proof,
                TEXT,
                left=LEFT,
                lead=f"{said}{':' if answer.proof else ''}",
                lead_style=TEXT_BOLD,
            )
        elif answer.reopened:
            flow.text("Open again since the site turned live.", TEXT_BOLD, left=LEFT)
        if check.state not in (AnswerState.PROVEN, AnswerState.EXCUSED):
            flow.gap(5)
            flow.add(self._circles())

    def _circles(self) -> Band:
        """Four circles to mark, a line for who and one for when."""
        x, down = LEFT, 9.0
        pieces, shapes = [], []
        for state in MARKED:
            shapes.append(circle_shape(AnswerState.OPEN, x, down - 3, 4.4))
            pieces.append(Piece(x + 13, down, word_of(state), SMALL))
            x += 13 + width(word_of(state), SMALL) + 13
        end = self.flow.measure
        for word, start, stop in (("Who", x + 8, end - 92), ("When", end - 84, end)):
            pieces.append(Piece(start, down, word, SMALL_SOFT))
            shapes.append(
                line_shape(start + width(word, SMALL_SOFT) + 4, stop, down + 2, SOFT, 0.5, DOTS)
            )
        return Band(15, tuple(pieces), tuple(shapes))

    def _done(self) -> None:
        down, end = 9.0, self.flow.measure
        pieces, shapes = [], []
        for word, start, stop in (
            ("Done by", LEFT, LEFT + 190),
            ("at", LEFT + 200, LEFT + 270),
            ("Seen", LEFT + 280, end),
        ):
            pieces.append(Piece(start, down, word, SMALL_SOFT))
            shapes.append(
                line_shape(start + width(word, SMALL_SOFT) + 4, stop, down + 2, SOFT, 0.5, DOTS)
            )
        self.flow.gap(4)
        self.flow.add(Band(15, tuple(pieces), tuple(shapes)))


def _minutes(step: SiteStep) -> str:
    """``about 40 min (20 min to 1 h), 28 min of it a wait; stand by; nothing else runs beside it``."""
    low, likely, high = step.minutes
    words = f"about {length_words(likely)}"
    if low != high:
        words += f" ({length_words(low)} to {length_words(high)})"
    if step.wait_minutes and step.times_from != TimesFrom.SITE:
        words += f", {length_words(max(step.wait_minutes, 1))} of it a wait, worked out"
    words += f"; {'stand by' if step.attended else 'runs alone'}"
    if step.alone:
        return f"{words}; nothing else runs beside it"
    return words


def _origin(one: SiteCheck | SiteStep) -> str:
    """Who asks for it beyond the catalogue, and where its time comes from; "" for the catalogue's. A wait that is
    worked out is told beside the minutes."""
    if isinstance(one, SiteStep) and one.times_from in (TimesFrom.SITE, TimesFrom.HOUSE):
        times = one.times_words
    else:
        times = ""
    words = "; ".join(filter(None, (one.asked_by, f"time {times}" if times else "")))
    if words:
        return f"{words[:1].upper()}{words[1:]}."
    return ""


def _who(check: SiteCheck) -> str:
    if check.who == Answerer.LEAD:
        return "a lead answers"
    return ""


# -- the gate ------------------------------------------------------------------------------------


def gate(flow: Flow, book: Book, stage: Stage) -> None:
    """The gate: what stands in the way, what a signature puts a name to, and where to sign."""
    found = stage.gate
    inner = Flow(flow.sheet)
    left, room = 14.0, flow.measure - 28
    inner.text(f"Gate {stage.number}", ITEM, left=left, room=room)
    inner.text(found.reason, TEXT, left=left, room=room)
    for lead, checks in (
        ("Checks:", found.blocking),
        ("On trust:", found.on_trust),
        ("Excused:", found.excused),
    ):
        if checks:
            bold = SMALL._replace(font=TEXT_BOLD.font)
            inner.text(_which(checks), SMALL, left=left, room=room, lead=lead, lead_style=bold)
    if found.signature:
        when = show_moment(found.signature.at, book.facts.site.time_zone)
        if found.signature.fingerprint:
            code = f", fingerprint {found.signature.fingerprint}"
        else:
            code = ""
        inner.text(
            f"Last signed by {found.signature.by or 'nobody named'}, {when}{code}.",
            TEXT_BOLD,
            left=left,
            room=room,
        )
    if found.state != GateState.SIGNED:
        inner.add(signature_line(flow, ("Name", "Date and time", "Signature of a lead"), left))
    bands = [Band(6, keep=True), *inner.bands, Band(6)]
    flow.bands[-1].keep = True  # a gate does not stand alone on a page
    flow.gap(20)
    parts.boxed(flow, bands)


def _which(checks: Sequence[SiteCheck]) -> str:
    """A few checks by their titles, many by their numbers: their titles stand above."""
    if len(checks) > FEW:
        return listed([check.number for check in checks], 120)
    return listed([f"{check.number} {check.title}" for check in checks], FEW, "; ")


def signature_line(flow: Flow, words: tuple[str, str, str], left: float) -> Band:
    """Three blank lines side by side with their words beneath."""
    wide = (flow.measure - 2 * left - 24) / 8
    shapes, pieces = [], []
    x = left
    for word, share in zip(words, (3, 2, 3), strict=True):
        shapes.append(line_shape(x, x + share * wide, 34, SOFT, 0.6))
        pieces.append(Piece(x, 44, word, SMALL_SOFT))
        x += share * wide + 12
    return Band(50, tuple(pieces), tuple(shapes))
