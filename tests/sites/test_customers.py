"""0 Customer: its fields, its members and how they come in, its sites copied and removed."""

import re

import pytest

from planner.record import facts as f
from sites.actions.copying import copy_site
from sites.actions.papers import freeze
from sites.actions.records import add_record
from sites.actions.stages import give_answer
from sites.forms.customers import CopyForm, SiteForm
from sites.forms.secrets import AskingForm
from sites.loading import read_site
from sites.models import Answer, Assumed, Customer, Site


def test_a_lead_changes_the_customer_but_not_its_code(people, site, enter):
    client = enter(people["lead"])
    client.post(
        "/at/larkfield/change",
        {"name": "Larkfield Animal Care", "reference": "C-9", "note": "", "code": "x", "edits": 1},
    )
    found = Customer.objects.get(code="larkfield")
    assert (found.name, found.reference, found.edits) == ("Larkfield Animal Care", "C-9", 2)
    assert found.changed_by == people["lead"]
    assert client.post("/at/larkfield/change", {"name": ""}).status_code == 422


def test_a_role_is_changed_and_ended(people, site, enter):
    member = site.customer.memberships.get(person=people["reader"])
    client = enter(people["lead"])
    client.post(f"/at/larkfield/member/{member.pk}", {"role": "editor"})
    member.refresh_from_db()
    assert member.role == "editor"
    client.post(f"/at/larkfield/member/{member.pk}", {"role": ""})
    assert not site.customer.memberships.filter(person=people["reader"]).exists()
    assert enter(people["reader"]).get("/at/larkfield/").status_code == 404


def test_a_member_of_another_customer_is_not_found(people, site, enter):
    other = Customer.objects.get(code="other").memberships.get()
    assert (
        enter(people["lead"]).post(f"/at/larkfield/member/{other.pk}", {"role": ""}).status_code
        == 404
    )


@pytest.mark.parametrize("url", ["/sign-in/password/change/", "/sign-in/2fa/", "/you"])
def test_own_account_pages_wear_our_look(people, enter, url):
    page = enter(people["reader"]).get(url, follow=True).content.decode()
    assert 'class="sheet alone"' in page and "<h1>" in page and "style=" not in page


def test_a_site_is_removed_and_comes_back_whole(people, site, staff, enter):
    add_record(by=staff, site=site, kind="host", values={"name": "mill-h1"})
    before = read_site(site)
    client = enter(people["lead"])
    assert b"1 host" in client.get("/at/larkfield/mill/remove-site").content
    page = client.post("/at/larkfield/mill/remove-site", follow=True)
    assert client.get("/at/larkfield/mill/hosts/").status_code == 404
    back = re.search(r'action="(/at/larkfield/site-back/\d+)"', page.content.decode())[1]
    client.post(back)
    assert client.get("/at/larkfield/mill/hosts/").status_code == 200
    assert read_site(Site.objects.select_related("customer").get(pk=site.pk)) == before


# -- copying ---------------------------------------------------------------------------------------


@pytest.fixture
def planned(site, staff):
    """A site with one of each kind of thing that a copy must tell apart."""
    network = add_record(
        by=staff, site=site, kind="network", values={"name": "desks", "cidr": "10.1.2.0/24"}
    )
    also = {"name": "office", "gateway": "10.1.3.1", "reaches": [network.pk]}
    add_record(by=staff, site=site, kind="network", values=also)
    own = {"name": "h1", "network_id": network.pk, "address": "10.1.2.9", "memory_gib": 64.0}
    host = add_record(by=staff, site=site, kind="host", values=own)
    add_record(
        by=staff,
        site=site,
        kind="built",
        values={"target": host.anchor, "field": "memory_gib", "value": "48"},
    )
    Assumed.objects.create(site=site, key="host.vcpu-per-core", value=4.0)
    for key, state in (
        ("a@" + host.anchor, "trust"),
        ("b", "proven"),
        ("c", "excused"),
        ("d", "failed"),
    ):
        give_answer(by=staff, site=site, key=key, state=state, proof="seen")
    freeze(by=staff, site=site, reason="first")
    return site


def copied(planned, staff, **words) -> f.SiteFacts:
    made = copy_site(
        by=staff, source=planned, customer=planned.customer, name="Barn", code="barn", **words
    )
    return read_site(Site.objects.select_related("customer").get(pk=made.pk))


def test_a_copy_points_at_its_own_records(planned, staff):
    old, new = read_site(planned), copied(planned, staff, with_addresses=True)
    assert [n.name for n in new.networks] == ["desks", "office"]
    assert new.hosts[0].network_id == new.networks[0].id != old.networks[0].id
    assert new.networks[1].reaches == (new.networks[0].id,)
    assert (new.hosts[0].address, new.networks[0].cidr) == ("10.1.2.9", "10.1.2.0/24")
    assert new.hosts[0].memory_gib == 64.0 and new.assumed == old.assumed
    assert new.built == () and new.signatures == () and new.site.on_site_date is None
    assert read_site(planned) == old  # nothing of the source moved


def test_addresses_stay_behind_unless_asked_for(planned, staff):
    new = copied(planned, staff)
    assert new.hosts[0].address == new.networks[0].cidr == new.networks[1].gateway == ""


def test_answers_never_come_as_proven(planned, staff):
    new = copied(planned, staff, with_addresses=True, with_answers=True, may_excuse=True)
    assert {answer.check: answer.state for answer in new.answers} == {
        f"a@host-{new.hosts[0].id}": "trust",
        "c": "excused",
    }
    assert not Answer.objects.filter(site__code="barn", state__in=("proven", "failed")).exists()


def test_only_a_lead_brings_excusals_to_a_live_site(planned, staff):
    new = copied(planned, staff, with_answers=True)
    assert [answer.state for answer in new.answers] == ["trust"]


def test_a_site_is_copied_only_to_where_one_may_make_one(people, planned, enter):
    words = {"customer": "other", "name": "Barn", "code": "barn"}
    assert enter(people["editor"]).post("/at/larkfield/mill/copy", words).status_code == 422
    words["customer"] = "larkfield"
    assert enter(people["editor"]).post("/at/larkfield/mill/copy", words).status_code == 302
    assert (
        enter(people["editor"]).post("/at/larkfield/mill/copy", words).status_code == 422
    )  # the code is taken


# -- two who change it -----------------------------------------------------------------------------


def opened(client, url: str) -> dict:
    """The form of a customer as its page shows it."""
    page = client.get(url).content.decode()
    return {"edits": re.search(r'name="edits" value="(\d+)"', page)[1]}


def test_a_form_opened_before_reverts_nothing_of_somebody_else(people, site, enter):
    client = enter(people["lead"])
    old = opened(client, "/at/larkfield/")
    theirs = {"name": "Larkfield Vets", "reference": "C-9", "note": "", **old}
    client.post("/at/larkfield/change", theirs)
    own = {"name": "Larkfield Care", "reference": "", "note": "", **old}
    page = client.post("/at/larkfield/change", own, follow=True).content.decode()
    found = Customer.objects.get(code="larkfield")
    assert (found.name, found.reference) == ("Larkfield Care", "C-9")
    assert "Somebody else had changed Reference meanwhile" in page


@pytest.mark.parametrize(
    ("place", "change", "who"),
    [
        ("/at/larkfield/", "/at/larkfield/change", "lead"),
        ("/house/customers/larkfield", "/house/customers/larkfield", "staff"),
    ],
)
def test_two_who_change_the_same_field_are_shown_both(place, change, who, people, site, enter):
    client = enter(people[who])
    old = opened(client, place)
    first = {"name": "Larkfield First", "reference": "C-9", "note": ""}
    client.post(change, first | old)
    own = {"name": "Larkfield Own", "reference": "", "note": ""}
    answer = client.post(change, own | old)
    page = answer.content.decode()
    assert answer.status_code == 409 and Customer.objects.get(pk=site.customer_id).edits == 2
    assert "Name, theirs: Larkfield First" in page and 'value="Larkfield Own"' in page
    shown = {"edits": re.search(r'name="edits" value="(\d+)"', page)[1]}
    assert 'value="C-9"' in page  # what only the other changed stands there already
    again = client.post(change, own | shown | {"reference": "C-9"})
    found = Customer.objects.get(pk=site.customer_id)
    assert (again.status_code, found.name, found.reference) == (302, "Larkfield Own", "C-9")


def test_a_form_that_does_not_say_when_it_was_opened_overwrites_nothing(people, site, enter):
    client = enter(people["lead"])
    sent = {"name": "Larkfield Own", "reference": "", "note": ""}
    assert client.post("/at/larkfield/change", sent).status_code == 409
    assert Customer.objects.get(pk=site.customer_id).name == "Larkfield Vets"


def test_a_code_that_somebody_takes_in_the_same_moment_is_told(
    site, customer, people, enter, monkeypatch
):
    """The form has looked, and then the other one was saved."""
    monkeypatch.setattr(SiteForm, "clean_code", lambda form: form.cleaned_data["code"])
    sent = {"name": "Another", "code": "mill", "purpose": "trial"}
    page = enter(people["editor"]).post("/at/larkfield/sites", sent)
    assert page.status_code == 422
    assert "Another site of this customer has this code." in page.content.decode()
    assert customer.sites.count() == 1


def test_so_is_the_code_of_a_copy(site, customer, people, enter, monkeypatch):
    monkeypatch.setattr(CopyForm, "clean", AskingForm.clean)
    sent = {"customer": "larkfield", "name": "Another", "code": "mill"}
    page = enter(people["lead"]).post("/at/larkfield/mill/copy", sent)
    assert page.status_code == 422
    assert "Another site of this customer has this code." in page.content.decode()
    assert customer.sites.count() == 1
