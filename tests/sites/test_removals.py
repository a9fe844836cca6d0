"""Every removal can be brought back from a page, not only the newest; what cannot come back wholly is told."""

import pytest

from sites.actions.records import (
    add_record,
    bring_back,
    change_record,
    make_site,
    remove_record,
    remove_site,
)
from sites.loading import read_site
from sites.models import Datastore, Host, Removal

URL = "/at/larkfield/mill/"
PAGE = URL + "removals"


@pytest.fixture
def hosts(site, staff):
    return [
        add_record(by=staff, site=site, kind="host", values={"name": f"mill-h{n}"})
        for n in range(30)
    ]


def removed(staff, records) -> list[Removal]:
    return [remove_record(by=staff, record=one) for one in records]


def test_the_fourth_newest_can_be_brought_back_too(site, staff, hosts, people, enter):
    removals = removed(staff, hosts[:5])
    client = enter(people["editor"])
    chapter = client.get(URL + "hosts/").content.decode()
    assert (
        f"bring-back/{removals[0].pk}" not in chapter
        and "All 5 removals" in chapter
        and PAGE in chapter
    )
    page = client.get(PAGE).content.decode()
    assert all(f"bring-back/{one.pk}" in page for one in removals)
    assert page.index("mill-h4") < page.index("mill-h0")  # newest first
    assert client.post(f"{URL}bring-back/{removals[0].pk}").status_code == 302
    assert Host.objects.get(name="mill-h0").removal is None
    assert f"bring-back/{removals[0].pk}" not in client.get(PAGE).content.decode()


def test_who_and_when_and_how_many_went_with_it(site, staff, hosts, people, enter):
    for name in ("local", "shared"):
        add_record(by=staff, site=site, kind="datastore", values={"name": name, "host": hosts[0]})
    removal = remove_record(by=people["lead"], record=hosts[0])
    page = enter(people["editor"]).get(PAGE).content.decode()
    assert "and 2 records that cannot stand without it" in page
    assert f"{removal.at:%H:%M} by lead@larkfield.example" in page


def test_there_are_pages(site, staff, hosts, people, enter):
    removed(staff, hosts)
    client = enter(people["reader"])
    first, second = (client.get(PAGE, {"page": number}).content.decode() for number in (1, 2))
    assert "page 1 of 2" in first and first.count('class="removed"') == 25
    assert "page 2 of 2" in second and second.count('class="removed"') == 5
    for odd in ("0", "-1", "x", "²", "9" * 5000):
        assert client.get(PAGE, {"page": odd}).status_code == 200


def test_a_reader_looks_and_an_editor_brings_back(site, staff, hosts, people, enter):
    removal = removed(staff, hosts[:1])[0]
    client = enter(people["reader"])
    page = client.get(PAGE).content.decode()
    assert "mill-h0" in page and "<form" not in page and "An editor can bring it back." in page
    assert PAGE in client.get(URL + "changes").content.decode()
    assert client.post(f"{URL}bring-back/{removal.pk}").status_code == 403


def test_what_would_not_come_back_wholly_is_said(site, staff, people, enter):
    net = add_record(by=staff, site=site, kind="network", values={"name": "management"})
    host = add_record(by=staff, site=site, kind="host", values={"name": "mill-h1", "network": net})
    first, second = removed(staff, [host, net])
    client = enter(people["editor"])
    words = "mill-h1 names the network management, which is removed too"
    assert f"Would not come back wholly: {words}." in client.get(PAGE).content.decode()
    page = client.post(f"{URL}bring-back/{first.pk}", follow=True).content.decode()
    assert f"Not wholly: {words}." in page
    assert read_site(site).hosts[0].network_id is None
    client.post(f"{URL}bring-back/{second.pk}")
    assert read_site(site).hosts[0].network_id == net.pk  # it was kept, and is there again


def test_several_named_in_one_field_and_in_a_built_value(site, staff, people, enter):
    rooms = add_record(by=staff, site=site, kind="network", values={"name": "rooms"})
    line = add_record(
        by=staff, site=site, kind="network", values={"name": "line", "reaches": [rooms.pk]}
    )
    host = add_record(by=staff, site=site, kind="host", values={"name": "mill-h1"})
    values = {"target": host.anchor, "field": "memory_gib", "value": "48", "reason": "Sold out."}
    own = add_record(by=staff, site=site, kind="built", values=values)
    removed(staff, [own, host, line, rooms])
    page = enter(people["editor"]).get(PAGE).content.decode()
    assert "names the host mill-h1, which is removed too" in page
    assert "line names the network rooms, which is removed too" in page


def test_what_was_removed_before_stays_removed(site, staff, hosts):
    """A datastore removed by itself, then its host: each comes back with its own removal."""
    disk = add_record(
        by=staff, site=site, kind="datastore", values={"name": "local", "host": hosts[0]}
    )
    first, second = removed(staff, [disk, hosts[0]])
    bring_back(by=staff, removal=second)
    assert (
        Host.objects.get(pk=hosts[0].pk).removal is None
        and Datastore.objects.get().removal_id == first.pk
    )
    bring_back(by=staff, removal=first)
    assert Datastore.objects.get().removal is None


def test_pressed_twice(site, staff, hosts, people, enter):
    client = enter(people["editor"])
    for _ in range(2):
        assert client.post(f"{URL}remove/hosts/{hosts[0].pk}").status_code == 302
    removal = Removal.objects.get()
    for _ in range(2):
        assert client.post(f"{URL}bring-back/{removal.pk}").status_code == 302
    assert Host.objects.get(pk=hosts[0].pk).edits == 3  # made, removed, brought back


def test_what_somebody_else_saved_meanwhile_is_not_undone_by_a_removal(site, staff, hosts, people):
    """The row that is removed was read before they saved."""
    stale = Host.objects.get(pk=hosts[0].pk)
    change_record(
        by=people["lead"], kind="host", pk=stale.pk, opened_at=1, values={"memory_gib": 96.0}
    )
    bring_back(by=staff, removal=remove_record(by=staff, record=stale))
    found = Host.objects.get(pk=stale.pk)
    assert (found.memory_gib, found.edits) == (96.0, 4)
    assert list(found.history.order_by("edits").values_list("edits", flat=True)) == [1, 2, 3, 4]


def test_all_removed_sites_stand_on_the_customers_page(staff, customer, people, enter):
    for n in range(5):
        made = make_site(by=staff, customer=customer, code=f"barn-{n}", name=f"Barn {n}")
        remove_site(by=staff, site=made)
    client = enter(people["lead"])
    page = client.get("/at/larkfield/").content.decode()
    assert page.count("Bring it back") == 5
    first = Removal.objects.order_by("pk").first()
    client.post(f"/at/larkfield/site-back/{first.pk}")
    assert client.get("/at/larkfield/barn-0/brief/").status_code == 200


def test_a_site_brought_back_by_two_presses_comes_back_once(site, people, enter, staff):
    removal = remove_site(by=staff, site=site)
    client = enter(people["lead"])
    for _ in range(2):
        page = client.post(f"/at/larkfield/site-back/{removal.pk}", follow=True)
        assert page.status_code == 200 and "Brought back" in page.content.decode()
    site.refresh_from_db()
    assert site.removal is None and site.edits == 3
