"""Every way in for a text, tried as a browser tries it: the secret is refused and lies nowhere, what was typed comes
back, and what is no secret can be kept by saying so once."""

from __future__ import annotations

import html
import io
import json
import logging
import re

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection

from planner import exchange
from planner.secrets_typed import MOST_FOUND
from sites.actions.pilot import make_link
from sites.actions.records import add_record, change_record
from sites.actions.stages import give_answer
from sites.forms.secrets import ask
from sites.models import Answer, Customer, Host, Proof, SaidHarmless, Site
from sites.pages.standing import plan_of
from tests.factories import site_facts

HERE = "/at/larkfield/mill/"
SECRET = "PIN 4711"
OTHER = "PIN 4712"
TEXT = f"Rack two. {SECRET}. Ring first."
KEY = "-----BEGIN " + "RSA PRIVATE KEY-----"
ACCEPT = {"look_again": "2099-01-01"}
TIMES = {"least_minutes": "1", "likely_minutes": "2", "longest_minutes": "3"}


@pytest.fixture(autouse=True)
def proofs_apart(settings, tmp_path):
    settings.PROOFS = tmp_path


@pytest.fixture
def journal(caplog):
    caplog.set_level(logging.INFO, "deskwright.journal")
    return caplog


def everything_kept() -> str:
    """All that lies in the tables of the house, and in the folder of proofs."""
    found = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            if table.startswith("sites_"):
                cursor.execute(f'SELECT * FROM "{table}"')
                found += map(str, cursor.fetchall())
    from django.conf import settings

    found += [
        path.read_bytes().decode("utf-8", "replace")
        for path in settings.PROOFS.rglob("*")
        if path.is_file()
    ]
    return "\n".join(found)


def box_of(response) -> dict[str, str]:
    """The box “This is no secret” of a page, as a browser sends it when it is ticked."""
    tag = re.search(
        r'<input type="checkbox" name="(no_secret[^"]*)" value="([^"]*)"', response.content.decode()
    )
    return {html.unescape(tag[1]): tag[2]} if tag else {}


class Door:
    """One form: where it is sent, what goes with the text, and under which name the text is sent."""

    def __init__(self, url: str, name: str, /, *, who: str = "lead", **more):
        self.url, self.name, self.who, self.more = url, name, who, more

    def send(self, client, text: str, **ticked):
        return client.post(self.url, {**self.more, self.name: text, **ticked})


DOORS = {
    "a new record": Door(HERE + "add/hosts", "new-hosts-note", **{"new-hosts-name": "mill-h9"}),
    "a record's name": Door(HERE + "add/devices", "new-devices-name"),
    "names": Door(
        HERE + "add/templates", "new-templates-description", **{"new-templates-name": "Office"}
    ),
    "an own step": Door(
        HERE + "add/own-steps",
        "new-own-steps-do",
        **{"new-own-steps-name": "Photograph", "new-own-steps-stage": "1"},
    ),
    "an own check": Door(
        HERE + "add/own-checks",
        "new-own-checks-proof",
        **{"new-own-checks-name": "Labels", "new-own-checks-stage": "1"},
    ),
    "a credential": Door(
        HERE + "add/credentials",
        "new-credentials-where_kept",
        **{"new-credentials-name": "Local administrator"},
    ),
    "a revision": Door(HERE + "freeze", "reason"),
    "an acceptance": Door(HERE + "accept/{finding}", "reason", **ACCEPT),
    "an answer": Door(HERE + "answer/scope-agreed", "note", state="proven"),
    "an answer on the run sheet": Door(HERE + "run/1/check/scope-agreed/", "note", state="proven"),
    "a measured value": Door(
        HERE + "answer/{measured}", "measured", state="failed", note="read at the line"
    ),
    "a reason for several": Door(
        HERE + "stages/1/excuse", "reason", check=["scope-agreed", "room-seen"]
    ),
    "a pilot's link": Door(HERE + "pilot", "person", days="3"),
    "a pilot's note": Door(
        "{pilot}", "note-{question}", who="nobody", **{"state-{question}": "works"}
    ),
    "a customer": Door("/at/", "note", who="staff", name="Brack", code="brack"),
    "a customer's own page": Door(
        "/at/larkfield/change", "note", name="Larkfield Vets", edits="{edits}"
    ),
    "a new site": Door("/at/larkfield/sites", "name", code="barn", purpose="trial"),
    "a copy": Door(HERE + "copy", "name", customer="larkfield", code="barn"),
    "a planning number": Door(
        HERE + "assume/{number}", "note", origin="house-rule", value="{low}", was="{was}"
    ),
    "a planning number of the house": Door(
        "/house/assumptions/{number}",
        "note",
        who="staff",
        origin="house-rule",
        value="{low}",
        was="{was}",
    ),
    "the house's step": Door(
        "/house/work/add/step", "do", who="staff", name="Photograph", stage="1", when="", edits="0"
    ),
    "the house's check": Door(
        "/house/work/add/check",
        "how",
        who="staff",
        name="Labels",
        stage="1",
        when="",
        edits="0",
        wants="note",
        who_answers="",
    ),
    "the house's times": Door("/house/times/{step}", "note", who="staff", was="", **TIMES),
}


@pytest.fixture
def filled(site, staff):
    """The site, and what the addresses above speak of."""
    from planner.catalogue.assumptions import Numbers
    from planner.stages.reading import read

    add_record(by=staff, site=site, kind="seatgroup", values={"name": "Reception", "people": 5})
    add_record(
        by=staff, site=site, kind="host", values={"name": "mill-h1", "note": "top of the rack"}
    )
    plan = plan_of(site)
    _, token = make_link(by=staff, site=site, person="Eve Sand", days=3)
    number = next(iter(Numbers().all.values()))
    from planner.stages import pilot

    return {
        "finding": plan.review.findings[0].token,
        "pilot": f"/pilot/{token}",
        "question": pilot.questions(plan)[0].check,
        "number": number.key,
        "low": f"{number.low:g}",
        "was": repr(number.value),
        "step": next(iter(read().steps)),
        "edits": str(site.customer.edits),
        "measured": next(
            check.key for check in plan.stages.checks.values() if check.wants == "value"
        ),
    }


def fit(door: Door, names: dict[str, str]) -> Door:
    """The door with what stands between braces filled in."""

    def put(value):
        return value.format(**names) if isinstance(value, str) else value

    made = Door(put(door.url), put(door.name), who=door.who)
    made.more = {put(name): put(value) for name, value in door.more.items()}
    return made


@pytest.mark.parametrize("name", DOORS)
def test_a_secret_is_refused_and_what_was_typed_comes_back(name, filled, people, enter):
    door = fit(DOORS[name], filled)
    client = enter(people[door.who])
    response = door.send(client, TEXT)
    page = html.unescape(response.content.decode())
    assert response.status_code == 422, name
    assert "“PIN 47…” looks like a PIN" in page and TEXT in page
    assert SECRET not in everything_kept() and not SaidHarmless.objects.exists()


@pytest.mark.parametrize("name", DOORS)
def test_what_is_none_is_kept_by_saying_so(name, filled, people, enter, journal):
    door = fit(DOORS[name], filled)
    client = enter(people[door.who])
    ticked = box_of(door.send(client, TEXT))
    assert ticked, "no box came with the refusal"
    response = door.send(client, TEXT, **ticked)
    assert response.status_code == 302, response.content.decode()[:3000]
    assert TEXT in everything_kept()
    [said] = SaidHarmless.objects.all()
    assert said.by == people[door.who] and len(said.digest) == 64
    house = name.startswith(("the house", "a customer", "a planning number of the house"))
    assert (said.site_id is None) == house
    [line] = [one.getMessage() for one in journal.records if one.name == "deskwright.journal"]
    assert "field " in line and "4711" not in line


@pytest.mark.parametrize("name", DOORS)
def test_a_certain_secret_cannot_be_waved_through(name, filled, people, enter):
    door = fit(DOORS[name], filled)
    response = door.send(enter(people[door.who]), KEY)
    assert response.status_code == 422 and not box_of(response)
    assert "cannot be kept whatever is said of it" in response.content.decode()
    assert door.send(enter(people[door.who]), KEY, no_secret="0" * 32).status_code == 422
    assert "PRIVATE KEY" not in everything_kept()


def test_the_same_text_is_asked_of_once_and_another_secret_anew(site, people, enter, staff):
    host = add_record(by=staff, site=site, kind="host", values={"name": "mill-h1"})
    client, url = enter(people["editor"]), f"{HERE}change/hosts/{host.pk}"

    def save(text, **ticked):
        edits = Host.objects.get().edits
        name = f"host-{host.pk}-note"
        return client.post(
            url,
            {
                f"host-{host.pk}-name": "mill-h1",
                f"host-{host.pk}-edits": edits,
                name: text,
                **ticked,
            },
        )

    ticked = box_of(save(TEXT))
    assert save(TEXT, **ticked).status_code == 302
    assert save(TEXT).status_code == 302
    assert (
        save(f"Rack three now. {SECRET}. Ring twice.").status_code == 302
    )  # another sentence was changed
    assert save(f"{TEXT} {OTHER}.").status_code == 422
    assert (
        save(f"{SECRET} of the gate. Ring first.").status_code == 422
    )  # the sentence says something else now
    assert OTHER not in everything_kept()
    elsewhere = client.post(HERE + "add/devices", {"new-devices-name": TEXT})
    assert elsewhere.status_code == 422  # another field


def test_a_tick_is_of_what_was_shown(site, people, enter):
    """Whoever ticks the box and types another secret in the same go is asked again."""
    client = enter(people["editor"])
    door = DOORS["a new record"]
    ticked = box_of(door.send(client, TEXT))
    assert door.send(client, f"{TEXT} {OTHER}.", **ticked).status_code == 422
    assert not Host.objects.exists() and not SaidHarmless.objects.exists()


def test_a_box_stays_ticked_while_something_else_is_wrong(site, people, enter):
    client = enter(people["editor"])
    door = Door(
        HERE + "add/hosts",
        "new-hosts-note",
        **{"new-hosts-name": "h", "new-hosts-address": "10.44.1.300"},
    )
    ticked = box_of(door.send(client, TEXT))
    response = door.send(client, TEXT, **ticked)
    assert (
        response.status_code == 422
        and "checked" in response.content.decode().split("no_secret")[1][:200]
    )
    assert not SaidHarmless.objects.exists()


def test_no_box_is_shown_before_a_refusal(filled, people, enter):
    client = enter(people["lead"])
    for url in (
        HERE + "hosts/?add=hosts",
        HERE + "answer/scope-agreed",
        HERE + "papers/",
        HERE + "stages/1/excuse",
    ):
        assert b"no_secret" not in client.get(url).content


def test_what_is_said_at_one_site_is_not_said_at_another(site, customer, staff, people, enter):
    from sites.actions.records import make_site

    make_site(by=staff, customer=customer, code="barn", name="Barn")
    client, door = enter(people["editor"]), DOORS["a new record"]
    assert door.send(client, TEXT, **box_of(door.send(client, TEXT))).status_code == 302
    there = Door("/at/larkfield/barn/add/hosts", door.name, **door.more)
    assert there.send(client, TEXT).status_code == 422


def test_a_copy_knows_what_was_said(site, people, enter):
    client, door = enter(people["lead"]), DOORS["a new record"]
    door.send(client, TEXT, **box_of(door.send(client, TEXT)))
    client.post(HERE + "copy", {"name": "Barn", "customer": "larkfield", "code": "barn"})
    there = Door("/at/larkfield/barn/add/hosts", door.name, **door.more)
    assert there.send(client, TEXT).status_code == 302


# -- the run sheet's own script --------------------------------------------------------------------


def test_the_run_sheets_script_is_told_of_the_box(site, people, enter):
    client, door = enter(people["lead"]), DOORS["an answer on the run sheet"]
    said = client.post(
        door.url, {**door.more, "note": TEXT}, headers={"Accept": "application/json"}
    )
    told = said.json()
    assert said.status_code == 422 and list(told["no_secret"]) == ["no_secret"]
    again = client.post(
        door.url,
        {**door.more, "note": TEXT, **told["no_secret"]},
        headers={"Accept": "application/json"},
    )
    assert again.status_code == 200 and Answer.objects.get().proof == TEXT


def test_the_plans_value_cannot_carry_a_secret_in(site, people, enter, staff):
    client, url = enter(people["lead"]), HERE + "answer/scope-agreed"
    values = {"state": "proven", "note": "read with the owner"}
    assert client.post(url, {**values, "value": TEXT}).status_code == 422
    assert not Answer.objects.exists()
    change_record(
        by=staff,
        kind="site",
        pk=site.pk,
        opened_at=Site.objects.get().edits,
        values={"scope": TEXT},
    )
    check = plan_of(Site.objects.select_related("customer").get()).stages.checks["scope-agreed"]
    assert (
        client.post(url, {**values, "value": check.value}).status_code == 302
    )  # the plan says so itself


# -- files -----------------------------------------------------------------------------------------

FILES = {
    "its content": ("notes.txt", f"Seen on the panel:\n{TEXT}\n".encode()),
    "its name": ("PIN-4711.txt", b"the panel is lit"),
    "its name in words": ("root_pw_Sommer2024!.txt", b"the panel is lit"),
}


@pytest.mark.parametrize("what", FILES)
@pytest.mark.parametrize("url", [HERE + "answer/scope-agreed", HERE + "run/1/check/scope-agreed/"])
def test_a_file_is_looked_into(what, url, site, people, enter):
    client = enter(people["lead"])

    def send(**ticked):
        upload = SimpleUploadedFile(*FILES[what])
        return client.post(url, {"state": "proven", "note": "seen", "files": upload, **ticked})

    response = send()
    assert response.status_code == 422 and "A file cannot be kept" in response.content.decode()
    assert not Proof.objects.exists() and "4711" not in everything_kept()
    assert send(**box_of(response)).status_code == 302
    assert Proof.objects.count() == 1 and SaidHarmless.objects.get().site == site


def test_a_key_file_is_never_kept(site, people, enter):
    client = enter(people["lead"])
    upload = SimpleUploadedFile("key.txt", f"{KEY}\nMIIE\n".encode())
    response = client.post(
        HERE + "answer/scope-agreed", {"state": "proven", "note": "seen", "files": upload}
    )
    assert response.status_code == 422 and not box_of(response) and not Proof.objects.exists()


def test_text_that_is_too_long_to_look_through_is_refused(site, people, enter):
    client = enter(people["lead"])
    upload = SimpleUploadedFile("log.txt", b"all is well\n" * 400_000)
    response = client.post(
        HERE + "answer/scope-agreed", {"state": "proven", "note": "seen", "files": upload}
    )
    assert response.status_code == 422 and "too much plain text" in response.content.decode()


# -- rows, sheets, sites ---------------------------------------------------------------------------


def test_pasted_rows_are_asked_together(site, people, enter):
    client, url = enter(people["editor"]), HERE + "paste/devices"
    rows = f"Name\tWhat it is\nprinter-1\t{SECRET}\nprinter-2\tlabels\npanel\t{OTHER}\n"
    shown = client.post(url, {"rows": rows})
    page = shown.content.decode()
    assert (
        shown.status_code == 422 and "These are no secrets" in page and rows in html.unescape(page)
    )
    assert page.count("<li>“PIN 47…”, a PIN</li>") == 2
    assert client.post(url, {"rows": rows, "confirm": "yes"}).status_code == 422
    again = client.post(url, {"rows": rows, **box_of(shown)})
    assert again.status_code == 200 and "Write 3 rows" in again.content.decode()
    assert not SaidHarmless.objects.exists() and SECRET not in everything_kept()  # only looked at
    assert client.post(url, {"rows": rows, "confirm": "yes", **box_of(again)}).status_code == 302
    assert SaidHarmless.objects.filter(site=site).count() == 2 and SECRET in everything_kept()


def test_a_key_among_pasted_rows_is_never_written(site, people, enter):
    client, url = enter(people["editor"]), HERE + "paste/devices"
    shown = client.post(url, {"rows": f"Name\tWhat it is\nprinter-1\t{KEY}\n"})
    assert shown.status_code == 422 and not box_of(shown)


@pytest.fixture
def sheet(site, staff, people, enter):
    """A filled-in allocation sheet with a secret in a name: how it is sent, and its client."""
    net = add_record(
        by=staff, site=site, kind="network", values={"name": "core", "cidr": "10.44.1.0/24"}
    )
    add_record(
        by=staff,
        site=site,
        kind="host",
        values={"name": "mill-h1", "network_id": net.pk, "address": "10.44.1.11"},
    )
    client = enter(people["editor"])
    book = openpyxl.load_workbook(
        io.BytesIO(client.get(HERE + "print/allocation-sheet.xlsx").content)
    )
    tab = book.worksheets[0]
    headings = [cell.value for cell in tab[1]]
    row = next(
        row for row in tab.iter_rows(min_row=2) if row[headings.index("Name")].value == "mill-h1"
    )
    row[headings.index("Name")].value = SECRET
    out = io.BytesIO()
    book.save(out)
    return client, lambda: client.post(
        HERE + "read-back", {"file": SimpleUploadedFile("a.xlsx", out.getvalue())}
    )


def sent_on(response) -> dict[str, str]:
    page = response.content.decode()
    return {
        name: re.search(f'name="{name}" value="([^"]*)"', page)[1] for name in ("parcel", "digest")
    }


def test_a_sheet_read_back_is_asked(sheet):
    client, send = sheet
    shown = send()
    assert (
        "looks like a PIN" in shown.content.decode()
        and "These are no secrets" in shown.content.decode()
    )
    client.post(HERE + "read-back", sent_on(shown))
    assert Host.objects.get().name == "mill-h1" and SECRET not in everything_kept()
    again = client.post(HERE + "read-back", {**sent_on(shown), **box_of(shown)})
    assert again.status_code == 200 and "Look at it once more" in again.content.decode()
    assert Host.objects.get().name == "mill-h1" and not SaidHarmless.objects.exists()
    assert client.post(HERE + "read-back", {**sent_on(again), **box_of(again)}).status_code == 302
    assert Host.objects.get().name == SECRET and SaidHarmless.objects.count() == 1


FOREIGN = {
    "a record": {"hosts": [{"key": "host-1", "name": "mill-h1", "note": TEXT}]},
    "a record's name": {"hosts": [{"key": "host-1", "name": TEXT}]},
    "several words": {
        "networks": [{"key": "network-1", "name": "core", "dns_servers": [], "domain_suffix": TEXT}]
    },
    "the site": {"site": {"name": "Barn", "scope": TEXT}},
    "an answer": {
        "answers": [{"check": "scope-agreed", "state": "trust", "by": "R. Doe", "proof": TEXT}]
    },
    "an own step": {
        "own_steps": [{"key": "ownstep-1", "name": "Photograph", "stage": 1, "do": TEXT}]
    },
}


def bring(client, lists):
    document = {**exchange.to_document(site_facts()), **lists}
    return client.post(
        "/at/larkfield/bring-in",
        {"file": SimpleUploadedFile("a.json", json.dumps(document).encode())},
    )


def make(client, shown, **ticked):
    parcel = re.search('name="parcel" value="([^"]*)"', shown.content.decode())[1]
    return client.post(
        "/at/larkfield/bring-in",
        {"parcel": parcel, "name": "Barn", "code": "barn", "purpose": "trial", **ticked},
    )


@pytest.mark.parametrize("what", FOREIGN)
def test_a_site_from_elsewhere_is_asked(what, customer, people, enter):
    client = enter(people["lead"])
    shown = bring(client, FOREIGN[what])
    assert "looks like a PIN" in shown.content.decode() and box_of(shown)
    assert make(client, shown).status_code == 302
    assert SECRET not in everything_kept() and not SaidHarmless.objects.exists()


@pytest.mark.parametrize("what", FOREIGN)
def test_a_site_from_elsewhere_may_say_that_it_is_none(what, customer, people, enter):
    client = enter(people["lead"])
    shown = bring(client, FOREIGN[what])
    assert make(client, shown, **box_of(shown)).status_code == 302
    assert SECRET in everything_kept()
    assert SaidHarmless.objects.get().site == Site.objects.get(code="barn")


@pytest.mark.parametrize("name", ["by", "check"])
def test_what_else_an_answer_from_elsewhere_bears_is_no_way_in(name, customer, people, enter):
    answer = {
        "check": "scope-agreed",
        "state": "trust",
        "by": "R. Doe",
        "proof": "seen",
        name: TEXT,
    }
    client = enter(people["lead"])
    make(client, bring(client, {"answers": [answer], "customer": TEXT}))
    assert SECRET not in everything_kept()


# -- what comes back from outside ------------------------------------------------------------------


def test_a_note_kept_before_is_not_taken_as_an_answer(filled, site, people, enter):
    from sites.models import PilotLink, PilotResult

    PilotResult.objects.create(
        link=PilotLink.objects.get(), check_key=filled["question"], state="fails", note=TEXT
    )
    page = enter(people["editor"]).post(
        f"{HERE}pilot/{PilotLink.objects.get().pk}/take", follow=True
    )
    assert "looks like it holds a secret" in page.content.decode() and not Answer.objects.exists()


def test_an_old_text_is_asked_of_when_its_record_is_saved_again(site, people, enter, staff):
    host = add_record(by=staff, site=site, kind="host", values={"name": "mill-h1", "note": TEXT})
    data = {
        f"host-{host.pk}-name": "mill-h2",
        f"host-{host.pk}-note": TEXT,
        f"host-{host.pk}-edits": 1,
    }
    assert enter(people["editor"]).post(f"{HERE}change/hosts/{host.pk}", data).status_code == 422


def test_nothing_of_it_reaches_a_log(filled, people, enter, caplog):
    caplog.set_level(logging.DEBUG)
    for name in DOORS:
        door = fit(DOORS[name], filled)
        door.send(enter(people[door.who]), TEXT)
    ours = [one for one in caplog.records if not one.name.startswith("django.db")]
    assert "4711" not in " ".join(one.getMessage() for one in ours)


def test_who_reads_may_not_say_anything(site, people, enter):
    assert DOORS["a new record"].send(enter(people["reader"]), TEXT).status_code == 403
    assert not SaidHarmless.objects.exists() and Customer.objects.get(code="larkfield")


def test_an_answer_given_before_stays(site, people, enter):
    given = give_answer(
        by=people["lead"], site=site, key="scope-agreed", state="proven", proof="seen"
    )
    DOORS["an answer"].send(enter(people["lead"]), TEXT)
    assert Answer.objects.get() == given


# -- many at once ----------------------------------------------------------------------------------


def test_the_fifty_first_is_asked_when_fifty_are_said_to_be_none(db):
    """Sixty sentences; a tick settles those that were shown, never one behind them."""
    text = "\n".join(f"PIN {4711 + number}" for number in range(60))
    first = ask(text, "host.note")
    assert len(first.refused) == MOST_FOUND == 50
    second = ask(text, "host.note", first.box().value)
    assert len(second.refused) == 10 and "PIN 47…" in second.words
    assert not ask(text, "host.note", second.box().value).refused
