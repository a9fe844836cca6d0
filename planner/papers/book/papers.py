"""11 Revisions and papers: what the book was printed from, what was built and changed, what is accepted."""

from __future__ import annotations

from collections.abc import Sequence

from planner.comparing import whatif
from planner.comparing.as_built import Drift, as_built, drift
from planner.comparing.differences import Difference, compare
from planner.comparing.summary import of_things
from planner.papers.book import notes as notes_module
from planner.papers.book import numbering, parts
from planner.papers.book.bands import Flow
from planner.papers.book.edition import Book, Issue
from planner.papers.book.ledger import Cell, Column, Row, ledger
from planner.papers.book.look import SMALL, SMALL_SOFT, TEXT, TEXT_BOLD, TEXT_SOFT
from planner.papers.book.notes import accepted_words, key_of
from planner.papers.book.parts import Pair
from planner.papers.book.words import clean
from planner.plan import Plan
from planner.record import chapters
from planner.record.chapters import show_date
from planner.record.facts import fingerprint
from planner.review.base import WEIGHTS, Finding

NOTHING = "nothing"
COME = "The review of what was built notes what the plan's does not:"
GONE = "Settled by how it was built:"
MOST_TITLES = 60
NETWORK = (2, 9)  # the chapters that are the network owner's


def papers(flow: Flow, book: Book) -> None:
    """All of it, or for people outside what is theirs."""
    entry = chapters.BY_NUMBER[11]
    parts.chapter(flow, entry.number, entry.name, entry.intro)
    _revisions(flow, book)
    if not book.part.people:
        _changed(flow, book, NETWORK)
        return
    if not book.part.internal:
        return
    parts.section(flow, *numbering.PAPERS)
    _issues(flow, book, book.papers, "Paper", "No earlier paper is listed in this book.")
    _built(flow, book)
    notes_module.of_section(flow, book.notes, 11, chapters.BY_SECTION["built"])
    _changed(flow, book)
    _as_built(flow, book)
    _findings(flow, book)
    notes_module.of_section(flow, book.notes, 11)


def _revisions(flow: Flow, book: Book) -> None:
    parts.section(flow, *numbering.REVISIONS)
    this = [Pair("These pages", book.edition), Pair("Fingerprint", book.plan.fingerprint)]
    if book.reason and book.part.people:
        this.append(Pair("Reason", book.reason))
    parts.pairs(flow, this, with_built=False)
    flow.gap(10)
    _issues(flow, book, book.revisions, "Revision", "No other revision is listed in this book.")


def _issues(flow: Flow, book: Book, issues: Sequence[Issue], word: str, none: str) -> None:
    if not issues:
        flow.text(none, TEXT)
        return
    columns = [Column(word, bold=True), Column("Fingerprint"), Column("On")]
    if book.part.people:
        columns.append(Column("By"))
        columns += [Column("Why", widest=0.4)] * any(one.reason for one in issues)
    rows = []
    for one in issues:
        if one.on:
            on = show_date(one.on)
        else:
            on = "—"
        rows.append(
            Row(
                (
                    f"{one.name} {one.letter}".strip(),
                    one.fingerprint,
                    on,
                    one.by or "—",
                    one.reason or "—",
                )
            )
        )
    ledger(flow, columns, rows)


# -- built values --------------------------------------------------------------------------------


def _built(flow: Flow, book: Book) -> None:
    one = chapters.BY_SECTION["built"]
    parts.section(flow, one.number, one.title)
    if not book.facts.built:
        parts.teaching(flow, one.what, one.why, one.who)
        return
    columns = [
        Column("Of", bold=True),
        Column("What"),
        Column("Planned", widest=0.25),
        Column("Built", widest=0.25),
        Column("Why", widest=0.34),
    ]
    ledger(flow, columns, [_built_row(one) for one in drift(book.facts)])


def _built_row(one: Drift) -> Row:
    under = ((("Note", SMALL_SOFT), (one.built.note, SMALL)),) if one.built.note else ()
    if one.differs is False:
        shown = f"{one.shown} (as planned now)"
    else:
        shown = one.shown
    cells = (one.whose or parts.NOT_KNOWN, one.what, one.planned or parts.NOT_KNOWN)
    return Row((*cells, Cell(shown or "no value given", style=None), one.reason or "—"), under)


# -- what changed --------------------------------------------------------------------------------


def _changed(flow: Flow, book: Book, only: tuple[int, ...] = ()) -> None:
    """What differs from the revision before, field by field; ``only`` of these chapters."""
    number, title, key = numbering.CHANGED
    letter = clean(book.previous_letter, 12)
    if letter:
        since = f"revision {letter}"
    else:
        since = "the revision before"
    parts.section(flow, number, f"{title} since {since}" if book.previous else title, key)
    if book.previous is None:
        flow.text("There is no earlier revision to compare with.", TEXT)
        return
    if book.part.reduced:
        before = book.part.reduced(book.previous)
    else:
        before = book.previous
    found = [one for one in compare(before, book.facts) if not only or one.chapter in only]
    listed = [one.fingerprint for one in book.revisions if one.name == book.previous_letter]
    code = clean(listed[0] if listed else fingerprint(book.previous))
    if not found:
        flow.text(f"Nothing that is planned here differs from {since}, fingerprint {code}.", TEXT)
        return
    flow.text(f"Compared with {since}, fingerprint {code}.", TEXT)
    flow.gap(3)
    columns = [
        Column("Chapter"),
        Column("Record", bold=True, widest=0.26),
        Column("What", widest=0.2),
        Column("Before", widest=0.28),
        Column("Now", widest=0.28),
    ]
    ledger(flow, columns, [_changed_row(one) for one in found])


def _changed_row(one: Difference) -> Row:
    if one.field:
        none = NOTHING
    else:
        none = "not there"
    cells = (
        str(one.chapter),
        f"{one.record} ({one.kind})",
        one.field or "the record",
        one.before or none,
    )
    return Row((*cells, one.after or none))


# -- as it was built -----------------------------------------------------------------------------


def _as_built(flow: Flow, book: Book) -> None:
    """What the review notes of the site as it stands and not of the plan, and the other way round."""
    if not book.facts.built:
        return
    parts.section(flow, *numbering.AS_BUILT)
    found = whatif.compare(book.whole, Plan(as_built(book.whole.facts)))
    come, gone = of_things(found.come), of_things(found.gone)
    if not come:
        flow.text("The review of what was built notes nothing that the plan's does not.", TEXT)
    for words, some in ((COME, come), (GONE, gone)):
        if some:
            flow.text(words, TEXT_BOLD, keep=True)
            for one in some[:MOST_TITLES]:
                flow.text(one.title, TEXT, left=14, lead=one.mark, lead_style=TEXT_BOLD)
            if len(some) > MOST_TITLES:
                flow.text(f"and {len(some) - MOST_TITLES:,} more", TEXT_SOFT, left=14)


# -- findings ------------------------------------------------------------------------------------


def _findings(flow: Flow, book: Book) -> None:
    found = book.findings
    parts.section(flow, *numbering.FINDINGS)
    if not found:
        flow.text("None. Nothing in this plan was noticed that somebody should look at.", TEXT)
        return
    counts = ", ".join(_count(found, weight) for weight in WEIGHTS)
    flow.text(counts, TEXT_BOLD)
    flow.gap(3)
    columns = [
        Column("Note"),
        Column("Finding", bold=False, widest=0.66, least=0.5),
        Column("Weight"),
        Column("State"),
        Column("Page", numeric=True),
    ]
    ordered = sorted(found, key=lambda one: (one.accepted, WEIGHTS.index(one.weight)))
    ledger(flow, columns, [_finding(book, finding) for finding in ordered])


def _count(found: list[Finding], weight: str) -> str:
    here = [one for one in found if one.weight == weight]
    accepted = sum(one.accepted for one in here)
    if len(here) == 1:
        word = weight
    else:
        word = f"{weight}s"
    return f"{len(here)} {word}" + (f" ({accepted} accepted)" if accepted else "")


def _finding(book: Book, finding: Finding) -> Row:
    number = book.notes.numbers[finding.token]
    under = (((accepted_words(finding), SMALL),),) if finding.accepted else ()
    if finding.accepted:
        state = "accepted"
    else:
        state = "open"
    return Row(
        (
            Cell("", ((finding.mark, number),)),
            finding.title,
            finding.weight.words,
            state,
            Cell(page_of=key_of(number)),
        ),
        under,
    )
