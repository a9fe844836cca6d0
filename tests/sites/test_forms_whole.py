"""Every form of the house shows every field that it has: what nobody can fill in is a fault, and raises."""

import dataclasses

import pytest
from allauth.core import context
from crispy_forms.utils import render_crispy_form
from django import forms
from django.conf import settings
from django.contrib.sessions.backends.cache import SessionStore
from django.http import QueryDict
from django.utils.module_loading import import_string
from html5lib import parse

from planner.record.chapters import SECTIONS
from sites.actions.records import add_record
from sites.forms import door, record_form
from sites.forms.layout import Laid, LeftOut, Whole, helper_for
from sites.forms.stages import AnswerForm, StepForm
from sites.forms.whatif import WhatIfForm
from sites.loading import read_site
from sites.models import Person
from sites.viewing.new_password import NewPasswordForm
from tests.secrets.test_none_is_missed import BARE, BY_SECTION, CHECK, FORMS, every_form

GRIDS = {WhatIfForm}  # a table of hundreds of boxes, which its page shows itself
BOXES = ("input", "select", "textarea", "output")

# Forms of allauth's pages, by how each is made
DOOR = {
    door.SignInForm: lambda: door.SignInForm(),
    door.ChangePasswordForm: lambda: door.ChangePasswordForm(user=Person()),
    door.PasswordAgainForm: lambda: door.PasswordAgainForm(user=Person()),
    door.LetterForm: lambda: door.LetterForm(),
    door.CodeForm: lambda: door.CodeForm(user=Person()),
    door.CodeAgainForm: lambda: door.CodeAgainForm(user=Person()),
    door.SetUpForm: lambda: door.SetUpForm(user=Person(email="a@larkfield.example")),
    NewPasswordForm: lambda: NewPasswordForm(user=Person()),
}
NEVER_SHOWN = {door._Letter, door.LetterSecretForm}  # what LetterForm is made of; a link's secret


def page_of(form: forms.Form):
    return parse(render_crispy_form(form), namespaceHTMLElements=False)


def shows(form: forms.Form) -> None:
    """Every field has its box on the page, or says that there is nothing to choose from."""
    page = page_of(form)
    names = {box.get("name") for tag in BOXES for box in page.iter(tag)}
    ids = {box.get("id") for tag in BOXES for box in page.iter(tag)}
    assert form.rendered_fields == set(form.fields)
    for bound in form:
        empty = isinstance(bound.field, forms.MultipleChoiceField) and not bound.field.choices
        assert bound.html_name in names or bound.id_for_label in ids or empty, bound.name


def test_every_form_is_known_here():
    assert every_form() - {*BARE, *GRIDS} == {*FORMS, *BY_SECTION, *DOOR, *NEVER_SHOWN} - GRIDS
    assert {one for one in every_form() if not issubclass(one, Laid)} == GRIDS


@pytest.mark.parametrize(
    "form", [one for one in FORMS if one not in GRIDS], ids=lambda form: form.__name__
)
def test_every_field_of_a_form_is_shown(form, db):
    for make in FORMS[form]:
        shows(make(QueryDict()))


@pytest.mark.parametrize("wants", ["note", "value", "photo", "probe"])
def test_the_boxes_of_an_answer_fit_its_check(wants):
    check = dataclasses.replace(CHECK, wants=wants, unit="ms", low=None, high=20.0)
    form = AnswerForm(check=check, typed={"state": "trust", "note": "Seen from afar."})
    shows(form)
    page = page_of(form)
    read = page.find(".//input[@name='measured']")
    assert (read is not None) == (wants == "value")
    if read is not None:
        assert read.get("inputmode") == "decimal" and page.find(".//*[@class='unit']").text == "ms"
    marked = [box.get("value") for box in page.iter("input") if box.get("checked") is not None]
    assert marked == ["trust"] and page.find(".//textarea").text.strip() == "Seen from afar."


@pytest.mark.parametrize("form", DOOR, ids=lambda form: form.__name__)
def test_every_field_at_the_door_is_shown(form, db, rf):
    request = rf.get("/")
    request.session = SessionStore()
    with context.request_context(request):
        shows(DOOR[form]())


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.slug)
def test_every_field_of_a_record_is_shown(section, site):
    record = site if section.kind == "site" else None
    form = record_form(section, read_site(site), record)
    form.helper = helper_for(section, "/there", leave="/back", new=not record, told=False)
    shows(form)
    sent = page_of(form).find(".//form")
    assert sent.get("action") == sent.get("hx-post") == "/there"
    assert (sent.find(".//details") is None) == (section.single or not section.rest)


def test_every_form_of_the_door_is_the_houses():
    """A page of allauth's that shows a form of its own would show one that lays nothing out."""
    for named in (*settings.ACCOUNT_FORMS.values(), *settings.MFA_FORMS.values()):
        assert issubclass(import_string(named), Laid), named


class Two(Laid, forms.Form):
    first = forms.CharField(label="First", help_text="One word.")
    second = forms.CharField(label="Second")


def test_a_field_that_a_layout_leaves_out_raises():
    form = Two()
    form.helper = Whole("first")
    with pytest.raises(LeftOut, match="second"):
        render_crispy_form(form)


def test_a_form_without_a_layout_raises():
    class Bare(forms.Form):
        first = forms.CharField()

    with pytest.raises(AttributeError):
        render_crispy_form(Bare())


@pytest.mark.parametrize("names", [("first", "second", "third"), ("first", "second", "first")])
def test_a_field_that_is_not_there_or_shown_twice_raises(names):
    form = Two()
    form.helper = Whole(*names)
    with pytest.raises(Exception, match=r"third|once"):
        render_crispy_form(form)


def test_a_field_is_told_with_its_hint_and_its_error():
    form = Two({"first": "", "second": "b"})
    page = page_of(form)
    box = page.find(".//input[@name='first']")
    assert box.get("aria-invalid") == "true"
    told = box.get("aria-describedby").split()
    words = {one.get("id"): "".join(one.itertext()).strip() for one in page.iter("p")}
    assert [words[one] for one in told] == ["One word.", "This field is required."]


# -- run sheets, which hold too many forms for a layout each ----------------------------------------

RUN = "/at/larkfield/mill/run/1/"
BY_DEVICE = {"age"}  # a device that kept it says how long
BY_HAND = {"csrfmiddlewaretoken", "photos"}  # taken as files; a telephone opens its camera for it


def sent_from(page: bytes) -> list[set[str]]:
    """What each form of a run sheet's page sends, by name."""
    found = parse(page, namespaceHTMLElements=False).findall(".//form[@data-run-form]")
    tags = ("input", "select", "textarea", "button")
    return [{box.get("name") for tag in tags for box in one.iter(tag)} - BY_HAND for one in found]


def test_a_run_sheet_sends_what_an_answer_is_made_of(site, staff, people, enter):
    own = {"name": "Draught", "stage": 1, "wants": "value", "unit": "m/s", "high": 0.2}
    check = add_record(by=staff, site=site, kind="owncheck", values=own)
    page = enter(people["lead"]).get(f"{RUN}check/own@{check.anchor}/").content
    assert sent_from(page) == [set(AnswerForm.base_fields) - BY_DEVICE]


def test_a_run_sheet_sends_what_a_step_is_moved_by(site, staff, people, enter):
    step = add_record(
        by=staff, site=site, kind="ownstep", values={"name": "Clear the room", "stage": 1}
    )
    page = enter(people["lead"]).get(f"{RUN}step/own@{step.anchor}/").content
    moved, handed = sent_from(page)
    assert moved == set(StepForm.base_fields) - BY_DEVICE - {"owner"}
    assert handed == set(StepForm.base_fields) - BY_DEVICE
