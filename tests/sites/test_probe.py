"""The probe on screen: scripts to save, results brought in, answers given only by whoever may."""

import ast
import io
import json

import pytest

from planner import work_out
from planner.papers.probe import probe_of
from sites.actions import proofs
from sites.actions.records import add_record, change_record
from sites.actions.stages import give_answer
from sites.loading import read_site
from sites.models import Answer, Printed, Proof, Service

URL = "/at/larkfield/mill/probe/"


@pytest.fixture(autouse=True)
def proofs_apart(settings, tmp_path):
    settings.PROOFS = tmp_path


@pytest.fixture
def planned(site, staff):
    """A site with people's rooms, a host to come and a name to type; gives the records by word."""

    def add(kind, **values):
        return add_record(by=staff, site=site, kind=kind, values=values)

    rooms = add(
        "network", name="rooms", purpose="clients", cidr="10.44.20.0/24", gateway="10.44.20.1"
    )
    change_record(
        by=staff, kind="network", pk=rooms.pk, opened_at=1, values={"dns_servers": ["10.44.1.5"]}
    )
    managing = add(
        "network", name="management", purpose="management", cidr="10.44.1.0/24", gateway="10.44.1.1"
    )
    host = add("host", name="mill-h1", address="10.44.1.11", network_id=managing.pk, state="to-buy")
    add("appliance", name="broker-1", address="10.44.1.31", network_id=managing.pk)
    add(
        "server",
        name="dc-1",
        address="10.44.1.5",
        network_id=managing.pk,
        roles=["directory", "dns"],
    )
    add("seatgroup", name="Reception", network_id=rooms.pk)
    service, _ = Service.objects.get_or_create(site=site)
    change_record(
        by=staff,
        kind="service",
        pk=service.pk,
        opened_at=service.edits,
        values={"entry_name": "desk.larkfield.example", "address": "10.44.1.30"},
    )
    return {"rooms": rooms, "management": managing, "host": host}


def results(of, network, state="ok", states=None, **changed):
    """The file a run would have written, as an upload."""
    site = of
    site.refresh_from_db()
    plan = work_out(read_site(site))
    tasks = probe_of(plan).by_network[network.pk]
    made = {
        "format": "deskwright probe results 1",
        "customer": "larkfield",
        "site": "mill",
        "fingerprint": plan.fingerprint,
        "network": network.pk,
        "network_name": network.name,
        "began": "2026-09-01T13:10:00Z",
        "ended": "2026-09-01T13:12:00Z",
        "machine": {"address": network.gateway[:-1] + "90"},
        "results": [
            {"id": task.id, "state": (states or {}).get(task.kind, state), "seen": "as it was seen"}
            for task in tasks
        ],
        **changed,
    }
    file = io.BytesIO(json.dumps(made).encode())
    file.name = f"{network.name}.json"
    return file


def bring(client, *files):
    return client.post(f"{URL}results", {"results": files})


def take(client, preview, *keys, **rest):
    carried = preview.context["carried"]
    return client.post(
        f"{URL}results", {"carried": carried, "confirm": "yes", "take": keys, **rest}
    )


def newest(site):
    return {
        one.check_key.partition("@")[0]: one
        for one in Answer.objects.filter(site=site, newest=True)
    }


# -- scripts -------------------------------------------------------------------------------------


def test_a_reader_sees_what_would_be_asked_and_saves_the_script(planned, people, enter, site):
    client = enter(people["reader"])
    page = client.get(URL).content.decode()
    assert (
        "the script for rooms" in page
        and "10.44.20.0/24" in page
        and "What the probe cannot tell" in page
    )
    assert "Bring results in" not in page
    response = client.get(f"{URL}{planned['rooms'].pk}.py")
    assert response["Content-Type"] == "text/x-python; charset=utf-8"
    assert response["Content-Disposition"] == 'attachment; filename="larkfield-mill-probe-rooms.py"'
    tree = ast.parse(response.content.decode())
    assert ast.get_docstring(tree).startswith("Deskwright probe")
    printed = Printed.objects.get(site=site)
    assert printed.paper == "probe, rooms" and printed.fingerprint in response.content.decode()


def test_a_network_that_has_nothing_to_ask_has_no_script(planned, people, enter, site, staff):
    client = enter(people["reader"])
    nowhere = add_record(by=staff, site=site, kind="network", values={"name": "later"})
    assert (
        client.get(f"{URL}{nowhere.pk}.py").status_code
        == client.get(f"{URL}99999.py").status_code
        == 404
    )
    assert "No script: later" in client.get(URL).content.decode()


def test_a_site_without_networks_is_told_what_to_do(site, people, enter):
    assert "Nothing can be asked yet" in enter(people["reader"]).get(URL).content.decode()


def test_typed_text_stays_text(planned, people, enter, staff):
    change_record(
        by=staff,
        kind="network",
        pk=planned["rooms"].pk,
        opened_at=2,
        values={"name": "'''\nimport os  # <b>rooms</b>"},
    )
    client = enter(people["reader"])
    assert "&lt;b&gt;rooms" in client.get(URL).content.decode()
    tree = ast.parse(client.get(f"{URL}{planned['rooms'].pk}.py").content.decode())
    assert "os" in {
        alias.name for node in tree.body if isinstance(node, ast.Import) for alias in node.names
    }
    assert (
        sum(isinstance(node, ast.Import) and node.names[0].name == "os" for node in tree.body) == 1
    )  # the script's own


# -- results -------------------------------------------------------------------------------------


def test_a_preview_writes_nothing_and_a_yes_answers(planned, people, enter, site):
    client = enter(people["editor"])
    shown = bring(client, results(site, planned["rooms"]))
    assert shown.status_code == 200 and not Answer.objects.exists()
    page = shown.content.decode()
    assert "asked by 10.44.20.90" in page and "as it was seen" in page
    key = f"subnet-exists@network-{planned['rooms'].pk}"
    assert take(client, shown, key, "entry-name-resolves", follow=True).status_code == 302
    given = newest(site)
    assert {name: (one.state, str(one.by)) for name, one in given.items()} == {
        "subnet-exists": ("proven", str(people["editor"])),
        "entry-name-resolves": ("proven", str(people["editor"])),
    }
    assert "Probe from rooms (10.44.20.90), 2026-09-01 13:12 UTC" in given["subnet-exists"].proof
    assert given["subnet-exists"].value == "10.44.20.0/24"
    kept = Proof.objects.filter(answer=given["subnet-exists"]).get()
    assert kept.kind == "probe" and kept.media_type == "text/plain"


def test_failed_is_failed(planned, people, enter, site):
    client = enter(people["editor"])
    shown = bring(client, results(site, planned["rooms"], states={"name": "failed"}))
    take(client, shown, "entry-name-resolves")
    assert newest(site)["entry-name-resolves"].state == "failed"
    assert "Not so" in newest(site)["entry-name-resolves"].proof


def test_the_files_of_several_networks_come_together(planned, people, enter, site):
    client = enter(people["editor"])
    shown = bring(client, results(site, planned["rooms"]), results(site, planned["management"]))
    assert {run.network_name for run in shown.context["preview"].runs} == {"rooms", "management"}
    assert {row["check"].key.partition("@")[0] for row in shown.context["rows"]} >= {
        "flows-open",
        "host-address-free",
    }


def test_what_is_told_in_part_wants_words_for_the_rest(planned, people, enter, site):
    client = enter(people["editor"])
    shown = bring(client, results(site, planned["rooms"]))
    refused = take(client, shown, "flows-open", "entry-name-resolves")
    assert (
        refused.status_code == 422 and "say how the rest was looked at" in refused.content.decode()
    )
    assert not Answer.objects.exists()  # all or none
    for words in ("the password is hunter22", "   "):
        assert take(client, shown, "flows-open", **{"rest-flows-open": words}).status_code == 422
    words = {"rest-flows-open": "UDP 88 and 464 read in the firewall's rules by Lea Holm."}
    assert take(client, shown, "flows-open", **words).status_code == 302
    assert newest(site)["flows-open"].state == "proven"
    assert (
        "The rest: UDP 88 and 464 read in the firewall's rules" in newest(site)["flows-open"].proof
    )


def test_only_what_would_change_something_is_ticked(planned, people, enter, site):
    client = enter(people["editor"])
    key = f"subnet-exists@network-{planned['rooms'].pk}"
    give_answer(
        by=people["lead"], site=site, key=key, state="proven", proof="seen", value="10.44.20.0/24"
    )
    shown = bring(client, results(site, planned["rooms"]))
    ticked = {row["check"].key: row["ticked"] for row in shown.context["rows"]}
    assert ticked == {
        key: False,
        "entry-name-resolves": True,
        "flows-open": False,
        "certificate-installed": False,
    }
    shown = bring(client, results(site, planned["rooms"], state="failed"))
    assert {row["check"].key for row in shown.context["rows"] if row["ticked"]} == set(ticked)


def test_what_somebody_answered_meanwhile_is_not_overwritten(planned, people, enter, site):
    client = enter(people["editor"])
    shown = bring(client, results(site, planned["rooms"]))
    give_answer(
        by=people["lead"],
        site=site,
        key="entry-name-resolves",
        state="failed",
        proof="It gives .99 here.",
    )
    key = f"subnet-exists@network-{planned['rooms'].pk}"
    refused = take(client, shown, key, "entry-name-resolves")
    assert refused.status_code == 422 and "was answered meanwhile" in refused.content.decode()
    assert newest(site)["entry-name-resolves"].state == "failed" and "subnet-exists" not in newest(
        site
    )


def test_sent_twice_it_answers_once(planned, people, enter, site):
    client = enter(people["editor"])
    shown = bring(client, results(site, planned["rooms"]))
    for _ in range(2):
        assert take(client, shown, "entry-name-resolves").status_code == 302
    assert Answer.objects.count() == 1


def test_a_leads_check_stays_for_a_lead(planned, people, enter, site, monkeypatch):
    from planner.stages import read

    entry = read().checks["entry-name-resolves"]
    object.__setattr__(entry, "who", "lead")
    try:
        shown = bring(enter(people["editor"]), results(site, planned["rooms"]))
        row = next(
            one for one in shown.context["rows"] if one["check"].key == "entry-name-resolves"
        )
        assert not row["may"] and "Only a lead" in shown.content.decode()
        assert take(enter(people["editor"]), shown, "entry-name-resolves").status_code == 422
        assert not Answer.objects.exists()
        client = enter(people["lead"])
        assert (
            take(
                client, bring(client, results(site, planned["rooms"])), "entry-name-resolves"
            ).status_code
            == 302
        )
    finally:
        object.__setattr__(entry, "who", "editor")


def test_results_of_another_plan_or_place_are_marked(planned, people, enter, site, staff):
    client = enter(people["editor"])
    old = results(site, planned["rooms"])
    add_record(by=staff, site=site, kind="contact", values={"name": "Lea Holm"})
    page = bring(client, old).content.decode()
    assert "The plan has moved since this was taken" in page and "Take it" in page
    page = bring(
        client, results(site, planned["rooms"], machine={"address": "192.168.0.7"})
    ).content.decode()
    assert "192.168.0.7 is not in rooms" in page and "Nothing in there answers" in page


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "cannot be read"),
        (b"\xff", "no results file"),
        (b"{}", "no results file"),
        (b"x" * 2_200_000, "no results file"),
    ],
)
def test_what_is_no_results_file_is_refused(planned, people, enter, content, said):
    file = io.BytesIO(content)
    file.name = "holiday.json"
    refused = bring(enter(people["editor"]), file)
    assert refused.status_code == 422 and said in refused.content.decode()


def test_results_of_another_site_are_refused(planned, people, enter, site):
    refused = bring(enter(people["editor"]), results(site, planned["rooms"], site="barn"))
    assert (
        refused.status_code == 422 and "another site (larkfield/barn)" in refused.content.decode()
    )


def test_nothing_chosen_is_no_answer(planned, people, enter, site):
    client = enter(people["editor"])
    assert client.post(f"{URL}results").status_code == 422
    shown = bring(client, results(site, planned["rooms"]))
    assert take(client, shown).status_code == 422 and not Answer.objects.exists()


def test_a_preview_belongs_to_its_site_and_is_ours(planned, people, enter, site, staff, customer):
    from sites.actions.records import make_site

    client = enter(people["editor"])
    shown = bring(client, results(site, planned["rooms"]))
    make_site(by=staff, customer=customer, code="barn", name="Barn")
    there = client.post(
        "/at/larkfield/barn/probe/results", {"carried": shown.context["carried"], "confirm": "yes"}
    )
    assert there.status_code == 422 and "too old to be taken" in there.content.decode()
    changed = shown.context["carried"][:-3] + "abc"
    assert client.post(f"{URL}results", {"carried": changed, "confirm": "yes"}).status_code == 422
    assert not Answer.objects.exists()


def test_what_a_file_says_is_shown_as_text(planned, people, enter, site):
    file = results(site, planned["rooms"])
    values = json.loads(file.read())
    values["results"][0]["seen"] = "<script>alert(1)</script> the password is hunter22"
    file = io.BytesIO(json.dumps(values).encode())
    file.name = "rooms.json"
    client = enter(people["editor"])
    shown = bring(client, file)
    assert b"<script>alert" not in shown.content and b"&lt;script&gt;alert" in shown.content
    key = f"subnet-exists@network-{planned['rooms'].pk}"
    take(client, shown, key)
    assert "hunter22" not in newest(site)["subnet-exists"].proof


def test_what_has_no_room_is_refused_and_answers_nothing(planned, people, enter, site, customer):
    customer.proof_mib = 0
    customer.save()
    client = enter(people["editor"])
    shown = bring(client, results(site, planned["rooms"]))
    page = take(client, shown, f"subnet-exists@network-{planned['rooms'].pk}")
    assert page.status_code == 422 and "There is no room for it" in page.content.decode()
    assert not Answer.objects.exists() and not Proof.objects.exists()
    assert not list(proofs.folder().rglob("*.txt"))
