"""11 Revisions and papers: what the book was printed from, what was built, what is accepted, who signs."""

from __future__ import annotations

from collections.abc import Sequence

from planner import chapters
from planner.built import Drift, drift
from planner.chapters import show_date
from planner.papers.book import notes as notes_module
from planner.papers.book import numbering, parts
from planner.papers.book.bands import Flow
from planner.papers.book.edition import Book, Issue
from planner.papers.book.ledger import Cell, Column, Row, ledger
from planner.papers.book.look import SMALL, SMALL_SOFT, TEXT, TEXT_BOLD
from planner.papers.book.notes import WEIGHT_WORDS, accepted_words, key_of
from planner.papers.book.parts import Pair
from planner.papers.book.run_sheet import signature_line
from planner.review.base import WEIGHTS, Finding


def papers(flow: Flow, book: Book) -> None:
    entry = chapters.BY_NUMBER[11]
    parts.chapter(flow, entry.number, entry.name, entry.intro)
    parts.section(flow, *numbering.REVISIONS)
    this = [Pair("This book", book.edition), Pair("Fingerprint", book.plan.fingerprint)]
    if book.reason:
        this.append(Pair("Reason", book.reason))
    parts.pairs(flow, this, with_built=False)
    flow.gap(6)
    _issues(flow, book.revisions, "Revision", "No other revision is listed in this book.")
    parts.section(flow, *numbering.PAPERS)
    _issues(flow, book.papers, "Paper", "No earlier paper is listed in this book.")
    _built(flow, book)
    notes_module.of_section(flow, book.notes, 11, chapters.BY_SECTION["built"])
    _findings(flow, book)
    notes_module.of_section(flow, book.notes, 11)


def _issues(flow: Flow, issues: Sequence[Issue], word: str, none: str) -> None:
    if not issues:
        flow.text(none, TEXT)
        return
    columns = [Column(word, bold=True), Column("Fingerprint"), Column("On"), Column("By"), Column("Why", widest=0.4)]
    rows = []
    for one in issues:
        on = show_date(one.on) if one.on else "—"
        rows.append(Row((f"{one.name} {one.letter}".strip(), one.fingerprint, on, one.by or "—", one.reason or "—")))
    ledger(flow, columns, rows)


# -- built values --------------------------------------------------------------------------------


def _built(flow: Flow, book: Book) -> None:
    one = chapters.BY_SECTION["built"]
    parts.section(flow, one.number, one.title)
    if not book.facts.built:
        parts.teaching(flow, one.what, one.why, one.who)
        return
    columns = [Column("Of", bold=True), Column("What"), Column("Planned", widest=0.25), Column("Built", widest=0.25),
               Column("Why", widest=0.34)]  # fmt: skip
    ledger(flow, columns, [_built_row(one) for one in drift(book.facts)])


def _built_row(one: Drift) -> Row:
    under = ((("Note", SMALL_SOFT), (one.built.note, SMALL)),) if one.built.note else ()
    shown = f"{one.shown} (as planned now)" if one.differs is False else one.shown
    cells = (one.whose or parts.NOT_KNOWN, one.what, one.planned or parts.NOT_KNOWN)
    return Row((*cells, Cell(shown or "no value given", style=None), one.reason or "—"), under)


# -- findings ------------------------------------------------------------------------------------


def _findings(flow: Flow, book: Book) -> None:
    found = book.notes.all()
    parts.section(flow, *numbering.FINDINGS)
    if not found:
        flow.text("None. Nothing in this plan was noticed that somebody should look at.", TEXT)
        return
    counts = ", ".join(_count(found, weight) for weight in WEIGHTS)
    flow.text(counts, TEXT_BOLD)
    flow.gap(3)
    columns = [Column("Note"), Column("Finding", bold=False, widest=0.66, least=0.5), Column("Weight"), Column("State"),
               Column("Page", numeric=True)]  # fmt: skip
    ordered = sorted(found, key=lambda one: (one.accepted, WEIGHTS.index(one.weight)))
    ledger(flow, columns, [_finding(book, finding) for finding in ordered])


def _count(found: list[Finding], weight: str) -> str:
    here = [one for one in found if one.weight == weight]
    accepted = sum(one.accepted for one in here)
    word = weight if len(here) == 1 else f"{weight}s"
    return f"{len(here)} {word}" + (f" ({accepted} accepted)" if accepted else "")


def _finding(book: Book, finding: Finding) -> Row:
    number = book.notes.numbers[finding.token]
    under = (((accepted_words(finding), SMALL),),) if finding.accepted else ()
    state = "accepted" if finding.accepted else "open"
    return Row((
        Cell("", ((finding.mark, number),)), finding.title, WEIGHT_WORDS[finding.weight], state,
        Cell(page_of=key_of(number)),
    ), under)  # fmt: skip


# -- sign-off ------------------------------------------------------------------------------------


def sign_off(flow: Flow, book: Book) -> None:
    """Both sides sign what was handed over."""
    parts.section(flow, *numbering.SIGN_OFF)
    flow.text(
        "Signed when the work is done and handed over: what was agreed in chapter 1 stands, what was built otherwise "
        "is written into this book, and both sides know what is still open.", TEXT, room=flow.measure * 0.86,
    )  # fmt: skip
    flow.gap(8)
    open_found = [finding for finding in book.notes.all() if not finding.accepted]
    accepted = [finding for finding in book.notes.all() if finding.accepted]
    signed = sum(stage.gate.state == "signed" for stage in book.plan.stages.stages)
    rows = [
        Pair("Customer and site", f"{book.customer}, {book.site}"),
        Pair("Of", f"{book.edition}, fingerprint {book.plan.fingerprint}"),
        Pair("Gates signed", f"{signed} of {len(book.plan.stages.stages)}"),
        Pair("Findings", f"{len(open_found)} open, {len(accepted)} accepted"),
        Pair("Built otherwise", f"{len(book.facts.built)} values"),
    ]
    parts.pairs(flow, rows, with_built=False)
    sides = (("For the customer", book.customer), ("For those who built it", book.house or "not known yet"))
    for side, name in sides:
        parts.item(flow, side, gap=30)
        flow.text(name, TEXT, keep=True)
        flow.add(signature_line(flow, ("Name", "Date", "Signature"), 0))
    parts.item(flow, "Still open, agreed between both sides", gap=30)
    for _ in range(6):
        flow.add(parts.blank_line(flow.measure))
