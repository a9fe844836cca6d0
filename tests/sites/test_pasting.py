"""Rows pasted from a spreadsheet are previewed, then confirmed."""

import pytest

from sites.actions.records import add_record
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
