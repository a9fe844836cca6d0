"""A site leaves as JSON and comes into another Deskwright: the same plan, nothing proven, nothing believed."""

import dataclasses
import datetime as dt
import json
import re
import time

import pytest
from django.conf import settings as house
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import HealthCheck, given, settings

from planner import exchange
from planner.plan import Plan
from planner.record import facts as f
from sites.actions.customers import make_customer
from sites.actions.exchange import bring_in, settled
from sites.actions.papers import accept, freeze
from sites.actions.records import add_record, change_record
from sites.actions.stages import give_answer
from sites.forms.foreign import Tidier
from sites.loading import read_site
from sites.models import Answer, Assumed, Host, HouseAssumption, Person, Printed, Site
from tests.factories import TODAY, site_facts
from tests.foreign_sites import counted_through, sites

URL = "/at/larkfield/bring-in"
EXPORT = "/at/larkfield/mill/print/site.json"


def facts_of(site: Site) -> f.SiteFacts:
    return read_site(Site.objects.select_related("customer").get(pk=site.pk))


def alike(facts: f.SiteFacts) -> f.SiteFacts:
    """What must be the same of a site and of the one it became: all of its plan."""
    site = dataclasses.replace(facts.site, name="", code="", joined=())
    lists = {"answers": (), "signatures": (), "acceptances": (), "neighbours": ()}
    head = {"customer": "", "customer_code": "", "today": TODAY}
    assumed = tuple(sorted(facts.assumed, key=lambda one: one.key))
    return counted_through(dataclasses.replace(facts, site=site, assumed=assumed, **lists, **head))


def upload(client, content, name="site.json"):
    data = content if isinstance(content, bytes) else json.dumps(content).encode()
    return client.post(URL, {"file": SimpleUploadedFile(name, data)})


def confirm(client, page, **values):
    parcel = re.search('name="parcel" value="([^"]*)"', page.content.decode())[1]
    words = {"name": "Barn", "code": "barn", "purpose": "trial"}
    return client.post(URL, {"parcel": parcel, **words, **values})


@pytest.fixture
def planned(site, staff):
    """A site with one of each kind of thing that must be told apart on the way."""

    def add(kind, **values):
        return add_record(by=staff, site=site, kind=kind, values=values)

    opened = site.edits
    change_record(
        by=staff,
        kind="site",
        pk=site.pk,
        opened_at=opened,
        values={
            "street_address": "12 Mill Street, Larkfield",
            "time_zone": "Europe/Vienna",
            "work_days": ["1", "2"],
            "on_site_date": dt.date(2027, 1, 14),
            "work_starts": dt.time(7, 30),
            "people_count": 36,
        },
    )
    core = add("network", name="core", cidr="10.44.1.0/24", vlan=10, dns_servers=["10.44.1.5"])
    desks = add("network", name="desks", reaches=[core.pk], lease_minutes=1440)
    host = add(
        "host", name="mill-h1", network_id=core.pk, address="10.44.1.11", memory_gib=931.32257461548
    )
    add("datastore", name="h1-local", host_id=host.pk, disk_gb=960.0)
    image = add("image", name="office", bits=64)
    add("application", name="records", image_id=image.pk, licences_held=20)
    template = add(
        "template", name="front desk", image_id=image.pk, network_id=desks.pk, passes=["clipboard"]
    )
    add(
        "seatgroup",
        name="Reception",
        template_id=template.pk,
        share_at_once=0.7,
        arrive_spread_minutes=12.0,
    )
    add("credential", name="root of the hosts", where_kept="safe", still_initial=False)
    add(
        "flow",
        name="records",
        from_network_id=desks.pk,
        to_network_id=core.pk,
        transport="tcp",
        ports="5432",
    )
    check = add("owncheck", name="The chair keeps its own network", stage=3)
    add(
        "built",
        target=host.anchor,
        field="memory_gib",
        value="896 GiB",
        reason="a module was missing",
    )
    Assumed.objects.create(
        site=site, key="host.vcpu-per-core", value=4.0, origin="measured", note="counted"
    )
    for key, state in (
        (f"host-reachable@{host.anchor}", "trust"),
        ("scope-agreed", "proven"),
        (f"own@{check.anchor}", "excused"),
        ("people-counted", "failed"),
    ):
        give_answer(by=staff, site=site, key=key, state=state, proof="seen it")
    return Site.objects.select_related("customer").get(pk=site.pk)


# -- out and in ----------------------------------------------------------------------------------------


def test_a_whole_site_goes_out_and_comes_in_the_same(planned, people, enter):
    client = enter(people["editor"])
    answer = client.get(EXPORT)
    assert answer["Content-Type"] == "application/json"
    assert answer["Content-Disposition"] == 'attachment; filename="larkfield-mill-site-draft.json"'
    assert Printed.objects.get().paper == "whole site"
    page = upload(client, answer.content)
    assert page.status_code == 200 and not Site.objects.filter(code="barn").exists()
    for words in (
        "Mill Street",
        "network: 2",
        "host: 1",
        "own check: 1",
        "2 answers were",
        "1 of its own",
    ):
        assert words in page.content.decode()
    stoppers = len(Plan(facts_of(planned)).review.open("stopper"))
    assert f"{stoppers} stopper" in page.content.decode()
    made = confirm(client, page, purpose="live")
    assert made.status_code == 302 and made["Location"] == "/at/larkfield/barn/brief/"
    barn = Site.objects.get(code="barn")
    assert alike(facts_of(barn)) == alike(facts_of(planned))
    assert Host.objects.get(site=barn).made_by == people["editor"]


def test_references_follow_their_records(planned, people, enter):
    client = enter(people["editor"])
    confirm(client, upload(client, client.get(EXPORT).content))
    new, old = facts_of(Site.objects.get(code="barn")), facts_of(planned)
    assert new.networks[1].reaches == (new.networks[0].id,) != old.networks[1].reaches
    assert new.hosts[0].network_id == new.networks[0].id
    assert new.built[0].target == f"host-{new.hosts[0].id}" != old.built[0].target
    assert new.hosts[0].memory_gib == 931.32257461548  # not rounded, as typing would


def test_nothing_comes_as_proven(planned, people, enter):
    client = enter(people["lead"])
    confirm(client, upload(client, client.get(EXPORT).content))
    barn = Site.objects.get(code="barn")
    new = facts_of(barn)
    assert {one.check: one.state for one in new.answers} == {
        f"host-reachable@host-{new.hosts[0].id}": "trust",
        f"own@owncheck-{new.own_checks[0].id}": "excused",
    }
    proof = Answer.objects.get(site=barn, state="trust").proof
    assert proof == "Brought in from Larkfield Vets, Mill Street, where Staff answered: seen it"
    assert not Answer.objects.filter(site=barn, state__in=("proven", "failed")).exists()


def test_only_a_lead_brings_excusals_to_a_live_site(planned, people, enter):
    client = enter(people["editor"])
    confirm(client, upload(client, client.get(EXPORT).content), purpose="live")
    assert [one.state for one in facts_of(Site.objects.get(code="barn")).answers] == ["trust"]


def test_revisions_signatures_and_acceptances_stay_where_they_were(planned, staff, people, enter):
    finding = Plan(facts_of(planned)).review.findings[0]
    accept(
        by=staff, site=planned, finding=finding, reason="for now", look_again=dt.date(2099, 1, 1)
    )
    freeze(by=staff, site=planned, reason="first")
    client = enter(people["lead"])
    page = upload(client, client.get(EXPORT).content)
    assert b"1 accepted finding" in page.content
    confirm(client, page)
    barn = Site.objects.get(code="barn")
    assert not barn.revisions.exists() and facts_of(barn).acceptances == ()


def test_a_revision_goes_out_as_it_was_frozen(planned, staff, people, enter):
    freeze(by=staff, site=planned, reason="first")
    host = Host.objects.get()
    change_record(
        by=staff, kind="host", pk=host.pk, opened_at=host.edits, values={"name": "renamed"}
    )
    client = enter(people["reader"])
    assert json.loads(client.get(f"{EXPORT}?revision=A").content)["hosts"][0]["name"] == "mill-h1"
    assert json.loads(client.get(EXPORT).content)["hosts"][0]["name"] == "renamed"


def test_the_numbers_of_the_house_it_comes_from_come_along(planned, people, enter):
    HouseAssumption.objects.create(key="host.builds-at-once", value=3.0)
    HouseAssumption.objects.create(key="desktop.start-seconds", value=60.0, note="timed")
    client = enter(people["editor"])
    content = client.get(EXPORT).content
    before = Plan(facts_of(planned)).numbers
    HouseAssumption.objects.filter(key="desktop.start-seconds").delete()  # as if in another house
    confirm(client, upload(client, content))
    barn = Site.objects.get(code="barn")
    assert {one.key for one in Assumed.objects.filter(site=barn)} == {
        "host.vcpu-per-core",
        "desktop.start-seconds",
    }
    assert Assumed.objects.get(site=barn, key="desktop.start-seconds").note.startswith(
        "House rule where"
    )
    assert all(Plan(facts_of(barn)).numbers[key] == before[key] for key in before.all)


@pytest.fixture
def two_houses(db):
    staff = Person.objects.create_superuser("s@house.example", "paper-and-pencil")
    return staff, make_customer(by=staff, values={"name": "Larkfield Vets", "code": "larkfield"})


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(facts=sites(most=2))
def test_any_site_comes_in_the_same(two_houses, facts):
    staff, customer = two_houses
    brought = exchange.read_document(exchange.write(exchange.to_document(facts)), TODAY)
    tidier = Tidier(brought.facts)
    tidied = tidier.tidied()
    assert tidied == facts and not tidier.left_out
    made = bring_in(
        by=staff,
        customer=customer,
        facts=tidied,
        name="x",
        code=f"x{Site.objects.count()}",
        purpose=facts.site.purpose,
    )
    assert alike(facts_of(made)) == alike(facts)


def test_a_site_goes_round_twice_and_stays_the_same(planned, people, enter):
    client = enter(people["lead"])
    first = json.loads(client.get(EXPORT).content)
    confirm(client, upload(client, first))
    second = json.loads(client.get("/at/larkfield/barn/print/site.json").content)
    for one in (first, second):
        assert one["version"] == exchange.VERSION
    assert {
        name: len(value)
        for name, value in first.items()
        if isinstance(value, list) and name != "answers"
    } == {
        name: len(value)
        for name, value in second.items()
        if isinstance(value, list) and name != "answers"
    }


# -- what is not believed -------------------------------------------------------------------------------


def document(**lists) -> dict:
    return {**exchange.to_document(site_facts()), **lists}


def test_values_that_no_form_would_take_are_unknown(people, site, enter):
    host = {
        "key": "host-1",
        "name": "mill-h1",
        "memory_gib": -5,
        "sockets": 65,
        "address": "10.44.1.300",
        "mac": "x",
        "state": "stolen",
        "model": "password: hunter2",
        "hypervisor": "h" * 201,
        "note": "kept",
    }
    checks = [{"key": "owncheck-1", "name": "a", "stage": 9}]
    page = upload(enter(people["editor"]), document(hosts=[host], own_checks=checks))
    text = page.content.decode()
    for words in (
        "Memory: Give a number",
        "Sockets: Give a number",
        "Give an IPv4 address",
        "Give a MAC address",
        "State: Select a valid choice",
        "looks like a password",
        "at most 200 characters",
    ):
        assert words in text, words
    assert "hunter2" not in text
    confirm(enter(people["editor"]), page)
    made = facts_of(Site.objects.get(code="barn"))
    assert made.hosts[0] == f.Host(id=made.hosts[0].id, name="mill-h1", note="kept")
    assert made.own_checks[0].stage == 1


def test_planning_numbers_that_nobody_could_set_are_left_out(people, site, enter):
    numbers = [
        {"key": "host.vcpu-per-core", "value": 1e9},
        {"key": "moon.phase", "value": 1},
        {"key": "host.builds-at-once", "value": 4, "origin": "heard"},
    ]
    client = enter(people["editor"])
    page = upload(client, document(assumed=numbers))
    assert b"is not known here" in page.content and b"moon.phase" in page.content
    confirm(client, page)
    assert not Assumed.objects.exists()


def test_unknown_fields_and_bad_references_are_shown(people, site, enter):
    found = document(
        hosts=[{"key": "host-1", "name": "h1", "network": "network-5", "colour": "red"}], weather=1
    )
    text = upload(enter(people["editor"]), found).content.decode()
    assert "hosts: “colour”" in text and "“weather”" in text
    assert "hosts, “h1”: Management network: “network-5” is not a network of this file" in text


def test_what_a_file_says_is_only_words_on_the_page(people, site, enter):
    name = "<script>alert(1)</script>"
    found = document(
        hosts=[{"key": "host-1", "name": name, "state": name}], **{name: 1}, customer=name
    )
    found["site"] = {**found["site"], "name": name}
    text = upload(enter(people["editor"]), found).content.decode()
    assert "<script>alert" not in text and "&lt;script&gt;alert" in text


def test_a_secret_in_a_proof_stays_behind(people, site, enter, staff):
    answers = [
        {
            "check": "scope-agreed",
            "state": "trust",
            "by": "R. Doe",
            "proof": "the password is: hunter2",
        }
    ]
    client = enter(people["editor"])
    confirm(client, upload(client, document(answers=answers)))
    assert "hunter2" not in Answer.objects.get(site__code="barn").proof


def test_a_code_that_is_taken_is_asked_for_again(planned, people, enter):
    client = enter(people["editor"])
    page = upload(client, client.get(EXPORT).content)
    again = confirm(client, page, code="mill")
    assert (
        again.status_code == 422 and b"Another site of this customer has this code" in again.content
    )
    assert confirm(client, again).status_code == 302  # what was read is still at hand


def test_what_was_read_is_good_for_one_person_at_one_customer(planned, people, enter, staff):
    client = enter(people["editor"])
    page = upload(client, client.get(EXPORT).content)
    assert confirm(enter(people["lead"]), page).status_code == 422
    parcel = re.search('name="parcel" value="([^"]*)"', page.content.decode())[1]
    words = {"parcel": parcel, "name": "x", "code": "x", "purpose": "trial"}
    assert enter(people["outsider"]).post("/at/other/bring-in", words).status_code == 422
    assert (
        enter(people["editor"]).post(URL, {**words, "parcel": parcel[:-2] + "xx"}).status_code
        == 422
    )
    assert Site.objects.count() == 1


def test_all_or_nothing(planned, people, enter, monkeypatch):
    from sites.actions import exchange as action

    client = enter(people["editor"])
    page = upload(client, client.get(EXPORT).content)

    def breaks(**words):
        raise RuntimeError("the line broke")

    monkeypatch.setattr(action, "put_answers", breaks)
    with pytest.raises(RuntimeError):
        confirm(client, page)
    assert Site.objects.count() == 1 and Host.objects.count() == 1


# -- refusals ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (json.dumps({"format": "deskwright.site", "version": 2}).encode(), "newer Deskwright"),
        (b'{"name": "something else"}', "no site as Deskwright writes it"),
        (b"{" * 90_000, "nested far deeper"),
        (b"\x89PNG\r\n\x1a\n\x00", "JSON in UTF-8"),
        (b"", "JSON in UTF-8"),
    ],
)
def test_a_file_that_is_no_site_is_refused_in_words(people, site, enter, content, why):
    page = upload(enter(people["editor"]), content, "site.json")
    assert page.status_code == 422 and why in page.content.decode()
    assert "<title>Error: " in page.content.decode() and Site.objects.count() == 1


def test_without_a_file_there_is_a_plain_word(people, site, enter):
    assert b"Choose a file first" in enter(people["editor"]).post(URL, {}).content


@pytest.mark.parametrize("url", [URL, "/at/larkfield/mill/read-back"])
@pytest.mark.parametrize("mebibytes", [9, 20, 100])
def test_an_upload_that_is_too_large_is_never_opened(
    people, site, enter, monkeypatch, url, mebibytes
):
    """Nothing of it is kept in memory, and the page still says why."""
    from sites.forms.exchange import FileForm

    monkeypatch.setattr(
        FileForm, "data_of_file", property(lambda self: pytest.fail("it was opened"))
    )
    client = enter(people["editor"])
    began = time.process_time()
    page = client.post(
        url, {"file": SimpleUploadedFile("x.csv", b"a,b,c\n" * (mebibytes * 2**20 // 6))}
    )
    assert page.status_code == 422 and b"It was not opened" in page.content
    assert time.process_time() - began < 15


def test_a_site_too_large_for_a_page_is_refused(people, site, enter, monkeypatch):
    monkeypatch.setattr(house, "DATA_UPLOAD_MAX_MEMORY_SIZE", 101_000)
    page = upload(
        enter(people["editor"]),
        document(networks=[{"key": f"network-{n}", "name": str(n**7)} for n in range(900)]),
    )
    assert page.status_code == 422 and b"too large to be brought in at once" in page.content


def test_the_schema_is_served_to_everybody(client, db):
    answer = client.get("/exchange/site-1.schema.json")
    assert answer["Content-Type"] == "application/schema+json"
    assert json.loads(answer.content) == exchange.schema()
    assert client.get("/exchange/site-2.schema.json").status_code == 404


def test_a_customers_page_leads_to_it(people, site, enter):
    assert b"/at/larkfield/bring-in" in enter(people["editor"]).get("/at/larkfield/").content
    assert b"/at/larkfield/bring-in" not in enter(people["reader"]).get("/at/larkfield/").content


def test_numbers_that_this_house_sets_alike_need_not_come(db):
    HouseAssumption.objects.create(key="host.builds-at-once", value=3.0)
    mine = f.Assumed(key="host.builds-at-once", value=3.0, scope="house")
    other = f.Assumed(key="desktop.start-seconds", value=60.0, scope="house")
    own = f.Assumed(key="desktop.start-seconds", value=61.0)
    assert settled(site_facts(assumed=(mine, other))).assumed[0].key == "desktop.start-seconds"
    assert settled(site_facts(assumed=(mine, other, own))).assumed == (own,)
