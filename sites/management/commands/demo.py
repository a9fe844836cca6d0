"""Loads the demo house from ``fixtures/demo`` through the same forms and actions as a person's input."""

from __future__ import annotations

import tomllib

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.http import QueryDict

from planner.chapters import SECTIONS, Section
from planner.facts import SiteFacts
from sites.actions import customers, records
from sites.demo_large import large_site
from sites.forms import record_form
from sites.models import RECORD_MODELS, Customer, Person, Site
from sites.reading import read_site
from sites.standing import plan_of

FOLDER = settings.HOME / "fixtures" / "demo"


class Command(BaseCommand):
    help = "Loads the demo house, unless it is there already. Only in demo mode: its passwords are known."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--small", dest="large", action="store_false", help="leave out the large site")

    def handle(self, *args, large: bool = True, **options) -> None:
        if not settings.PLAIN_START:
            raise CommandError("The demo has known passwords: start with DESKWRIGHT_DEMO=yes, never on a real house.")
        house = tomllib.loads((FOLDER / "house.toml").read_text(encoding="utf-8"))
        people = {one["email"]: self._person(one) for one in house["people"]}
        for path in sorted(FOLDER.glob("site-*.toml")):
            load_site(tomllib.loads(path.read_text(encoding="utf-8")), people)
        if large:
            load_site(large_site(), people)
        self.stdout.write("Demo sign-ins (password for all: " + house["password"] + "):")
        for one in house["people"]:
            self.stdout.write(f"  {one['email']:32} {one['what']}")

    def _person(self, one: dict) -> Person:
        password = tomllib.loads((FOLDER / "house.toml").read_text(encoding="utf-8"))["password"]
        found = Person.objects.filter(email=one["email"]).first()
        if found is None:
            make = Person.objects.create_superuser if one.get("staff") else Person.objects.create_user
            found = make(one["email"], password, name=one["name"])
        return found


def load_site(content: dict, people: dict[str, Person]) -> Site | None:
    """One site with its customer and members; ``None`` when the site is there already."""
    by = next(person for person in people.values() if person.is_staff)
    customer = Customer.objects.filter(code=content["customer"]["code"]).first()
    if customer is None:
        customer = customers.make_customer(by=by, values=content["customer"])
    for email, role in content.get("members", {}).items():
        customers.set_member(customer=customer, email=email, role=role)
    head = content["site"]
    if Site.objects.filter(customer=customer, code=head["code"]).exists():
        return None
    site = records.make_site(by=by, customer=customer, code=head["code"], name=head["name"])
    for section in SECTIONS:
        if section.single:
            type_single(by, site, section, content)
        else:
            facts = read_site(Site.objects.select_related("customer").get(pk=site.pk))
            for values in content.get(section.slug, []):
                type_record(by, site, section, values, facts)
    site = Site.objects.select_related("customer").get(pk=site.pk)
    plan_of(site)  # so that the home page knows how it stands
    return site


def type_single(by: Person, site: Site, section: Section, content: dict) -> None:
    """Types into the one record of a section what the demo knows of it."""
    values = content.get(section.kind, {})
    wanted = {
        one.name: values[one.name.removesuffix("_id")]
        for one in section.fields
        if one.name.removesuffix("_id") in values
    }
    if not wanted:
        return
    site.refresh_from_db()
    model = RECORD_MODELS[section.kind]
    record = site if section.kind == "site" else model.objects.get(site=site)
    facts = read_site(Site.objects.select_related("customer").get(pk=site.pk))
    form = typed_form(site, section, wanted, record, facts)
    records.change_record(by=by, kind=section.kind, pk=record.pk, opened_at=record.edits, values=form.values())


def type_record(by: Person, site: Site, section: Section, values: dict, facts: SiteFacts) -> None:
    names = {one.name.removesuffix("_id"): one.name for one in section.fields}
    unknown = set(values) - set(names)
    if unknown:
        raise CommandError(f"demo: {section.slug}: no field {', '.join(sorted(unknown))}")
    form = typed_form(site, section, {names[name]: value for name, value in values.items()}, None, facts)
    records.add_record(by=by, site=site, kind=section.kind, values=form.values())


def typed_form(site: Site, section: Section, wanted: dict, record, facts: SiteFacts):
    """The form as a person would send it: texts, and references by the name they are known by."""
    blank = record_form(section, facts, record)
    typed = QueryDict(mutable=True)
    by_name = {(row.kind, row.label): str(row.id) for row in facts.records()}
    for one in section.fields:
        bound = blank[one.name]
        value = wanted.get(one.name)
        if value is None and record is not None:
            value = bound.field.prepare_value(getattr(record, one.name))
        elif one.kind in ("record", "records") and value is not None:
            names = value if isinstance(value, list) else [value]
            value = [by_name[(one.to, name)] for name in names]
        items = value if isinstance(value, list) and one.kind in ("several", "records", "record") else [value]
        if isinstance(value, list) and one.kind not in ("several", "records", "record"):
            items = [", ".join(map(str, value))]
        typed.setlist(bound.html_name, [str(item) for item in items if item is not None and item != ""])
    form = record_form(section, facts, record, typed)
    if not form.is_valid():
        raise CommandError(f"demo: {site.code}: {section.slug}: {wanted}: {form.errors.as_text()}")
    return form
