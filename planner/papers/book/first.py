"""Read first: what can hurt people or data, what the signs mean, what would stop the work."""

from __future__ import annotations

from planner.papers.book import parts
from planner.papers.book.bands import Band, Flow, Piece, Shape, baseline
from planner.papers.book.circles import MEANINGS, box_shape, circle_shape, word_of
from planner.papers.book.edition import Book
from planner.papers.book.ledger import Cell, Column, Row, ledger
from planner.papers.book.look import SMALL, TEXT, TEXT_BOLD
from planner.papers.book.notes import key_of
from planner.papers.book.words import brief, lines, listed
from planner.record.chapters import BY_NUMBER
from planner.record.choices import CITED, AnswerState, HostState
from planner.record.units import show
from planner.review.base import MARKS, Finding, Weight

LIFTING = "host.lift-alone-kg"
CAUTIONS = (
    (
        "Power",
        "Plug nothing into a circuit whose load and breaker nobody has read off. Loads that run for hours may "
        "need a lower limit than the breaker's number; a battery supply has its own. Never open a distribution "
        "board or a battery.",
    ),
    (
        "Losing data",
        "Before anything is wiped, formatted, moved or cloned over: a backup of it has been read back, not "
        "only taken, and somebody who owns the data has said yes.",
    ),
    (
        "Live systems",
        "Before a server, a switch, a firewall or a directory is changed or restarted: who is working on "
        "it now, who has agreed, until when, and how you go back. A directory is changed for everyone at once.",
    ),
    (
        "Static",
        "Wear an earthed wrist strap and keep parts in their bags until the moment they are fitted.",
    ),
    (
        "Ladders and racks",
        "Use a ladder that is made for the height, with somebody at its foot. Fill a rack from "
        "below, fix it before it is loaded, pull out one machine at a time.",
    ),
    (
        "Heat",
        "A room that was cool with one machine may not be with three. Watch the air at the inlets on the first "
        "day.",
    ),
)
DECIDES = (
    "Local codes and the rules of the building come before this book, and where electricity is concerned a licensed "
    "electrician decides. Nothing here replaces either. Stop and ask when something is not as it is written."
)
MARK_MEANINGS = {
    Weight.STOPPER: "Would fail or hurt on the first day. Mend it, or a lead accepts it with a reason.",
    Weight.CONCERN: "Likely to cost time or trouble. Mend it, or know why not.",
    Weight.REMARK: "Worth knowing.",
}
LEFT = 24.0


def read_first(flow: Flow, book: Book) -> None:
    parts.chapter(
        flow,
        None,
        "Read first",
        "What can hurt people or data, and what the signs on these pages mean.",
        key="read-first",
    )
    _cautions(flow, book)
    if book.notes.printed():
        _marks(flow)
    if book.part.people:
        _circles(flow)
        _stoppers(flow, book)


def _cautions(flow: Flow, book: Book) -> None:
    parts.section(flow, "", "Cautions", key="cautions")
    bands: list[Band] = [Band(6, keep=True)]
    for title, text in (("Lifting", _lifting(book)), *CAUTIONS):
        inner = Flow(flow.sheet)
        inner.text(
            text, TEXT, left=13, room=flow.measure - 26, lead=f"{title}.", lead_style=TEXT_BOLD
        )
        bands += [*inner.bands, Band(4)]
    inner = Flow(flow.sheet)
    inner.text(DECIDES, TEXT_BOLD, left=13, room=flow.measure - 26)
    parts.boxed(flow, [*bands, *inner.bands, Band(6)])


def _lifting(book: Book) -> str:
    """The weight one person may lift, as this site has it, and the hosts that are heavier or not weighed."""
    most, constant = book.plan.facility.lift_limits.alone_kg, book.plan.numbers.all[LIFTING]
    hosts = [host for host in book.facts.hosts if host.state != HostState.SPARE]
    words = (
        "Read the weight off the machine before you lift it. Into a rack two people or a lift "
        f"above {show(most)} kg, and below that too when the place is narrow, low or high."
    )
    heavy = [
        f"{brief(host.label)} ({host.weight_kg:g} kg)"
        for host in hosts
        if host.weight_kg and host.weight_kg > most
    ]
    if heavy:
        words += f" Here: {listed(heavy)}."
    unknown = [host.label for host in hosts if host.weight_kg is None]
    if unknown:
        words += f" Nobody has weighed {listed(unknown)}."
    if constant.origin in CITED:
        book.cite(constant.source)
    return words


def _marks(flow: Flow) -> None:
    parts.section(flow, "", "Marks are what the engine noticed", key="marks")
    for weight, mark in MARKS.items():
        _sign(
            flow,
            weight.words,
            MARK_MEANINGS[weight],
            (Piece(7, baseline(TEXT), mark, TEXT_BOLD),),
            (),
        )
    flow.gap(4)
    flow.text(
        "A mark stands at the value it speaks of, with a small number: the note of that number follows the section. "
        "An accepted finding keeps its mark and its note.",
        TEXT,
        room=flow.measure * 0.9,
    )


def _circles(flow: Flow) -> None:
    parts.section(flow, "", "Circles are what a person answered", key="circles")
    for state in AnswerState:
        _sign(flow, word_of(state), MEANINGS[state], (), (circle_shape(state, 5, 6.3),))
    flow.gap(4)
    _sign(flow, "Step", "A box is ticked when the step is done.", (), (box_shape(5, 2),))
    _sign(
        flow,
        "Built",
        "A dotted line is for what was really built where it differs from the plan. "
        "Leave it empty where the plan was kept.",
        (),
        (),
    )


def _sign(
    flow: Flow, word: str, meaning: str, pieces: tuple[Piece, ...], shapes: tuple[Shape, ...]
) -> None:
    parts_of = lines(meaning, flow.measure - LEFT - 62, TEXT)
    for at, line in enumerate(parts_of):
        down = baseline(TEXT)
        if at == 0:
            lead = (*pieces, Piece(LEFT, down, word, TEXT_BOLD))
        else:
            lead = ()
        band = Band(
            TEXT.leading + (1.5 if at == len(parts_of) - 1 else 0),
            (*lead, Piece(LEFT + 62, down, line, TEXT)),
        )
        band.shapes = shapes if at == 0 else ()
        band.keep = at < len(parts_of) - 1
        flow.add(band)


def _stoppers(flow: Flow, book: Book) -> None:
    parts.section(flow, "", "Open stoppers", key="open-stoppers")
    found = [
        finding
        for finding in book.findings
        if finding.weight == Weight.STOPPER and not finding.accepted
    ]
    if not found:
        flow.text(
            "None. Nothing that the engine knows of would fail or hurt on the first day.", TEXT
        )
        return
    columns = [
        Column("Note"),
        Column("What is wrong", bold=True, widest=0.8, least=0.6),
        Column("Chapter"),
    ]
    here = {finding.token for finding in book.notes.printed()}
    if all(finding.token in here for finding in found):
        columns.append(Column("Page", numeric=True))
    ledger(flow, columns, [_stopper(book, finding, finding.token in here) for finding in found])


def _stopper(book: Book, finding: Finding, noted: bool) -> Row:
    """A stopper; its own words where its note is not among these pages."""
    number = book.notes.numbers[finding.token]
    chapter = BY_NUMBER.get(finding.chapter)
    if chapter:
        name = f"{chapter.number} {chapter.name}"
    else:
        name = str(finding.chapter)
    under = () if noted else (((finding.text, SMALL),),)
    return Row(
        (Cell("", ((finding.mark, number),)), finding.title, name, Cell(page_of=key_of(number))),
        under,
    )
