"""What stands in one line holds no line break and no other control character, wherever it comes from."""

import json
import unicodedata

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from planner import exchange
from planner.record.chapters import BY_SECTION
from sites.actions.records import add_record
from sites.forms.customers import CopyForm, CustomerForm, SiteForm
from sites.forms.fields import Words, form_field
from sites.forms.papers import AcceptForm, FreezeForm
from sites.forms.people import AccountForm, InvitationForm
from sites.forms.pilot import PilotLinkForm
from sites.loading import read_site
from sites.models import Contact, Customer, Host, Network, Site

URL = "/at/larkfield/mill/"
TYPED = "Mill\r\nBcc: eve@brackenhythe.example\x0b\x85\u2028\u2029\x00\x1b[2J end"
FOLDED = "Mill Bcc: eve@brackenhythe.example [2J end"


def alone(text: str) -> bool:
    return not any(unicodedata.category(sign) in ("Cc", "Zl", "Zp") for sign in text)


@pytest.mark.parametrize(
    "section", [one for one in BY_SECTION.values() if not one.single], ids=lambda one: one.slug
)
def test_no_field_of_a_record_keeps_one(site, section):
    """Every field that is typed in one line, of every kind of record."""
    facts = read_site(site)
    for one in section.fields:
        field = form_field(one, facts, None)
        if not isinstance(field, Words) or one.kind.word in ("long", "any-field"):
            continue
        assert field.clean(TYPED) == FOLDED, one.name


def test_several_names_in_one_field(site):
    names = next(
        one for part in BY_SECTION.values() for one in part.fields if one.kind.word == "names"
    )
    found = form_field(names, read_site(site), None).clean("vm-1\r\nvm-2\x0b2, vm-3")
    assert found == ["vm-1", "vm-2 2", "vm-3"]


@pytest.mark.parametrize(
    ("form", "name"),
    [
        (lambda data, customer: CustomerForm(data), "name"),
        (lambda data, customer: CustomerForm(data), "reference"),
        (lambda data, customer: SiteForm(data, customer=customer), "name"),
        (lambda data, customer: CopyForm(data, customers=Customer.objects.all()), "name"),
        (lambda data, customer: InvitationForm(data), "name"),
        (
            lambda data, customer: AccountForm(data, email="eve@larkfield.example", unproven=False),
            "name",
        ),
        (lambda data, customer: PilotLinkForm(data), "person"),
        (lambda data, customer: FreezeForm(data), "reason"),
    ],
)
def test_no_other_form_keeps_one(customer, form, name):
    asked = form({name: TYPED}, customer)
    asked.is_valid()
    assert asked.cleaned_data[name] == FOLDED


def test_several_lines_stay_where_they_are_meant():
    asked = AcceptForm({"reason": "First.\nSecond."}, today=None)
    asked.is_valid()
    assert asked.cleaned_data["reason"] == "First.\nSecond."


def test_a_row_typed_and_a_row_pasted(site, people, enter):
    client = enter(people["editor"])
    client.post(URL + "add/contacts", {"new-contacts-name": "Eve\r\nLarch"})
    assert Contact.objects.get().name == "Eve Larch"
    client.post(
        URL + "paste/networks", {"rows": '"desk\r\ntops"\tdesktops\t40\n', "confirm": "yes"}
    )
    assert Network.objects.get().name == "desk tops"


def test_a_site_brought_in(site, staff, people, enter):
    add_record(by=staff, site=site, kind="host", values={"name": "mill\nh1", "note": "one\ntwo"})
    document = json.dumps(exchange.to_document(read_site(site)), default=str).encode()
    client = enter(people["lead"])
    page = client.post("/at/larkfield/bring-in", {"file": SimpleUploadedFile("s.json", document)})
    sent = {
        "parcel": page.context["parcel"],
        "name": "Barn\nhouse",
        "code": "barn",
        "purpose": "trial",
    }
    client.post("/at/larkfield/bring-in", sent)
    assert Site.objects.get(code="barn").name == "Barn house"
    host = Host.objects.get(site__code="barn")
    assert (host.name, host.note) == ("mill h1", "one\ntwo")
    assert alone(host.name)
