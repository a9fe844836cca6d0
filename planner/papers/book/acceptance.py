"""11.7 and 11.8: the acceptance tests, which are the checks of the pilot, and the sign-off of both sides."""

from __future__ import annotations

from planner.papers.book import numbering, parts
from planner.papers.book.bands import Flow, Run
from planner.papers.book.circles import circle_shape, known, word_of
from planner.papers.book.edition import Book
from planner.papers.book.ledger import Cell, Column, Row, ledger
from planner.papers.book.look import SMALL, SMALL_SOFT, TEXT
from planner.papers.book.moments import show_moment
from planner.papers.book.parts import Pair
from planner.papers.book.run_sheet import signature_line
from planner.record.choices import AnswerState
from planner.stages.results import SiteCheck

PILOT = 7  # the stage whose checks show that ordinary people can work
CIRCLE = 13.0  # room for an answer's circle


def acceptance(flow: Flow, book: Book) -> None:
    """Each test with how to see it, its answer so far, and room for the customer's initials."""
    stage = book.plan.stages.stage(PILOT)
    if stage:
        checks = stage.checks
    else:
        checks = ()
    parts.section(flow, *numbering.ACCEPTANCE, aside=f"{len(checks)} tests" if checks else "")
    if not checks:
        flow.text(
            "The desktops, their people and what they use (6 and 7) bring the tests here.", TEXT
        )
        return
    flow.text(
        "The checks of stage 7: ordinary people work on it, at their own places. The customer puts initials to each "
        "test that was seen.",
        TEXT,
        room=flow.measure * 0.86,
    )
    flow.gap(3)
    columns = [
        Column("Test"),
        Column("What must be true", bold=True, widest=0.6, least=0.5),
        Column("Answer", least=0.13),
        Column("Customer", blank=True, least=0.17, widest=0.17),
    ]
    said: dict[str, str] = {}
    rows = []
    for check in checks:
        how = said.setdefault(check.how, check.number)
        rows.append(_row(book, check, "" if how == check.number else how))
    ledger(flow, columns, rows)


def _row(book: Book, check: SiteCheck, as_at: str) -> Row:
    answer = check.answer
    under: list[tuple[Run, ...]] = []
    if as_at:
        under.append(((f"How to see it: as {as_at}", SMALL_SOFT),))
    elif check.how:
        under.append((("How to see it:", SMALL_SOFT), (check.how, SMALL)))
    if check.moved:
        under.append(((f"Open again: {check.moved_words}.", SMALL),))
    elif answer.state != AnswerState.OPEN:
        when = show_moment(answer.at, book.facts.site.time_zone)
        who = (
            f"{word_of(answer.state)} by {answer.by or 'nobody named'}{f', {when}' if when else ''}"
        )
        if book.part.internal:
            proof = answer.proof
        else:
            proof = ""
        under.append(((f"{who}{':' if proof else ''}", SMALL_SOFT), (proof, SMALL)))
    shape = circle_shape(known(check.state), 0, 5.7, 4.4)
    state = Cell(word_of(check.state), shape=shape, wide=CIRCLE)
    return Row((check.number, check.title, state, Cell()), tuple(under))


def sign_off(flow: Flow, book: Book) -> None:
    """Both sides sign what was handed over."""
    parts.section(flow, *numbering.SIGN_OFF)
    flow.text(
        "Signed when the work is done and handed over: what was agreed in chapter 1 stands, what was built otherwise "
        "is written down, and both sides know what is still open.",
        TEXT,
        room=flow.measure * 0.86,
    )
    flow.gap(8)
    still_open = sum(not finding.accepted for finding in book.findings)
    stages = book.plan.stages
    pilot = stages.stage(PILOT)
    built = len(book.facts.built)
    rows = [
        Pair("Customer and site", f"{book.customer}, {book.site}"),
        Pair("Of", f"{book.edition}, fingerprint {book.plan.fingerprint}"),
        Pair("Gates signed", f"{stages.passed} of {len(stages.stages)}"),
        Pair(
            "Acceptance tests", f"{pilot.counts['proven']} of {pilot.total} proven" if pilot else ""
        ),
        Pair("Findings", f"{still_open} open, {len(book.findings) - still_open} accepted"),
        Pair("Built otherwise", f"{built} value{'' if built == 1 else 's'}"),
    ]
    parts.pairs(flow, rows, with_built=False)
    for side, name in (
        ("For the customer", book.customer),
        ("For those who built it", book.house or "not known yet"),
    ):
        parts.item(flow, side, gap=30)
        flow.text(name, TEXT, keep=True)
        flow.add(signature_line(flow, ("Name", "Date", "Signature"), 0))
    parts.item(flow, "Still open, agreed between both sides", gap=30)
    for at in range(6):
        line = parts.blank_line(flow.measure)
        line.keep = at < 5
        flow.add(line)
