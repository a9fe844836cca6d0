"""10 Stages: where each stands, then its run sheet on pages of its own."""

from __future__ import annotations

import functools
from collections.abc import Callable

from planner import chapters
from planner.papers.book import notes as notes_module
from planner.papers.book import numbering, parts, records
from planner.papers.book.bands import Anchor, Band, Flow
from planner.papers.book.circles import STATES
from planner.papers.book.edition import Book
from planner.papers.book.ledger import Cell, Column, Row, ledger
from planner.papers.book.look import INTRO, SMALL_SOFT, TEXT, TEXT_BOLD
from planner.papers.book.run_sheet import RunSheet, gate
from planner.stages.results import SiteCheck, Stage

Part = Callable[[Flow, Book], None]
MOST = 1500  # steps and checks of one printed stage
GATES = {"open": "ready to sign", "shut": "shut", "signed": "signed", "reopened": "open again"}


def overview(flow: Flow, book: Book) -> None:
    entry = chapters.BY_NUMBER[10]
    parts.chapter(flow, entry.number, entry.name, entry.intro)
    rule = "A live gate opens when every check is proven or excused."
    if not book.facts.site.live:
        rule = "This is a trial: its gates also accept what is on trust. A live gate would not."
    flow.text(f"{rule} Gates are signed in order. Each stage has its run sheet on pages of its own: "
              "they can be taken out and carried to where the work is.", TEXT, room=flow.measure * 0.86)  # fmt: skip
    flow.gap(6)
    columns = [
        Column("Stage", bold=True), Column("Checks", numeric=True),
        *(Column(word, numeric=True) for word in STATES.values()), Column("Gate"), Column("Page", numeric=True),
    ]  # fmt: skip
    ledger(flow, columns, [_row(stage) for stage in book.plan.stages.stages])


def _row(stage: Stage) -> Row:
    counts = [str(stage.counts[state]) if stage.counts[state] else "–" for state in STATES]
    name = f"{stage.number} {stage.name}"
    gate_state = GATES.get(stage.gate.state, stage.gate.state)
    cells: tuple[Cell | str, ...] = (name, str(stage.total), *counts, gate_state, Cell(page_of=key_of(stage)))
    return Row(cells, (((stage.purpose, SMALL_SOFT),),))


def key_of(stage: Stage) -> str:
    return f"section-{numbering.STAGE.format(stage.number)}"


def sheets(book: Book) -> list[Part]:
    """One part a stage."""
    return [functools.partial(_stage, stage=stage) for stage in book.plan.stages.stages]


def _stage(flow: Flow, book: Book, stage: Stage) -> None:
    number = numbering.STAGE.format(stage.number)
    parts.section(flow, number, stage.name, aside=_aside(stage), running=f"{number} {stage.name}, run sheet")
    flow.text(stage.purpose, INTRO, keep=True)
    flow.gap(6)
    if not stage.sheet:
        flow.text("Nothing is asked for here at this site.", TEXT)
    sheet = RunSheet(flow, book)
    for one in stage.sheet[:MOST]:
        sheet.put(one)
    if len(stage.sheet) > MOST:
        flow.gap(11)
        flow.text(f"And {len(stage.sheet) - MOST:,} more on screen.", TEXT_BOLD)
    gate(flow, book, stage)


def _aside(stage: Stage) -> str:
    steps, checks = len(stage.steps), stage.total
    return f"{steps} step{'' if steps == 1 else 's'}, {checks} check{'' if checks == 1 else 's'}"


def after(flow: Flow, book: Book) -> None:
    """10.9 and what no longer applies, on a page of their own: a run sheet is taken out of the book."""
    entry = chapters.BY_NUMBER[10]
    flow.add(Band(0.1, anchor=Anchor("chapter-10-end", "", 1, f"{entry.number} {entry.name}")))
    for one in entry.sections:
        records.section(flow, book, entry, one)
    gone = book.plan.stages.gone
    if gone:
        parts.section(flow, "", "Answered, and no longer asked for", key="checks-gone")
        flow.text("The plan moved after these were answered. They are kept, and count for no gate.", TEXT)
        flow.gap(3)
        columns = [Column("Check", bold=True, widest=0.5), Column("Answer"), Column("By"), Column("Proof", widest=0.4)]
        ledger(flow, columns, [_gone(check) for check in gone])
    notes_module.of_section(flow, book.notes, 10)


def _gone(check: SiteCheck) -> Row:
    answer = check.answer
    return Row((check.title, STATES.get(answer.state, answer.state), answer.by or "—", answer.proof or "—"))
