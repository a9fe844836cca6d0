"""Chapters 1 to 7: what people wrote down, by the same chapters, sections and labels as on screen."""

from __future__ import annotations

from planner.comparing.as_built import NOT_BUILT
from planner.papers.book import notes as notes_module
from planner.papers.book import parts
from planner.papers.book.bands import Flow, Run
from planner.papers.book.edition import Book
from planner.papers.book.ledger import Cell, Column, Grid, Row, ledger
from planner.papers.book.look import SMALL, SMALL_BOLD, SMALL_SOFT
from planner.papers.book.parts import Pair
from planner.record import chapters
from planner.record.chapters import Chapter, Field, Section
from planner.record.facts import Built, Record
from planner.record.kinds import NUMBERS_OF_THINGS

BLANK_ROWS = 3  # to be filled in by hand where nothing is known


def chapter(flow: Flow, book: Book, number: int) -> None:
    """One chapter of records."""
    entry = chapters.BY_NUMBER[number]
    parts.chapter(flow, entry.number, entry.name, entry.intro)
    for one in entry.sections:
        section(flow, book, entry, one)
    notes_module.of_section(flow, book.notes, number)


def section(flow: Flow, book: Book, entry: Chapter, one: Section, with_built: bool = True) -> None:
    """One section with the findings that speak of it; for people outside without room for what was built."""
    with_built = with_built and book.part.internal
    if one.single:
        parts.section(flow, one.number, one.title)
        _single(flow, book, one, with_built)
    else:
        records = book.records(one.kind)
        parts.section(flow, one.number, one.title, aside=_count(one, len(records)))
        if records:
            _table(flow, book, one, records, with_built)
        else:
            _empty(flow, one)
    notes_module.of_section(flow, book.notes, entry.number, one)


def people_and_keys(flow: Flow, book: Book) -> None:
    """Whom to ring, and where the secrets are kept: what a technician needs beside the run sheets."""
    parts.chapter(
        flow,
        None,
        "People and keys",
        "Whom to ring, and where each secret is kept.",
        key="people-and-keys",
    )
    for slug in ("contacts", "credentials"):
        one = chapters.BY_SECTION[slug]
        section(flow, book, chapters.chapter_of(one), one, with_built=False)


def _count(one: Section, count: int) -> str:
    word = one.one or "record"
    if count:
        return f"{count} {word if count == 1 else f'{word}s'}"
    return ""


def words(field: Field, record: Record, book: Book) -> str:
    """A field's value in words, without its unit; numbers that are names have no thousands' sign."""
    if field.name in NUMBERS_OF_THINGS:
        value = getattr(record, field.name)
        if value is None:
            return ""
        return str(value)
    return chapters.show(field, record, book.facts)


def built_pairs(found: list[Built]) -> tuple[tuple[str, str], ...]:
    return tuple((one.value, one.reason) for one in found)


# -- one record ----------------------------------------------------------------------------------


def _single(flow: Flow, book: Book, one: Section, with_built: bool) -> None:
    record = book.records(one.kind)[0]
    rows = [
        _pair(field, record, book) for field in one.fields if field.name != "note" or record.note
    ]
    if not any(row.value for row in rows if row.label != "Purpose" and row.label != "Paper"):
        parts.teaching(flow)
    parts.pairs(flow, rows, with_built)


def _pair(field: Field, record: Record, book: Book) -> Pair:
    value = chapters.with_unit(field, words(field, record, book))
    return Pair(
        field.label,
        value,
        book.notes.marks(record.ref.at(field.name)),
        built_pairs(book.built(record, field.name)),
    )


# -- many records --------------------------------------------------------------------------------


def _table(flow: Flow, book: Book, one: Section, records: list[Record], with_built: bool) -> None:
    columns = [_column(at, field) for at, field in enumerate(one.ledger)]
    if with_built and one.kind not in NOT_BUILT:
        columns.append(Column("Built", blank=True, least=0.1, widest=0.1))
    ledger(
        flow, columns, [_row(book, one, record) for record in records], blanks=book.part.internal
    )


def _column(at: int, field: Field) -> Column:
    return Column(
        field.column, numeric=field.numeric, bold=at == 0, widest=0.32 if at == 0 else 0.3
    )


def _row(book: Book, one: Section, record: Record) -> Row:
    cells = []
    for at, field in enumerate(one.ledger):
        marks = book.notes.marks(record.ref.at(field.name))
        text = words(field, record, book)
        if at == 0:
            marks = (*book.notes.marks(record.ref), *marks)[: notes_module.MOST_MARKS]
            text = text or record.label
        cells.append(Cell(text, marks))
    return Row((*cells, Cell()), tuple(_under(book, one, record)))


def _under(book: Book, one: Section, record: Record) -> list[tuple[Run, ...] | Grid]:
    """What else is known of a record, its note, and what was built otherwise: small lines below its row."""
    found: list[tuple[Run, ...] | Grid] = []
    known: list[tuple[Run, ...]] = []
    missing: list[Run] = []
    for field in one.rest:
        text = chapters.with_unit(field, words(field, record, book))
        marks = [
            (f"{mark}{number}", SMALL_BOLD)
            for mark, number in book.notes.marks(record.ref.at(field.name))
        ]
        if field.name == "note":
            continue
        if text:
            known.append(((field.label, SMALL_SOFT), (_brief(text), SMALL), *marks))
        elif marks:
            missing += [(field.label, SMALL_SOFT), *marks]
    if known:
        found.append(Grid(tuple(known)))
    if missing:
        found.append((("Not known yet:", SMALL_BOLD), *missing))
    found += [
        (("Note" if at == 0 else "", SMALL_SOFT), (part, SMALL))
        for at, part in enumerate(_paragraphs(record.note))
    ]
    for field in one.fields:
        for built in book.built(record, field.name):
            words_built = (f"{field.label} {built.value or 'no value given'}", SMALL_BOLD)
            found.append((("Built:", SMALL_BOLD), words_built, (built.reason, SMALL)))
    return found


def _paragraphs(text: str) -> list[str]:
    return [part for part in text.splitlines() if part.strip()]


def _brief(text: str) -> str:
    """A long text in a line among others is cut; a note is printed whole."""
    if len(text) <= 600:
        return text
    return f"{text[:600].rstrip()}…"


def _empty(flow: Flow, one: Section) -> None:
    parts.teaching(flow, one.what, one.why, one.who)
    wide = 0.8 / max(len(one.ledger), 1)
    columns = [Column(field.column, blank=True, least=wide, widest=wide) for field in one.ledger]
    ledger(flow, columns, [Row(())] * BLANK_ROWS)
