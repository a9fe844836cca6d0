"""Built values on screen: a record and one of its fields are chosen, the value is held against that field."""

import io
import re

import pytest
from pypdf import PdfReader

from planner.comparing.as_built import drift
from sites.actions.records import add_record, change_record, remove_record
from sites.loading import read_site
from sites.models import Built

URL = "/at/larkfield/mill/"
PAPERS = URL + "papers/"


@pytest.fixture
def host(site, staff):
    net = add_record(
        by=staff, site=site, kind="network", values={"name": "management", "cidr": "10.44.1.0/24"}
    )
    values = {
        "name": "mill-h1",
        "network": net,
        "address": "10.44.1.11",
        "memory_gib": 96.0,
        "state": "to-buy",
    }
    return add_record(by=staff, site=site, kind="host", values=values)


def typed(target: str, field: str, value: str, reason: str = "", prefix: str = "new-built") -> dict:
    named = {
        "target": target,
        "field": field,
        "value": value,
        "reason": reason,
        "note": "",
        "edits": "1",
    }
    return {f"{prefix}-{name}": text for name, text in named.items()}


def add(client, *values: str):
    return client.post(URL + "add/built", typed(*values))


def words(response) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", response.content.decode()).split())


@pytest.mark.parametrize(
    ("field", "value", "name", "kept", "planned"),
    [
        ("Memory", "131072 MiB", "memory_gib", "128 GiB", "96 GiB"),
        ("memory_gib", "128", "memory_gib", "128 GiB", "96 GiB"),
        ("Management address", "10.44.1.13", "address", "10.44.1.13", "10.44.1.11"),
        ("State", "Existing", "state", "existing", "to buy"),
        ("Network", "nothing", "network_id", "nothing", "management"),
        ("MAC", "00-00-5E-00-53-0B", "mac", "00:00:5e:00:53:0b", "not known yet"),
        ("Weight", "28", "weight_kg", "28 kg", "not known yet"),
    ],
)
def test_a_value_is_kept_as_its_field_would_keep_it(
    site, host, people, enter, field, value, name, kept, planned
):
    client = enter(people["editor"])
    assert add(client, host.anchor, field, value, "it came so").status_code == 302
    made = Built.objects.get()
    assert (made.target, made.field, made.value, made.reason) == (
        host.anchor,
        name,
        kept,
        "it came so",
    )
    assert made.made_by == people["editor"]
    page = words(client.get(PAPERS))
    shown = "" if planned == "not known yet" else f"{planned} "
    assert re.search(rf"mill-h1 \(host\) \S.* {re.escape(shown + kept)} it came so", page)
    opened = client.get(f"{PAPERS}?edit=built:{made.pk}").content.decode()
    assert f">{planned}</output>" in opened and f'value="{kept}"' in opened
    again = typed(host.anchor, made.field, kept, "it came so", prefix=made.anchor)
    assert client.post(f"{URL}change/built/{made.pk}", again).status_code == 302
    made.refresh_from_db()
    assert (made.value, made.edits) == (kept, 1)  # what is written reads back: nothing has changed


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("Management address", "10.44.1.300", "Give an IPv4 address"),
        ("Memory", "lots", "is not a number"),
        ("Memory", "9999999999", "Give a number from"),
        ("State", "borrowed", "is not one of existing, to buy, spare"),
        ("Management network", "the old one", "is not one network of this site"),
        ("Colour", "blue", "A host has no “Colour”. It has: Name,"),
        ("Note", "a note", "A host has no “Note”"),
        ("Make and model", "the password is hunter2", "looks like a password"),
        ("Rack units", "1.5", "whole number"),
    ],
)
def test_what_the_field_could_never_hold_is_refused(site, host, people, enter, field, value, says):
    response = add(enter(people["editor"]), host.anchor, field, value)
    assert response.status_code == 422 and not Built.objects.exists()
    page = words(response)
    assert "There is a problem" in page and says in page
    assert f'value="{field}"' in response.content.decode()  # what was typed is still there


@pytest.mark.parametrize("target", ["host-999999", "mill-h7", "built-1", "x" * 100])
def test_only_a_record_of_this_site_may_be_named(site, host, people, enter, target):
    response = add(enter(people["editor"]), target, "Memory", "64")
    assert response.status_code == 422 and "is not one record of this site" in words(response)


def test_a_value_without_its_record_is_asked_for_it(site, host, people, enter):
    response = add(enter(people["editor"]), "", "Memory", "64")
    assert response.status_code == 422 and "Say which record it belongs to." in words(response)


def test_one_field_has_one_built_value(site, host, people, enter):
    client = enter(people["editor"])
    add(client, host.anchor, "Memory", "64")
    response = add(client, host.anchor, "memory", "128")
    assert response.status_code == 422 and "Memory of mill-h1 has a built value already" in words(
        response
    )
    assert add(client, host.anchor, "Clock", "2.4").status_code == 302


def test_it_is_chosen_without_script(site, host, people, enter):
    """A list that goes by chapters, a text with suggestions, and the planned value are all in the page itself."""
    page = enter(people["editor"]).get(PAPERS + "?add=built").content.decode()
    assert re.search(
        r'<optgroup label="3 Hosts">\s*<option value="host-\d+">mill-h1 \(host\)</option>', page
    )
    assert re.search(
        r'list="id_new-built-field-list".*<datalist id="id_new-built-field-list">', page, re.S
    )
    assert '<option value="Management address"></option>' in page and "<output" in page


def test_an_open_row_suggests_only_the_fields_of_its_record(site, host, people, enter):
    client = enter(people["editor"])
    add(client, host.anchor, "Memory", "64")
    page = client.get(f"{PAPERS}?edit=built:{Built.objects.get().pk}").content.decode()
    assert '<option value="Rack units">' in page and '<option value="Certificate">' not in page


def test_a_built_value_of_a_removed_record_is_not_lost(site, host, staff, people, enter):
    client = enter(people["editor"])
    add(client, host.anchor, "Memory", "64", "half of it came")
    made = Built.objects.get()
    remove_record(by=staff, record=host)
    page = client.get(f"{PAPERS}?edit=built:{made.pk}").content.decode()
    assert f'<option value="{host.anchor}" selected>{host.anchor} (removed)</option>' in page
    client.post(
        f"{URL}change/built/{made.pk}",
        typed(host.anchor, "memory_gib", "64 GiB", "all of it", prefix=made.anchor),
    )
    made.refresh_from_db()
    assert (made.target, made.field, made.reason) == (host.anchor, "memory_gib", "all of it")


def test_the_plan_may_move_and_the_building_stays(site, host, staff, people, enter):
    add(enter(people["editor"]), host.anchor, "Memory", "128")
    assert drift(read_site(site))[0].differs is True
    change_record(by=staff, kind="host", pk=host.pk, opened_at=1, values={"memory_gib": 128.0})
    (found,) = drift(read_site(site))
    assert (found.planned, found.shown, found.differs) == ("128 GiB", "128 GiB", False)


def test_rows_may_be_pasted_with_the_words_on_the_page(site, host, people, enter):
    rows = (
        "mill-h1 (host)\tMemory\t\t64 GiB\thalf of it came\nmill-h1\tHypervisor\t\trelease 8.3\t\n"
    )
    client = enter(people["editor"])
    assert client.post(URL + "paste/built", {"rows": rows, "confirm": "yes"}).status_code == 302
    assert list(Built.objects.order_by("pk").values_list("target", "field", "value")) == [
        (host.anchor, "memory_gib", "64 GiB"),
        (host.anchor, "hypervisor", "release 8.3"),
    ]


def test_history_and_book_speak_in_the_words_of_the_chapters(site, host, people, enter):
    client = enter(people["editor"])
    add(client, host.anchor, "Memory", "64 GiB", "half of it came")
    made = Built.objects.get()
    changed = typed(host.anchor, "Rack units", "2", "measured", prefix=made.anchor)
    client.post(f"{URL}change/built/{made.pk}", changed)
    page = words(client.get(URL + "changes"))
    assert "What: Memory → Rack units" in page and "Built: 64 GiB → 2" in page
    reader = PdfReader(io.BytesIO(client.get(URL + "print/build-book.pdf").content))
    text = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    assert "mill-h1 (host) Rack units not known yet 2 measured" in text


@pytest.mark.parametrize(
    ("standing", "code"), [("reader", 403), ("outsider", 404), ("editor", 302)]
)
def test_only_an_editor_enters_built_values(site, host, people, enter, standing, code):
    assert add(enter(people[standing]), host.anchor, "Memory", "64").status_code == code


def test_a_built_value_is_taken_into_the_plan(people, site, staff, enter):
    host = add_record(
        by=staff, site=site, kind="host", values={"name": "mill-h1", "memory_gib": 64.0}
    )
    own = {
        "target": host.anchor,
        "field": "memory_gib",
        "value": "48 GiB",
        "reason": "one module was dead",
    }
    built = add_record(by=staff, site=site, kind="built", values=own)
    client = enter(people["editor"])
    assert b"11.5" in client.get("/at/larkfield/mill/papers/").content
    page = client.post(
        f"/at/larkfield/mill/built/{built.pk}/take-over", follow=True
    ).content.decode()
    assert "The plan says 48 GiB now: Memory of mill-h1 (host)." in page
    host.refresh_from_db()
    assert (host.memory_gib, host.edits, host.changed_by) == (48.0, 2, people["editor"])
    assert not read_site(site).built and "Bring it back" in page
    assert client.post(f"/at/larkfield/mill/built/{built.pk}/take-over").status_code == 404


def test_what_is_not_understood_is_not_taken_over(people, site, staff, enter):
    host = add_record(
        by=staff, site=site, kind="host", values={"name": "mill-h1", "memory_gib": 64.0}
    )
    own = {"target": host.anchor, "field": "memory_gib", "value": "plenty"}
    built = add_record(by=staff, site=site, kind="built", values=own)
    page = enter(people["editor"]).post(
        f"/at/larkfield/mill/built/{built.pk}/take-over", follow=True
    )
    assert b"mend the built value first" in page.content
    host.refresh_from_db()
    assert host.memory_gib == 64.0
