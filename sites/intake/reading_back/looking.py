"""A filled-in sheet laid beside the sheet as it left."""

from __future__ import annotations

from collections import Counter
from typing import Any

from planner.papers import defuse
from planner.papers.sheets.allocation import COLUMNS
from planner.papers.sheets.keys import FILLED, HEADING, NEW, RowKey, read_key
from planner.papers.sheets.table import Table
from planner.plan import Plan, work_out
from planner.record.chapters import Field, Section, sections_of, show_value
from planner.record.facts import Record, SiteFacts, ref_of
from sites.actions.rows import RowOutcome
from sites.forms.secrets import Asked
from sites.intake.pasting import errors_of, typed_form
from sites.intake.reading_back.as_it_left import KINDS, Rows, facts_it_left_with, made_here, rows_of
from sites.intake.reading_back.clashes import find_clashes, not_sorted_apart
from sites.intake.reading_back.outcome import Change, Refused, Row, Seen
from sites.models import RECORD_MODELS, Site

WANTED = ("Address", "Name", HEADING)  # headings without which a file is no allocation sheet
MOST_CHANGES = 1_000
EMPTY = ("nothing", "not said")  # words that empty a value


def look(site: Site, plan: Plan, table: Table, ticked: str = "") -> Seen:
    """What each row of a filled-in allocation sheet would change at a site. Writes nothing. ``ticked`` is what the
    box “These are no secrets” sent."""
    try:
        return _Looking(site, plan, table, ticked).seen()
    except Refused as error:
        return Seen(trouble=str(error), notes=list(table.notes))


class _Looking:
    def __init__(self, site: Site, plan: Plan, table: Table, ticked: str):
        self.site, self.plan, self.facts = site, plan, plan.facts
        self.ticked, self.asked = ticked, Asked()
        names = {column.title.casefold(): column.title for column in COLUMNS}
        self.headings = [names.get(heading.casefold(), "") for heading in table.headings]
        unread = [
            heading
            for heading, known in zip(table.headings, self.headings, strict=True)
            if heading and not known
        ]
        self.filled = 0
        self.notes = list(table.notes)
        if unread:
            self.notes.append(
                f"Not read, because no allocation sheet has them: {', '.join(unread)}."
            )
        cells = [self._cells(row) for row in table.rows]
        self.keyed: list[tuple[Row, dict[str, str]]] = []
        self.new: list[tuple[Row, dict[str, str]]] = []
        self.rows = [
            self._begin(number, found) for number, found in zip(table.numbers, cells, strict=True)
        ]
        self.here = rows_of(plan)
        self.records = self._records()

    def _cells(self, row: tuple[str, ...]) -> dict[str, str]:
        found: dict[str, str] = {}
        for heading, text in zip(self.headings, row, strict=True):
            if heading:
                found.setdefault(heading, defuse.clean(text).strip())
        return found

    def _begin(self, number: int, cells: dict[str, str]) -> Row:
        text = cells.pop(HEADING, "")
        name = cells.get("Name", "") or cells.get("Address", "")
        if not text:
            row = Row(number, "device", name)
            self.new.append((row, cells))
            return row
        try:
            key = read_key(text)
        except ValueError:
            why = "Its key is damaged. Copy it from the sheet as it left, or empty it if the row is a new device."
            return Row(number, "device", name).refuse(why)
        row = Row(number, key.kind, name, key=key)
        if (key.kind, key.part) not in FILLED:
            row.kind = "device"
            return row.refuse(
                "Its key names something that no row of an allocation sheet is about."
            )
        named = ref_of(key.anchor)
        row.pk = named.id if named else 0
        self.keyed.append((row, cells))
        return row

    def _records(self) -> dict[str, Any]:
        """The saved records that keys name, by anchor: one query a kind."""
        found = {}
        for kind in KINDS:
            wanted = {row.pk for row, _ in self.keyed if row.kind == kind}
            for record in RECORD_MODELS[kind].objects.filter(
                site=self.site, removal=None, pk__in=wanted
            ):
                found[record.anchor] = record
        return found

    # -- the whole -----------------------------------------------------------------------------------

    def seen(self) -> Seen:
        fingerprint = self._of_one_sheet()
        base = self._base()
        if base:
            then = rows_of(work_out(base))
        else:
            then = None
        if then:
            not_sorted_apart(self.keyed, then)
        seen = Seen(self.rows, self.notes, fingerprint=fingerprint)
        copies = Counter(row.key.row for row, _ in self.keyed if row.key)
        for row, cells in self.keyed:
            if row.does != RowOutcome.REFUSED and row.key:
                self._read(row, row.key, cells, then, base, twice=copies[row.key.row] > 1)
                seen.moved += self._moved(row, then)
        for row, cells in self.new:
            self._read_new(row, cells)
        find_clashes(self.facts, self.rows)
        seen.asked = self.asked
        for row in self.rows:
            if row.does != RowOutcome.REFUSED and any(one.clash for one in row.changes):
                row.does = RowOutcome.CONFLICT
        return seen

    def _of_one_sheet(self) -> str:
        """The fingerprint of the sheet; rows of another sheet among them are refused."""
        keys = [row.key for row, _ in self.keyed if row.key]
        if not keys:
            return ""
        fingerprint = Counter(key.fingerprint for key in keys).most_common(1)[0][0]
        for row, _ in self.keyed:
            if row.key and row.key.fingerprint != fingerprint:
                row.refuse(
                    f"It is of another sheet, of the plan {row.key.fingerprint}. Read that one back by itself."
                )
        key = next(key for key in keys if key.fingerprint == fingerprint)
        if not made_here(self.site, self.plan, key):
            raise Refused(
                f"This sheet was made from another site: {key.customer}/{key.site}, {key.fingerprint}."
            )
        return fingerprint

    def _base(self) -> SiteFacts | None:
        keys = [row.key for row, _ in self.keyed if row.key and row.does != RowOutcome.REFUSED]
        if keys:
            return facts_it_left_with(self.site, self.plan, keys)
        return None

    def _moved(self, row: Row, then: Rows | None) -> int:
        """How many cells of a row read otherwise here now, though the sheet leaves them alone."""
        if not then or row.does == RowOutcome.REFUSED or not row.key:
            return 0
        was, now = then.get(row.key.row, {}), self.here.get(row.key.row, {})
        mine = {one.field.name for one in row.changes}
        fields = FILLED[row.kind, row.key.part]
        return sum(
            was.get(name) != now.get(name) for name, own in fields.items() if own not in mine
        )

    # -- one row -------------------------------------------------------------------------------------

    def _read(
        self,
        row: Row,
        key: RowKey,
        cells: dict[str, str],
        then: Rows | None,
        base: SiteFacts | None,
        twice: bool,
    ) -> None:
        record, fact = self.records.get(row.anchor), self.facts.index.get((row.kind, row.pk or 0))
        if record is None or fact is None:
            row.refuse("It was removed here since, or is of another site.")
            return
        row.whose, row.opened_at = fact.label, record.edits
        left = (then or self.here).get(key.row) or self.here.get(key.row, {})
        fields = FILLED[row.kind, key.part]
        filled = {}
        for heading, text in cells.items():
            was = left.get(heading, "")
            if _same(text, was):
                continue
            if heading not in fields:
                if text:
                    row.asides.append(f"{heading} is not read from this row")
            elif not text:
                row.asides.append(f"{heading} is empty, so it stays {was}")
            else:
                filled[fields[heading]] = text
        if filled and twice:
            row.refuse(
                "Another row bears the same key. If this one is a copy for a new device, empty its key."
            )
        elif filled:
            self._fill(row, record, fact, filled, base)

    def _fill(
        self, row: Row, record, fact: Record, filled: dict[str, str], base: SiteFacts | None
    ) -> None:
        section = _section(row.kind, filled)
        values = self._typed(row, section, record, filled)
        if base:
            before = base.index.get((row.kind, row.pk or 0))
        else:
            before = None
        for name, value in values.items():
            theirs = getattr(record, name)
            if value == theirs:
                continue
            one = next(one for one in section.fields if one.name == name)
            change = Change(
                one, self._words(one, getattr(fact, name)), self._words(one, value), value
            )
            if before is None or _plain(getattr(before, name)) != theirs:
                if before:
                    was = f"it was {self._words(one, getattr(before, name))} on the sheet"
                else:
                    was = "nobody can tell what it was"
                change.clash = (
                    f"{one.label} was changed here since: {was}, it is {change.here} now."
                )
            row.changes.append(change)
        if row.changes:
            row.does = RowOutcome.CHANGED

    def _typed(self, row: Row, section: Section, record, filled: dict[str, str]) -> dict[str, Any]:
        """The values as the record's form takes them; a row that it does not take is refused."""
        self.filled += 1
        if self.filled > MOST_CHANGES:
            raise Refused(
                f"More than {MOST_CHANGES} rows are filled in. Take the sheet apart and bring it in pieces."
            )
        sent = {name: "" if text.lower() in EMPTY else text for name, text in filled.items()}
        try:
            form = typed_form(section, self.facts, record, sent, self.ticked)
        except ValueError as error:
            row.refuse(f"{error}".rstrip(".") + ".")
            return {}
        form.is_valid()
        self.asked.add(form.asked)
        if set(form.errors) & {*filled, "__all__"}:
            row.refuse(errors_of(form))
            return {}
        return {name: form.cleaned_data[name] for name in filled}

    def _words(self, one: Field, value: Any) -> str:
        return (
            show_value(one, tuple(value) if isinstance(value, list) else value, self.facts)
            or "nothing"
        )

    def _read_new(self, row: Row, cells: dict[str, str]) -> None:
        filled = {
            own: cells[name]
            for name, own in NEW.items()
            if cells.get(name) and cells[name].lower() not in EMPTY
        }
        if ":" in filled.get("address", ""):
            filled["ipv6_address"] = filled.pop("address")
        if "network_id" not in filled:
            filled |= self._network(cells)
        [section] = sections_of("device")
        values = self._typed(row, section, None, filled)
        if row.does == RowOutcome.REFUSED:
            return
        known = {one.label.casefold() for one in self.facts.devices}
        for one in section.fields:
            if values.get(one.name) in (None, "", []):
                continue
            change = Change(one, "", self._words(one, values[one.name]), values[one.name])
            if one.name == "name" and change.there.casefold() in known:
                change.clash = f"A device called {change.there} stands here already."
            row.changes.append(change)
        row.does = RowOutcome.ADDED

    def _network(self, cells: dict[str, str]) -> dict[str, str]:
        """The network of a new device that only says its subnet or its VLAN, when that tells it."""
        for name, own in (("Subnet", "cidr"), ("VLAN", "vlan")):
            found = [
                one
                for one in self.facts.networks
                if cells.get(name) and str(getattr(one, own)) == cells[name]
            ]
            if len(found) == 1:
                return {"network_id": found[0].ref.anchor}
        return {}


def _plain(value: Any) -> Any:
    """A fact's value as its column holds it."""
    if isinstance(value, tuple):
        return list(value)
    return value


def _section(kind: str, names: dict[str, str]) -> Section:
    """The section whose form holds these fields."""
    return next(
        one for one in sections_of(kind) if set(names) <= {field.name for field in one.fields}
    )


def _same(text: str, was: str) -> bool:
    return " ".join(text.split()) == " ".join(defuse.clean(was).split())
