"""Rows pasted from a spreadsheet are previewed, then confirmed."""

import re
import types

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from sites.actions.records import add_record, change_record, remove_record
from sites.models import Host, Network

URL = "/at/larkfield/mill/paste/"


def test_preview_writes_nothing_and_confirming_does(site, staff, people, enter):
    net = add_record(by=staff, site=site, kind="network", values={"name": "management"})
    add_record(
        by=staff,
        site=site,
        kind="host",
        values={"name": "mill-h1", "memory_gib": 64.0, "note": "kept"},
    )
    rows = (
        "Name\tMemory, GiB\tNetwork\tState\n"
        "mill-h1\t96 GiB\tmanagement\texisting\n"
        "mill-h2\t128\tManagement\tto buy\n"
    )
    client = enter(people["editor"])
    page = client.post(URL + "hosts", {"rows": rows}).content.decode()
    assert "<b>changed</b>: State, Memory, Management network" in page and "<b>added</b>" in page
    assert Host.objects.count() == 1 and Host.objects.get().memory_gib == 64
    assert client.post(URL + "hosts", {"rows": rows, "confirm": "yes"}).status_code == 302
    first, second = Host.objects.order_by("pk")
    assert (first.memory_gib, first.note, first.network_id, first.edits) == (96, "kept", net.pk, 2)
    assert (second.name, second.state, second.memory_gib) == ("mill-h2", "to-buy", 128)


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ("n1\tdesktops\t40\t10.44.1.300/24", "Give a subnet"),
        ("n1\tswimming\t40", "is not one of"),
        (
            "n1\tdesktops\t40\t10.44.1.0/24\t10.44.1.1\tno DHCP\tmore\tand more",
            "8 cells, but 6 columns",
        ),
        ("   ", "Paste at least one row"),
        ("n\n" * 501, "too much at once"),
        ("x" * 200_001, "too much at once"),
    ],
)
def test_a_refused_row_writes_nothing_at_all(site, people, enter, rows, says):
    good = "" if not rows.strip() or len(rows) > 1000 else "good\tdesktops\t41\n"
    response = enter(people["editor"]).post(
        URL + "networks", {"rows": good + rows, "confirm": "yes"}
    )
    assert response.status_code == 422 and says in response.content.decode()
    assert not Network.objects.exists()


def test_without_a_heading_the_ledgers_order_holds(site, people, enter):
    enter(people["editor"]).post(
        URL + "networks", {"rows": "n1;desktops;40;10.44.1.0/24", "confirm": "yes"}
    )
    found = Network.objects.get()
    assert (found.name, found.purpose, found.vlan, found.cidr) == (
        "n1",
        "desktops",
        40,
        "10.44.1.0/24",
    )


def looked_at(page) -> dict:
    """What the page sends along when the rows are confirmed."""
    found = re.search(r'name="looked-at" value="([^"]*)"', page.content.decode())
    return {"looked-at": found[1], "confirm": "yes"}


def test_a_name_that_stands_twice_is_refused(site, staff, people, enter):
    add_record(by=staff, site=site, kind="host", values={"name": "mill-h1", "memory_gib": 64.0})
    rows = "Name\tMemory, GiB\nmill-h1\t111\nMILL-H1\t222\nnew\t1\nnew\t2\n"
    page = enter(people["editor"]).post(URL + "hosts", {"rows": rows, "confirm": "yes"})
    text = page.content.decode()
    assert page.status_code == 422
    assert "“MILL-H1” stands in row 1 already." in text and "“new” stands in row 3" in text
    assert Host.objects.get().memory_gib == 64


def test_two_records_of_one_name_are_changed_one_by_one(site, staff, people, enter):
    for _ in range(2):
        add_record(by=staff, site=site, kind="host", values={"name": "twin"})
    rows = "Name\tMemory, GiB\ntwin\t111\n"
    page = enter(people["editor"]).post(URL + "hosts", {"rows": rows, "confirm": "yes"})
    assert page.status_code == 422 and "2 records here are called “twin”" in page.content.decode()
    assert {one.memory_gib for one in Host.objects.all()} == {None}


@pytest.fixture
def shown(site, staff, people, enter):
    """Rows that were looked at: of one host the memory is another, the other is as it was."""
    one, other = (
        add_record(by=staff, site=site, kind="host", values={"name": name, "memory_gib": 64.0})
        for name in ("mill-h1", "mill-h2")
    )
    client = enter(people["editor"])
    sent = {"rows": "Name\tMemory, GiB\nmill-h1\t111\nmill-h2\t64\nnew\t5\n"}
    sent |= looked_at(client.post(URL + "hosts", sent))
    return types.SimpleNamespace(one=one, other=other, client=client, sent=sent)


def save(staff, record, **values):
    record.refresh_from_db()
    change_record(by=staff, kind="host", pk=record.pk, opened_at=record.edits, values=values)


def test_what_somebody_saved_between_look_and_confirming_is_not_overwritten(shown, staff):
    save(staff, shown.one, memory_gib=96.0)
    page = shown.client.post(URL + "hosts", shown.sent)
    text = page.content.decode()
    assert page.status_code == 409
    assert "they wrote 96 GiB, the rows say 111 GiB." in text
    assert f"{staff} changed mill-h1 meanwhile" in text and "mill-h1\t111" in text
    assert Host.objects.get(pk=shown.one.pk).memory_gib == 96
    assert not Host.objects.filter(name="new").exists()
    again = {**shown.sent, **looked_at(page)}  # who looks again and confirms means it
    assert shown.client.post(URL + "hosts", again).status_code == 302
    assert Host.objects.get(pk=shown.one.pk).memory_gib == 111


def test_what_the_rows_leave_as_it_was_stays_as_others_saved_it(shown, staff):
    save(staff, shown.other, memory_gib=96.0)
    save(staff, shown.one, note="theirs")
    page = shown.client.post(URL + "hosts", shown.sent, follow=True)
    assert "2 rows are in." in page.content.decode()
    shown.one.refresh_from_db()
    shown.other.refresh_from_db()
    assert (shown.one.memory_gib, shown.one.note) == (111, "theirs")
    assert shown.other.memory_gib == 96


def test_a_record_that_came_or_went_meanwhile_is_looked_at_again(shown, site, staff):
    for act in (
        lambda: add_record(by=staff, site=site, kind="host", values={"name": "new"}),
        lambda: remove_record(by=staff, record=Host.objects.get(pk=shown.one.pk)),
    ):
        act()
        page = shown.client.post(URL + "hosts", shown.sent)
        assert page.status_code == 409 and "Nothing was written" in page.content.decode()
    assert Host.objects.get(pk=shown.one.pk).memory_gib == 64


def test_of_two_with_one_name_none_is_taken_silently(client, people, enter, site, staff):
    for _ in range(2):
        add_record(by=staff, site=site, kind="network", values={"name": "desks"})
    page = enter(people["editor"]).post(
        URL + "hosts", {"rows": "Name\tNetwork\nmill-h1\tdesks\n", "confirm": "yes"}
    )
    assert page.status_code == 422 and "“desks” is not one network of this site" in (
        page.content.decode()
    )
    assert not Host.objects.exists()


def test_rows_cost_no_query_each(people, enter, site, staff, django_assert_max_num_queries):
    names = [f"mill-h{number}" for number in range(30)]
    for name in names:
        add_record(by=staff, site=site, kind="host", values={"name": name})
    client = enter(people["editor"])
    rows = "Name\tMemory, GiB\n" + "".join(f"{name}\t64\n" for name in names)
    with CaptureQueriesContext(connection) as one:
        client.post(URL + "hosts", {"rows": "Name\tMemory, GiB\nmill-h1\t64\n"})
    with django_assert_max_num_queries(len(one)):
        assert client.post(URL + "hosts", {"rows": rows}).content.decode().count("<b>changed") == 30
