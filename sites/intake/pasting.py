"""Rows pasted from a spreadsheet: read, matched, previewed; nothing is written before it is confirmed."""

from __future__ import annotations

import csv
import functools
import io
from dataclasses import dataclass, field

from django.http import QueryDict

from planner.record.chapters import Field, Section
from planner.record.facts import LISTS, Record, SiteFacts
from sites.actions.rows import RowOutcome
from sites.forms import record_form
from sites.forms.numbers import whole
from sites.forms.records import RecordForm
from sites.forms.secrets import BOX, Asked
from sites.models import RECORD_MODELS, Site, SiteRecord

MOST_ROWS = 500
MOST_TEXT = 200_000


@dataclass
class Pasted:
    """One pasted row: what it will do, and why not.

    ``pk`` and ``edits`` are the record's it was compared with, and that record's edit counter.
    """

    number: int
    cells: list[str]
    does: RowOutcome
    why: str
    form: RecordForm | None
    pk: int | None = None
    edits: int = 0
    changes: tuple[str, ...] = ()
    asked: Asked = field(default_factory=Asked)


@dataclass
class Preview:
    columns: list[Field]
    rows: list[Pasted]
    trouble: str = ""

    @property
    def asked(self) -> Asked:
        """Everything in the rows that looks like a secret, and what was said of it."""
        whole = Asked()
        for row in self.rows:
            whole.add(row.asked)
        return whole

    @property
    def refused(self) -> int:
        return sum(row.does == RowOutcome.REFUSED for row in self.rows)

    @property
    def fit(self) -> bool:
        """Whether all of it can be written."""
        return not self.trouble and not self.refused

    @property
    def looked_at(self) -> str:
        """What the rows were compared with, as the page sends it back: keys of records and their edit counters."""
        return " ".join(f"{row.pk}-{row.edits}" for row in self.rows if row.pk is not None)

    @property
    def writes(self) -> int:
        return sum(row.does in (RowOutcome.ADDED, RowOutcome.CHANGED) for row in self.rows)


def read_rows(text: str) -> list[list[str]]:
    """Lines of cells, parted by tabs, or by semicolons or commas where there is no tab."""
    sign = next((sign for sign in "\t;," if sign in text), "\t")
    rows = csv.reader(io.StringIO(text.replace("\0", "")), delimiter=sign)
    return [[cell.strip() for cell in row] for row in rows if any(cell.strip() for cell in row)]


def counters_in(looked_at: str) -> dict[int, int]:
    """The edit counters by record that a page sends back (see :attr:`Preview.looked_at`)."""
    found = {}
    for word in looked_at.split()[:MOST_ROWS]:
        key, _, edits = word.partition("-")
        pk = whole(key)
        if pk:
            found[pk] = whole(edits)
    return found


def _columns(section: Section, first: list[str]) -> tuple[list[Field], bool]:
    """The columns by the pasted heading, else the ledger's in order; whether there was a heading."""
    names: dict[str, Field] = {}
    for one in section.fields:
        for word in (one.label, one.short, one.column, one.name):
            if word:
                names.setdefault(word.lower(), one)
    found = [names.get(cell.lower()) for cell in first]
    if found and all(found):
        return [one for one in found if one], True
    return section.ledger, False


def preview(site: Site, section: Section, facts: SiteFacts, text: str, ticked: str = "") -> Preview:
    """What each pasted row would do. A row whose name is already there changes that record.

    ``ticked`` is what the box “These are no secrets” sent.
    """
    if len(text) > MOST_TEXT:
        return Preview([], [], f"That is too much at once: paste at most {MOST_ROWS} rows.")
    try:
        rows = read_rows(text)
    except csv.Error as error:
        return Preview([], [], f"The rows cannot be read: {error}.")
    if not rows:
        return Preview([], [], "Paste at least one row.")
    columns, headed = _columns(section, rows[0])
    rows = rows[headed:]
    if len(rows) > MOST_ROWS:
        return Preview([], [], f"That is too much at once: paste at most {MOST_ROWS} rows.")
    known: dict[str, list[Record]] = {}
    for record in getattr(facts, LISTS[section.kind]):
        known.setdefault(record.label.lower(), []).append(record)
    read = functools.partial(
        _row,
        columns=columns,
        known=known,
        standing=RECORD_MODELS[section.kind].objects.filter(site=site, removal=None).in_bulk(),
        section=section,
        facts=facts,
        ticked=ticked,
    )
    shown = Preview(columns, [read(number, cells) for number, cells in enumerate(rows, 1)])
    _refuse_names_that_stand_twice(shown)
    return shown


def _refuse_names_that_stand_twice(shown: Preview) -> None:
    """Which of two rows of one name counts, nobody could say."""
    names = [one.name for one in shown.columns]
    if "name" not in names:
        return
    at = names.index("name")
    first: dict[str, int] = {}
    for row in shown.rows:
        if at < len(row.cells):
            name = row.cells[at].lower()
        else:
            name = ""
        if not name:
            continue
        earlier = first.setdefault(name, row.number)
        if earlier != row.number and row.does != RowOutcome.REFUSED:
            row.does, row.why = (
                RowOutcome.REFUSED,
                f"“{row.cells[at]}” stands in row {earlier} already.",
            )


def _row(
    number: int,
    cells: list[str],
    *,
    columns: list[Field],
    known: dict[str, list[Record]],
    standing: dict[int, SiteRecord],
    section: Section,
    facts: SiteFacts,
    ticked: str,
) -> Pasted:
    if len(cells) > len(columns):
        return Pasted(
            number,
            cells,
            RowOutcome.REFUSED,
            f"{len(cells)} cells, but {len(columns)} columns.",
            None,
        )
    values = dict(zip([one.name for one in columns], cells, strict=False))
    there = known.get(values.get("name", "").lower(), [])
    if len(there) > 1:
        why = f"{len(there)} records here are called “{values['name']}”: change them one by one."
        return Pasted(number, cells, RowOutcome.REFUSED, why, None)
    if there:
        record = standing.get(there[0].id)
    else:
        record = None
    try:
        form = typed_form(section, facts, record, values, ticked)
    except ValueError as error:
        return Pasted(number, cells, RowOutcome.REFUSED, str(error), None)
    if not form.is_valid():
        return Pasted(number, cells, RowOutcome.REFUSED, errors_of(form), None, asked=form.asked)
    if record is None:
        return Pasted(number, cells, RowOutcome.ADDED, "", form, asked=form.asked)
    labels = {one.name: one.label for one in section.fields}
    changes = tuple(
        labels[name] for name, value in form.values().items() if getattr(record, name) != value
    )
    if changes:
        does = RowOutcome.CHANGED
    else:
        does = RowOutcome.SAME
    return Pasted(number, cells, does, "", form, record.pk, record.edits, changes, asked=form.asked)


def errors_of(form: RecordForm) -> str:
    """What a form has to say, in one line."""
    said = []
    for name, errors in form.errors.items():
        words = form.briefly.get(name) or " ".join(errors)
        said.append(f"{form.fields[name].label}: {words}" if name in form.fields else words)
    return " ".join(said)


def typed_form(
    section: Section, facts: SiteFacts, record, values: dict[str, str], ticked: str = ""
) -> RecordForm:
    """The form as if each value was typed or chosen by its words; what is not among them stays. ``ticked`` is what
    the box “These are no secrets” sent.

    Raises ``ValueError`` naming what may be chosen where a word is none of it.
    """
    blank = record_form(section, facts, record)
    typed = QueryDict(mutable=True)
    for one in section.fields:
        field, bound = blank.fields[one.name], blank[one.name]
        if one.name in values:
            items = _sent(one, values[one.name], facts)
        else:
            items = _standing(field, record, one.name)
        if not items and field.required:
            items = [field.choices[0][0]]
        typed.setlist(bound.html_name, [str(item) for item in items])
    typed[BOX] = ticked
    return record_form(section, facts, record, typed)


def _standing(field, record, name: str) -> list:
    """What the control of a record's field holds; nothing for a new record."""
    if record:
        initial = field.prepare_value(getattr(record, name))
    else:
        initial = None
    if isinstance(initial, list | tuple):
        return list(initial)
    if initial is None:
        return []
    return [initial]


def _sent(one: Field, text: str, facts: SiteFacts) -> list[str]:
    """What a browser would send for a cell. Raises ``ValueError`` naming what may be chosen."""
    if not text:
        return []
    try:
        sent = one.kind.sent(one, text, facts)
    except ValueError as error:
        raise ValueError(f"{one.label}: {error}") from error
    if isinstance(sent, list):
        return sent
    return [sent]
