"""10 Stages: where each stands, the on-site day, then each one's run sheet on pages of its own."""

from __future__ import annotations

import functools
from collections.abc import Callable

from planner.papers.book import codes, numbering, parts, pictures, records
from planner.papers.book import notes as notes_module
from planner.papers.book.bands import Anchor, Band, Flow, Piece, text_bands
from planner.papers.book.circles import word_of
from planner.papers.book.edition import Book
from planner.papers.book.ledger import Cell, Column, Row, ledger
from planner.papers.book.look import INTRO, SMALL, SMALL_SOFT, TEXT, TEXT_BOLD, TEXT_SOFT
from planner.papers.book.run_sheet import RunSheet, gate
from planner.papers.book.words import width
from planner.record import chapters
from planner.record.choices import AnswerState
from planner.review.words import and_list
from planner.stages.day_words import length_words
from planner.stages.results import SiteCheck, Stage

Part = Callable[[Flow, Book], None]
MOST = 1500  # steps and checks of one printed stage
CODE = 72.0  # points a code is wide, with its quiet zone


def overview(flow: Flow, book: Book) -> None:
    entry = chapters.BY_NUMBER[10]
    parts.chapter(flow, entry.number, entry.name, entry.intro)
    rule = "A live gate opens when every check is proven or excused."
    if not book.facts.site.live:
        rule = "This is a trial: its gates also accept what is on trust. A live gate would not."
    words = f"{rule} Gates are signed in order."
    if book.part.internal:
        words += " Each stage has its run sheet on pages of its own: they can be taken out and carried to the work."
    flow.text(words, TEXT, room=flow.measure * 0.86)
    flow.gap(6)
    columns = [
        Column("Stage", bold=True),
        Column("Checks", numeric=True),
        *(Column(word, numeric=True) for word in map(word_of, AnswerState)),
        Column("Gate"),
    ]
    if book.part.internal:
        columns.append(Column("Page", numeric=True))
    ledger(flow, columns, [_row(stage) for stage in book.plan.stages.stages])


def _row(stage: Stage) -> Row:
    counts = [str(stage.counts[state]) if stage.counts[state] else "—" for state in AnswerState]
    name = f"{stage.number} {stage.name}"
    gate_state = stage.gate.state.words
    cells: tuple[Cell | str, ...] = (
        name,
        str(stage.total),
        *counts,
        gate_state,
        Cell(page_of=key_of(stage)),
    )
    return Row(cells, (((stage.purpose, SMALL_SOFT),),))


def on_site_day(flow: Flow, book: Book) -> None:
    """Who does what when on the day: the drawing says all of it. Nothing once the day is done."""
    day = book.plan.day
    if day.missing or not (day.bars or day.moved):
        if day.missing:
            parts.section(flow, *numbering.DAY)
            flow.text(f"It is not laid out yet: it needs {and_list(list(day.missing), 6)}.", TEXT)
        return
    parts.section(flow, *numbering.DAY)
    pictures.day(flow, book)


def key_of(stage: Stage) -> str:
    return f"section-{numbering.STAGE.format(stage.number)}"


def sheets(book: Book) -> list[Part]:
    """One part a stage."""
    return [functools.partial(_stage, stage=stage) for stage in book.plan.stages.stages]


def _stage(flow: Flow, book: Book, stage: Stage) -> None:
    number = numbering.STAGE.format(stage.number)
    parts.section(
        flow, number, stage.name, aside=_aside(stage), running=f"{number} {stage.name}, run sheet"
    )
    _head(flow, book, stage)
    if not stage.sheet:
        flow.text("Nothing is asked for here at this site.", TEXT)
    sheet = RunSheet(flow, book)
    for one in stage.sheet[:MOST]:
        sheet.put(one)
    if len(stage.sheet) > MOST:
        flow.gap(11)
        flow.text(f"And {len(stage.sheet) - MOST:,} more on screen.", TEXT_BOLD)
    gate(flow, book, stage)


def _head(flow: Flow, book: Book, stage: Stage) -> None:
    """What the stage is for and how long it takes; at the right, the code that leads to its run sheet on screen."""
    link = codes.address(book.site_url, f"run/{stage.number}/")
    room = flow.measure - (CODE + 12 if link else 0)
    start = len(flow.bands)
    flow.text(stage.purpose, INTRO, room=room, keep=True)
    for words in (_time(stage), _checks(stage), _gate(stage)):
        flow.add(*text_bands(words, TEXT_SOFT, 0, room, keep=True))
    if link:
        first = flow.bands[start]
        first.shapes = (
            *first.shapes,
            codes.code_shape(link, flow.measure - CODE + CODE / 10, -4, CODE),
        )
        words = "On screen"
        at = flow.measure - (CODE - CODE / 5 + width(words, SMALL_SOFT)) / 2
        missing = CODE - 6 - sum(band.height for band in flow.bands[start:])
        if missing > 0:
            flow.add(Band(missing, keep=True))
        flow.add(Band(SMALL.leading, (Piece(at, SMALL.size - 3, words, SMALL_SOFT),), keep=True))
    flow.gap(2 if link else 6)


def _time(stage: Stage) -> str:
    """``About 6 h 30 min of work, somebody stands by; 2 h more run alone.``"""
    work = sum(step.minutes[1] for step in stage.steps if step.attended)
    alone = sum(step.minutes[1] for step in stage.steps if not step.attended)
    if work:
        told = f"About {length_words(work)} of work by one pair of hands"
    else:
        told = ""
    if alone:
        told += (
            f"; {length_words(alone)} more run alone"
            if told
            else f"About {length_words(alone)}, which run alone"
        )
    if told:
        return f"{told}."
    return ""


def _checks(stage: Stage) -> str:
    """``Checks: 20 proven, 3 excused.``"""
    told = [
        f"{count} {AnswerState.words_of(state)}" for state, count in stage.counts.items() if count
    ]
    if told:
        return f"Checks: {', '.join(told)}."
    return ""


def _gate(stage: Stage) -> str:
    return f"Gate {stage.number}: {stage.gate.state.words}."


def _aside(stage: Stage) -> str:
    steps, checks = len(stage.steps), stage.total
    return f"{steps} step{'' if steps == 1 else 's'}, {checks} check{'' if checks == 1 else 's'}"


def after(flow: Flow, book: Book) -> None:
    """10.9 to 10.11 and what no longer applies, on a page of their own: a run sheet is taken out of the book."""
    entry = chapters.BY_NUMBER[10]
    flow.add(Band(0.1, anchor=Anchor("chapter-10-end", "", 1, f"{entry.number} {entry.name}")))
    for one in entry.sections:
        records.section(flow, book, entry, one)
    gone = book.plan.stages.gone
    if gone:
        parts.section(flow, "", "Answered, and no longer asked for", key="checks-gone")
        flow.text(
            "The plan moved after these were answered. They are kept, and count for no gate.", TEXT
        )
        flow.gap(3)
        columns = [
            Column("Check", bold=True, widest=0.5),
            Column("Answer"),
            Column("By"),
            Column("Proof", widest=0.4),
        ]
        ledger(flow, columns, [_gone(check) for check in gone])
    notes_module.of_section(flow, book.notes, 10)


def _gone(check: SiteCheck) -> Row:
    answer = check.answer
    return Row((check.title, word_of(answer.state), answer.by or "—", answer.proof or "—"))
