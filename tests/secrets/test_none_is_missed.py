"""Every form and every column that holds words is known here: one that nobody asks fails.

Whoever adds a form adds how to make it to ``FORMS``; whoever adds a column of text adds a field that is asked, or says
in ``NOT_TYPED`` who writes it.
"""

from __future__ import annotations

import datetime as dt
import importlib
import pkgutil

import pytest
from django import forms
from django.apps import apps
from django.db import models
from django.http import QueryDict

import sites.forms
from planner.catalogue.assumptions import Numbers
from planner.plan import Plan
from planner.record.chapters import SECTIONS, fields_of
from sites.forms import door, record_form
from sites.forms.addresses import CarveForm
from sites.forms.assumptions import AssumptionForm
from sites.forms.built import BuiltForm
from sites.forms.customers import CopyForm, CustomerForm, RoleForm, SiteForm
from sites.forms.described import DescribedForm
from sites.forms.exchange import FileForm
from sites.forms.fields import Clock, Day, Quantity
from sites.forms.guard import GuardedForm
from sites.forms.house import GivenAddressForm, HouseCustomerForm, NameForm, StaffForm
from sites.forms.house_work import EstimateForm, WorkForm
from sites.forms.papers import AcceptForm, BookForm, FreezeForm
from sites.forms.pasting import PasteForm
from sites.forms.people import AccountForm, AddressForm, InvitationForm
from sites.forms.pilot import PilotLinkForm, PilotNotesForm
from sites.forms.probe import RestForm, ResultsForm
from sites.forms.records import RecordForm
from sites.forms.secrets import AskingForm
from sites.forms.stages import AnswerForm, ExcuseForm, Sent, StepForm
from sites.forms.step_plans import StepPlansForm
from sites.forms.whatif import WhatIfForm
from sites.loading import read_site
from sites.models import RECORD_MODELS, Customer, Person
from sites.viewing.new_password import NewPasswordForm
from tests.factories import site_facts

SECRET = "password: hunter2"
FACTS = site_facts()
CHECK = next(iter(Plan(FACTS).stages.checks.values()))
BARE = (AskingForm, GuardedForm, DescribedForm, Sent)  # what others are made of
AT_THE_DOOR = {  # of what is typed there nothing is kept but a password's hash
    getattr(door, name)
    for name in vars(door)
    if isinstance(getattr(door, name), type) and getattr(door, name).__module__ == door.__name__
} | {NewPasswordForm}
BY_SECTION = (RecordForm, BuiltForm)  # each section of each kind, below
HOUSE_TIMES = {"facts": FACTS, "times": (), "set_before": None}

# How each form is made with what was sent. Several where a form differs by what it is of.
FORMS = {
    CarveForm: [lambda sent: CarveForm(sent, plan=Plan(FACTS))],
    AssumptionForm: [
        lambda sent: AssumptionForm(sent, one=next(iter(Numbers().all.values())), facts=FACTS)
    ],
    CustomerForm: [lambda sent: CustomerForm(sent), lambda sent: CustomerForm(sent, changing=True)],
    SiteForm: [lambda sent: SiteForm(sent, customer=Customer())],
    InvitationForm: [InvitationForm],
    AccountForm: [lambda sent: AccountForm(sent, email="a@larkfield.example", unproven=True)],
    AddressForm: [AddressForm],
    NameForm: [NameForm],
    GivenAddressForm: [lambda sent: GivenAddressForm(sent, person=Person())],
    StaffForm: [StaffForm],
    HouseCustomerForm: [HouseCustomerForm],
    RoleForm: [RoleForm],
    CopyForm: [lambda sent: CopyForm(sent, customers=Customer.objects.none())],
    FileForm: [lambda sent: FileForm(sent, most=1)],
    WorkForm: [
        lambda sent: WorkForm(sent, what="step", facts=FACTS),
        lambda sent: WorkForm(sent, what="check", facts=FACTS),
    ],
    EstimateForm: [lambda sent: EstimateForm(sent, **HOUSE_TIMES)],
    FreezeForm: [FreezeForm],
    BookForm: [lambda sent: BookForm(parts=[("whole", "The book")], letters="AB")],
    AcceptForm: [lambda sent: AcceptForm(sent, today=dt.date(2027, 1, 14))],
    PilotLinkForm: [PilotLinkForm],
    PilotNotesForm: [lambda sent: PilotNotesForm(sent, asked=["a", "b@host-1"])],
    ResultsForm: [lambda sent: ResultsForm()],
    PasteForm: [lambda sent: PasteForm()],
    RestForm: [lambda sent: RestForm(sent, checks=["flows-open"])],
    AnswerForm: [lambda sent: AnswerForm(sent, check=CHECK)],
    StepForm: [StepForm],
    ExcuseForm: [ExcuseForm],
    StepPlansForm: [lambda sent: StepPlansForm(sent, facts=FACTS)],
    WhatIfForm: [lambda sent: WhatIfForm(sent, facts=FACTS)],
}

# Texts in forms that nothing keeps, or that no person types, and why
NOT_KEPT = {
    (CarveForm, "within"): "a supernet; the page is an address that only looks",
    (CarveForm, "more"): "names of subnets that are tried out and never kept",
    (PasteForm, "rows"): "each cell is asked by the form of its record",
    (AssumptionForm, "was"): "held against the value that stands",
    (EstimateForm, "was"): "held against the times that stand",
    (AnswerForm, "token"): "made by the house or the device",
    (StepForm, "token"): "made by the house or the device",
}
NO_WORDS = (
    Quantity,
    Day,
    Clock,
    forms.RegexField,
)  # what they give back is a number, a day, a time, or a key


def every_form() -> set[type[forms.Form]]:
    """Every form class that the house has."""
    for _, name, _ in pkgutil.walk_packages(sites.forms.__path__, "sites.forms."):
        importlib.import_module(name)
    found, left = set(), [forms.BaseForm]
    while left:
        for one in left.pop().__subclasses__():
            left.append(one)
            if one.__module__.startswith("sites."):
                found.add(one)
    return found


def words_of(form: forms.Form) -> list[str]:
    """The fields of a form that give back words somebody typed, worked out without asking the form."""
    return [
        name
        for name, one in form.fields.items()
        if isinstance(one, forms.CharField)
        and not isinstance(one, NO_WORDS)
        and not one.disabled
        and not isinstance(one.widget, forms.PasswordInput)
    ]


def sent(form: forms.Form, name: str) -> QueryDict:
    query = QueryDict(mutable=True)
    query[form[name].html_name] = SECRET
    return query


def refused(form: forms.Form, name: str) -> bool:
    form.is_valid()
    return any(error.code == "secret" for error in form.errors.as_data().get(name, ()))


def test_every_form_is_known_here():
    assert every_form() - AT_THE_DOOR == {*FORMS, *BARE, *BY_SECTION}


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.__name__)
def test_every_text_of_a_form_is_asked(form, db):
    for make in FORMS[form]:
        blank = make(QueryDict())
        for name in words_of(blank):
            if (form, name) not in NOT_KEPT:
                assert refused(make(sent(blank, name)), name), name


def test_what_is_said_not_to_be_kept_is_there(db):
    for form, name in NOT_KEPT:
        assert all(name in make(QueryDict()).fields for make in FORMS[form]), (form, name)


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.slug)
def test_every_text_of_a_record_is_asked(section, site):
    record = site if section.kind == "site" else None
    facts = read_site(site)
    blank = record_form(section, facts, record)
    for name in words_of(blank):
        assert refused(record_form(section, facts, record, sent(blank, name)), name), name


def test_a_new_text_field_of_a_form_that_does_not_ask_is_noticed(db):
    """What the tests above rest on: a form that asks nothing lets the secret through."""

    class Careless(forms.Form):
        remark = forms.CharField(required=False)

    blank = Careless(QueryDict())
    assert words_of(blank) == ["remark"] and not refused(Careless(sent(blank, "remark")), "remark")
    Careless.__module__ = "sites.forms.careless"
    assert Careless in every_form() - {*FORMS, *BARE, *BY_SECTION}
    Careless.__module__ = __name__


# -- columns ---------------------------------------------------------------------------------------

# Columns of text that a form's field fills
TYPED = {
    "Customer.name": (CustomerForm, "name"),
    "Customer.code": (CustomerForm, "code"),
    "Customer.reference": (CustomerForm, "reference"),
    "Customer.note": (CustomerForm, "note"),
    "Site.name": (SiteForm, "name"),
    "Site.code": (SiteForm, "code"),
    "Person.name": (AccountForm, "name"),
    "Person.email": (GivenAddressForm, "email"),
    "Invitation.name": (InvitationForm, "name"),
    "Invitation.email": (InvitationForm, "email"),
    "AddressLetter.email": (AddressForm, "email"),
    "Assumed.note": (AssumptionForm, "note"),
    "HouseAssumption.note": (AssumptionForm, "note"),
    "Acceptance.reason": (AcceptForm, "reason"),
    "Revision.reason": (FreezeForm, "reason"),
    "Answer.proof": (AnswerForm, "note"),
    "Answer.measured": (AnswerForm, "measured"),
    "Answer.value": (AnswerForm, "value"),
    "PilotLink.person": (PilotLinkForm, "person"),
    "PilotResult.note": (PilotNotesForm, "note-a"),
    "HouseEstimate.note": (EstimateForm, "note"),
}

# Columns of text that no person fills, and who does
NOT_TYPED = {
    "Site.purpose": "chosen",
    "Site.paper": "chosen",
    "Site.standing": "worked out",
    "Membership.role": "chosen",
    "Invitation.role": "chosen",
    "HouseMark.kind": "chosen",
    "Invitation.digest": "made here",
    "AddressLetter.digest": "made here",
    "SaidHarmless.digest": "made here",
    "PilotLink.token_hash": "made here",
    "Person.password": "a hash, made here",
    "TakenForm.token": "made here or by the device",
    "TakenForm.kind": "the kind of what was made",
    "Answer.token": "made here or by the device",
    "StepDone.token": "made here or by the device",
    "Assumed.key": "the catalogue's",
    "HouseAssumption.key": "the catalogue's",
    "HouseEstimate.step": "the catalogue's",
    "Assumed.origin": "chosen",
    "HouseAssumption.origin": "chosen",
    "Answer.check_key": "the plan's; one that a foreign site bears is asked by the Tidier",
    "Answer.state": "chosen",
    "Answer.unit": "the check's, asked where the check was written",
    "PilotResult.check_key": "the plan's",
    "PilotResult.state": "chosen",
    "StepDone.step_key": "the plan's",
    "Proof.kind": "chosen",
    "Proof.media_type": "told by the content",
    "Proof.place": "made here",
    "Proof.small_place": "made here",
    "Proof.name": "asked with the file: test_doors",
    "Signature.on_trust": "keys of the plan",
    "Signature.excused": "keys of the plan",
    "Signature.checks": "keys of the plan",
    "Signature.fingerprint": "worked out",
    "Acceptance.finding": "the review's",
    "Acceptance.title": "the review's",
    "Revision.letter": "counted",
    "Revision.fingerprint": "worked out",
    "Revision.content": "the plan as it stands",
    "Printed.paper": "the paper's name",
    "Printed.letter": "counted",
    "Printed.fingerprint": "worked out",
    "Removal.what": "the name of a record",
    "HouseWork.what": "chosen",
    "HouseWork.when": "chosen",
}


def text_columns() -> dict[str, tuple[type[models.Model], models.Field]]:
    found = {}
    for model in apps.get_app_config("sites").get_models():
        if model.__name__.startswith("Historical"):
            continue  # a copy of what was saved
        for column in model._meta.get_fields():
            if isinstance(
                column, models.CharField | models.TextField | models.JSONField | models.BinaryField
            ):
                found[f"{model.__name__}.{column.name}"] = (model, column)
    return found


def of_a_record() -> set[str]:
    """Columns that the form of their record fills: it asks, as the tests above show."""
    found = set()
    for kind, model in RECORD_MODELS.items():
        found |= {f"{model.__name__}.{name}" for name in fields_of(kind)}
    return found | {
        f"HouseWork.{one.name}"
        for what in ("step", "check")
        for one in WorkForm(what=what, facts=FACTS).described
    }


def test_every_column_of_text_is_asked_or_nobody_types_it():
    known = {*TYPED, *NOT_TYPED, *of_a_record()}
    columns = text_columns()
    assert len(columns) > 150
    assert set(columns) - known == set()
    assert ({*TYPED, *NOT_TYPED} - set(columns)) == set()  # what is gone is not named any more


def test_what_fills_a_column_is_a_field_that_is_asked(db):
    for form, name in TYPED.values():
        if form is not None:
            assert any(name in words_of(make(QueryDict())) for make in FORMS[form]), (form, name)
            assert (form, name) not in NOT_KEPT
