"""Types records into a site as a person would: texts, and references by the name they are known by."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.db.models import Model
from django.http import QueryDict
from django.utils import timezone

from planner.record import kinds
from planner.record.chapters import SECTIONS, Field, Section
from planner.record.facts import SiteFacts
from sites.actions import records
from sites.demo.errors import DemoError
from sites.forms import record_form
from sites.loading import read_site
from sites.models import RECORD_MODELS, Customer, Person, Site

ONE_BY_ONE = (kinds.SEVERAL, kinds.RECORD, kinds.RECORDS, kinds.SITES)


def _names_records(field: Field) -> bool:
    """Whether its choices are other records."""
    return field.kind.refers or field.kind is kinds.ANY_RECORD


def facts_of(site: Site) -> SiteFacts:
    """The site's facts as they stand in the database now."""
    return read_site(Site.objects.select_related("customer").get(pk=site.pk))


def type_in(content: dict, customer: Customer, staff: Person, people: dict[str, Person]) -> Site:
    """A new site with every record of its file."""
    entered = content.get("entered", {})
    head, since = content["site"], timezone.now()
    maker = _who({**entered, **entered.get("site", {})}, staff, people)
    site = records.make_site(by=maker, customer=customer, code=head["code"], name=head["name"])
    facts, moved = facts_of(site), False
    for section in SECTIONS:
        rows = _rows(section, content)
        said = {**entered, **entered.get(section.slug, {})}
        by = _who(said, staff, people)
        if rows and moved and any(_names_records(one) for one in section.fields):
            facts, moved = facts_of(site), False
        for values in rows:
            (change if section.single else add)(by, site, section, values, facts)
        moved = moved or bool(rows)
        if "at" in said:
            stamp(site, section.kind, since, said["at"])
    site.refresh_from_db()
    return site


def _who(said: dict, staff: Person, people: dict[str, Person]) -> Person:
    if "by" in said:
        return people[said["by"]]
    return staff


def _rows(section: Section, content: dict) -> list[dict]:
    """What a file says of a section; of a single record only the values that stand in this section."""
    if not section.single:
        return content.get(section.slug, [])
    names = {one.name.removesuffix("_id") for one in section.fields}
    values = {name: value for name, value in content.get(section.kind, {}).items() if name in names}
    if values:
        return [values]
    return []


def add(by: Person, site: Site, section: Section, values: dict, facts: SiteFacts) -> None:
    """Adds a record; ``facts`` hold the records it refers to."""
    form = _filled(site, section, values, None, facts)
    records.add_record(by=by, site=site, kind=section.kind, values=form.values())


def change(by: Person, site: Site, section: Section, values: dict, facts: SiteFacts) -> None:
    """Changes the section's one record, or the one that ``of`` names; what is not named stays."""
    values = dict(values)
    label = values.pop("of", "")
    of_kind = [
        one
        for one in facts.records()
        if one.kind == section.kind and (section.single or one.label == label)
    ]
    if len(of_kind) != 1:
        raise DemoError(f"demo: {site.code}: {section.slug}: there is no one “{label}”")
    record = RECORD_MODELS[section.kind].objects.get(pk=of_kind[0].id)
    form = _filled(site, section, values, record, facts)
    records.change_record(
        by=by, kind=section.kind, pk=record.pk, opened_at=record.edits, values=form.values()
    )


def _filled(site: Site, section: Section, values: dict, record: Model | None, facts: SiteFacts):
    """The form as a person would send it. Raises :class:`DemoError` where a person would be refused."""
    names = {one.name.removesuffix("_id"): one.name for one in section.fields}
    if set(values) - set(names):
        raise DemoError(
            f"demo: {site.code}: {section.slug}: no field {', '.join(sorted(set(values) - set(names)))}"
        )
    wanted = {names[name]: value for name, value in values.items()}
    blank = record_form(section, facts, record)
    by_name = {(row.kind, row.label): str(row.id) for row in facts.records()}
    typed = QueryDict(mutable=True)
    for one in section.fields:
        bound, value = blank[one.name], wanted.get(one.name)
        if one.name not in wanted and record is not None:
            value = bound.field.prepare_value(
                bound.form.get_initial_for_field(bound.field, one.name)
            )
        elif one.kind.refers and value is not None:
            value = [
                by_name[(one.to, name)] for name in (value if isinstance(value, list) else [value])
            ]
        typed.setlist(
            bound.html_name,
            list(_sent(value, one.kind in ONE_BY_ONE)),
        )
    form = record_form(section, facts, record, typed)
    if not form.is_valid():
        raise DemoError(f"demo: {site.code}: {section.slug}: {values}: {form.errors.as_text()}")
    return form


def _sent(value: object, one_by_one: bool) -> Iterable[str]:
    """A value as a browser sends it: several choices one by one, several words with commas between."""
    if isinstance(value, list | tuple):
        items = value
    else:
        items = [value]
    if isinstance(value, list | tuple) and not one_by_one:
        items = [", ".join(map(str, value))]
    return (str(item) for item in items if item is not None and item != "")


def stamp(site: Site, kind: str, since: dt.datetime, at: dt.datetime) -> None:
    """What was typed into a site's records of a kind since then bears the moment it is said to be from."""
    typed_then, model = (since, timezone.now()), RECORD_MODELS[kind]
    if kind == "site":
        mine = {"pk": site.pk}
    else:
        mine = {"site": site}
    if kind == "site":
        lines = {"id": site.pk}
    else:
        lines = {"site_id": site.pk}
    for rows in (model.objects.filter(**mine), model.history.filter(**lines)):
        rows.filter(made_at__range=typed_then).update(made_at=at)
        rows.filter(changed_at__range=typed_then).update(changed_at=at)
    model.history.filter(**lines, history_date__range=typed_then).update(history_date=at)
