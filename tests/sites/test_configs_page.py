"""9.4 For the network's owner: what is offered, what it will lack, what is noted when it leaves."""

from __future__ import annotations

import datetime as dt

import icalendar
import pytest

from planner.papers.configs import CONFIGS
from sites.actions.papers import freeze
from sites.actions.records import add_record, change_record
from sites.models import Printed

URL = "/at/larkfield/mill/"


def test_a_revision_is_downloaded_as_it_was(people, site, staff, enter):
    network = add_record(
        by=staff, site=site, kind="network", values={"name": "core", "cidr": "10.44.1.0/24"}
    )
    values = {"name": "mill-h1", "network_id": network.pk, "address": "10.44.1.11"}
    host = add_record(by=staff, site=site, kind="host", values=values)
    freeze(by=staff, site=site, reason="for the network's owner")
    change_record(by=staff, kind="host", pk=host.pk, opened_at=1, values={"address": "10.44.1.12"})
    client = enter(people["reader"])
    frozen, now = (client.get(f"{URL}print/config/hosts{asked}") for asked in ("?revision=A", ""))
    assert "10.44.1.11" in frozen.content.decode() and "Revision: A" in frozen.content.decode()
    assert "10.44.1.12" in now.content.decode() and "Revision: none" in now.content.decode()
    assert frozen["Content-Disposition"].endswith('larkfield-mill-hosts-A.txt"')
    assert client.get(f"{URL}print/config/hosts?revision=B").status_code == 404


def test_what_leaves_the_tool_is_noted(people, site, staff, enter):
    freeze(by=staff, site=site, reason="first")
    client = enter(people["reader"])
    client.head(URL + "print/config/hosts")
    assert not Printed.objects.exists()
    for slug in CONFIGS:
        client.get(f"{URL}print/config/{slug}")
    client.get(URL + "print/dates.ics?revision=A")
    noted = Printed.objects.order_by("pk")
    assert [one.paper for one in noted] == [*(kind.title for kind in CONFIGS.values()), "calendar"]
    assert [one.letter for one in noted] == [""] * len(CONFIGS) + ["A"]
    assert {one.by for one in noted} == {people["reader"]} and {
        len(one.fingerprint) for one in noted
    } == {9}


@pytest.mark.parametrize("slug", ["secrets", "..", "dhcp-kea.json"])
def test_there_is_no_other_configuration(people, site, enter, slug):
    assert enter(people["reader"]).get(f"{URL}print/config/{slug}").status_code == 404


def test_the_dates_open_in_a_calendar(people, site, staff, enter):
    """Read back by the icalendar package as RFC 5545 has it."""
    day = dt.date(2027, 1, 14)
    change_record(by=staff, kind="site", pk=site.pk, opened_at=1, values={"go_live_date": day})
    response = enter(people["reader"]).get(URL + "print/dates.ics")
    assert response["Content-Type"].startswith("text/calendar")
    assert (
        response["Content-Disposition"] == 'attachment; filename="larkfield-mill-dates-draft.ics"'
    )
    found = icalendar.Calendar.from_ical(response.content)
    assert [(one["summary"], one.decoded("dtstart")) for one in found.walk("VEVENT")] == [
        ("Mill Street: Go-live", day)
    ]


# -- What the page says before anybody downloads --------------------------------------------------


def section(client) -> str:
    page = client.get(URL + "addresses/").content.decode()
    return page[page.index('id="configs"') :].partition("</section>")[0]


def test_every_configuration_is_offered_with_its_caution(people, site, staff, enter):
    found = section(enter(people["reader"]))
    for kind in CONFIGS.values():
        assert kind.title in found and kind.purpose.replace("'", "&#x27;") in found
        assert f'href="{URL}print/config/{kind.slug}"' in found
    assert (
        "must read the whole file before it is loaded" in found
        and f'href="{URL}print/dates.ics"' in found
    )
    assert "Freeze a revision" in found and "?revision=" not in found
    freeze(by=staff, site=site, reason="first")
    assert f'href="{URL}print/config/zones?revision=A"' in section(enter(people["reader"]))


def test_what_will_be_left_out_is_told_with_its_reason_and_place(people, site, staff, enter):
    network = add_record(
        by=staff, site=site, kind="network", values={"name": "core", "cidr": "10.44.1.0/24"}
    )
    for name in ("mill-h1", "mill-h2"):
        values = {"name": name, "network_id": network.pk, "address": "10.44.1.11"}
        host = add_record(by=staff, site=site, kind="host", values=values)
    found = section(enter(people["reader"]))
    assert "claimed more than once, by mill-h1 and mill-h2" in found
    assert f'href="{URL}hosts/#host-{host.pk}"' in found


def test_the_page_does_not_write_huge_files_only_to_tell_what_they_lack(
    people, site, enter, monkeypatch
):
    monkeypatch.setattr("sites.pages.configs.MOST_READ", -1)
    found = section(enter(people["reader"]))
    assert found.count("it is read only when it is made") == len(CONFIGS)


def test_facts_that_no_file_can_say_do_not_break_the_page(people, site, staff, enter):
    add_record(
        by=staff, site=site, kind="host", values={"name": "x" * 200, "address": "10.44.1.11"}
    )
    add_record(
        by=staff,
        site=site,
        kind="network",
        values={"name": '"; }', "cidr": "0.0.0.0/0", "dhcp": "range"},
    )
    add_record(
        by=staff,
        site=site,
        kind="flow",
        values={"name": "*/ #", "ports": "a-b", "transport": "tcp"},
    )
    assert "left out" in section(enter(people["reader"]))
    for slug in CONFIGS:
        assert enter(people["reader"]).get(f"{URL}print/config/{slug}").status_code == 200
