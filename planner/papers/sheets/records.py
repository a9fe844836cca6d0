"""Records as sheets: a row a record, a column a field, typed as planner.record.chapters says."""

from __future__ import annotations

import datetime as dt

from planner.papers.sheets.parts import Column, ColumnKind, Sheet, Value
from planner.plan import Plan
from planner.record import kinds
from planner.record.chapters import BY_SECTION, Field, Section, show_value
from planner.record.facts import Record, SiteFacts

NAME_WIDTH = 22


def host_sheet(plan: Plan) -> Sheet:
    return _sheet(
        plan.facts,
        "hosts",
        "Hosts",
        "Hosts: the machines that carry the desktops",
        plan.facts.hosts,
    )


def datastore_sheet(plan: Plan) -> Sheet:
    title = "Datastores: where images and difference disks lie"
    return _sheet(plan.facts, "datastores", "Datastores", title, plan.facts.datastores)


def template_sheet(plan: Plan) -> Sheet:
    title = "Desktop templates: what a desktop is made of"
    return _sheet(plan.facts, "templates", "Templates", title, plan.facts.templates)


def seat_sheet(plan: Plan) -> Sheet:
    title = "Seat groups: who sits down at which desktop, and when"
    return _sheet(plan.facts, "seats", "Seats", title, plan.facts.seat_groups)


def _sheet(
    facts: SiteFacts, section: str, name: str, title: str, records: tuple[Record, ...]
) -> Sheet:
    part = BY_SECTION[section]
    return Sheet(
        name, title, _columns(part), tuple(_row(part, record, facts) for record in records)
    )


def _columns(section: Section) -> tuple[Column, ...]:
    return tuple(_column(one) for one in section.fields)


def _column(one: Field) -> Column:
    heading, width = one.short or one.label, one.kind.width
    if one.kind.bears_unit:
        return Column(heading, ColumnKind.NUMBER, width, unit="min")
    if one.numeric:
        if one.kind.whole:
            amount = ColumnKind.INTEGER
        else:
            amount = ColumnKind.NUMBER
        return Column(heading, amount, width, unit=one.unit)
    if one.kind is kinds.DATE:
        return Column(heading, ColumnKind.DATE, width)
    kind = ColumnKind.TEXT
    if one.kind.address and not one.kind.several:
        kind = ColumnKind.ADDRESS
    return Column(heading, kind, NAME_WIDTH if one.name == "name" else width)


def _row(section: Section, record: Record, facts: SiteFacts) -> tuple[Value, ...]:
    return tuple(_value(one, getattr(record, one.name), facts) for one in section.fields)


def _value(one: Field, value: object, facts: SiteFacts) -> Value:
    """Numbers and days as such, shares in per cent; everything else in the words of the screen."""
    if isinstance(value, int | float) and not isinstance(value, bool) and one.numeric:
        if one.kind is kinds.PERCENT:
            return round(value * 100, 6)
        return value
    if isinstance(value, dt.date):
        return value
    return show_value(one, value, facts)
