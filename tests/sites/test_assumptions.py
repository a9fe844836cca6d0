"""Planning numbers set anew at a site and for the house."""

import pytest

from planner import work_out
from sites.loading import read_site
from sites.models import Assumed, HouseAssumption, Site

KEY = "host.vcpu-per-core"
SHARE = "storage.free-share"
ONE = f"/at/larkfield/mill/assume/{KEY}"


def in_force(site, key=KEY):
    facts = read_site(Site.objects.select_related("customer").get(pk=site.pk))
    return work_out(facts).numbers.all[key]


def form(value, was="6.0", **more):
    return {"value": value, "origin": "measured", "note": "Pilot week", "was": was, **more}


def test_a_site_sets_a_number_and_takes_it_back(people, site, enter):
    client, before = enter(people["editor"]), Site.objects.get(pk=site.pk).counter
    assert client.post(ONE, form("4")).status_code == 302
    one = in_force(site)
    assert (one.value, one.origin, one.scope, one.note) == (4.0, "measured", "site", "Pilot week")
    assert one.set_on is not None and Site.objects.get(pk=site.pk).counter > before
    assert b"set here" in client.get("/at/larkfield/mill/assumptions").content
    client.post(ONE + "/back")
    assert in_force(site).scope == "catalogue"
    page = client.get("/at/larkfield/mill/changes").content.decode()
    assert "editor@larkfield.example" in page and "taken back" in page and "4 →" in page
    assert [row.history_type for row in Assumed.history.order_by("history_id")] == ["+", "-"]


def test_the_house_sets_it_for_all_and_a_site_overrides(people, site, staff, enter):
    client = enter(staff)
    client.post(f"/house/assumptions/{KEY}", form("5"))
    assert (in_force(site).value, in_force(site).scope) == (5.0, "house")
    client.post(ONE, form("4", was="5.0"))
    assert in_force(site).value == 4.0
    client.post(ONE + "/back")
    assert in_force(site).value == 5.0
    client.post(f"/house/assumptions/{KEY}/back")
    assert in_force(site).scope == "catalogue" and not HouseAssumption.objects.exists()


def test_a_share_is_typed_in_per_cent(people, site, enter):
    enter(people["editor"]).post(f"/at/larkfield/mill/assume/{SHARE}", form("25 %", was="0.2"))
    assert in_force(site, SHARE).value == pytest.approx(0.25)


@pytest.mark.parametrize("value", ["", "many", "0", "1000"])
def test_what_cannot_be_is_refused_with_its_bounds(people, site, enter, value):
    page = enter(people["editor"]).post(ONE, form(value))
    assert page.status_code == 422 and not Assumed.objects.exists()


def test_two_people_setting_it_lose_nothing_silently(people, site, enter):
    client = enter(people["editor"])
    client.post(ONE, form("4"))
    page = client.post(ONE, form("8"))  # opened before the 4 was set
    assert page.status_code == 422 and b"Somebody else set this meanwhile, to 4" in page.content
    assert in_force(site).value == 4.0
    client.post(ONE, form("8", was="4.0"))
    assert in_force(site).value == 8.0


def test_a_number_nobody_knows_is_not_found(people, site, staff, enter):
    assert enter(staff).get("/at/larkfield/mill/assume/no.such").status_code == 404
    assert enter(staff).get("/house/assumptions/no.such").status_code == 404
