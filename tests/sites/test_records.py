"""Records are added, changed, merged, removed and brought back; nothing typed is lost."""

import pytest

from planner.record.chapters import BY_SLUG
from sites.actions.records import add_record, bring_back, change_record, remove_record
from sites.loading import read_site
from sites.models import Appliance, Datastore, Host

URL = "/at/larkfield/mill/"


def row(host, **values):
    """A whole row as the page sends it."""
    typed = {
        "edits": host.edits,
        "name": host.name,
        "memory_gib": host.memory_gib or "",
        "model": host.model,
        **values,
    }
    return {f"host-{host.pk}-{name}": value for name, value in typed.items()}


@pytest.fixture
def host(site, staff):
    return add_record(
        by=staff, site=site, kind="host", values={"name": "mill-h1", "memory_gib": 64.0}
    )


def test_add_understands_units(site, people, enter):
    response = enter(people["editor"]).post(
        URL + "add/hosts", {"new-hosts-name": "mill-h1", "new-hosts-memory_gib": "96 GiB"}
    )
    assert response.status_code == 302
    assert Host.objects.get().memory_gib == 96


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("address", "10.44.1.300", "Give an IPv4 address"),
        ("memory_gib", "-4", "is not a number"),
        ("memory_gib", "lots", "is not a number"),
        ("sockets", "1.5", "whole number"),
        ("note", "root password: hunter22", "looks like a password"),
        ("mac", "00:11", "six pairs"),
    ],
)
def test_what_can_never_be_true_is_refused_and_kept(site, people, enter, field, typed, says):
    response = enter(people["editor"]).post(
        URL + "add/hosts", {"new-hosts-name": "mill-h1", f"new-hosts-{field}": typed}
    )
    page = response.content.decode()
    assert response.status_code == 422
    assert (
        "<title>Error: " in page and "There is a problem" in page and says in page and typed in page
    )
    assert not Host.objects.exists()


def test_an_empty_row_is_refused(site, people, enter):
    response = enter(people["editor"]).post(URL + "add/hosts", {"new-hosts-name": ""})
    assert response.status_code == 422 and b"Nothing is filled in" in response.content


def test_different_fields_of_one_record_are_merged(host, people, enter):
    opened = row(host)
    change_record(
        by=people["lead"], kind="host", pk=host.pk, opened_at=1, values={"memory_gib": 96.0}
    )
    enter(people["editor"]).post(
        f"{URL}change/hosts/{host.pk}", {**opened, f"host-{host.pk}-model": "two-unit"}
    )
    host.refresh_from_db()
    assert (host.memory_gib, host.model, host.edits) == (96, "two-unit", 3)


def test_the_same_field_shows_base_theirs_and_own(host, people, enter):
    change_record(
        by=people["lead"], kind="host", pk=host.pk, opened_at=1, values={"memory_gib": 96.0}
    )
    client = enter(people["editor"])
    response = client.post(f"{URL}change/hosts/{host.pk}", row(host, memory_gib="128"))
    page = response.content.decode()
    assert response.status_code == 409
    assert "It was: 64" in page and "theirs: 96" in page and "yours: 128" in page
    host.refresh_from_db()
    assert host.memory_gib == 96
    client.post(f"{URL}change/hosts/{host.pk}", row(host, memory_gib="128"))
    host.refresh_from_db()
    assert host.memory_gib == 128


def test_a_counter_nobody_knows_saves_nothing(host, people):
    saved = change_record(
        by=people["editor"], kind="host", pk=host.pk, opened_at=999, values={"memory_gib": 128.0}
    )
    assert [clash.name for clash in saved.clashes] == ["memory_gib"]


def test_removing_takes_what_it_owns_and_comes_back(host, site, staff, people, enter):
    disk = add_record(
        by=staff, site=site, kind="datastore", values={"name": "h1-local", "host": host}
    )
    box = add_record(
        by=staff, site=site, kind="appliance", values={"name": "broker-1", "host": host}
    )
    page = enter(people["editor"]).get(f"{URL}hosts/?remove=hosts:{host.pk}").content.decode()
    assert "h1-local" in page and "broker-1" in page
    removal = remove_record(by=staff, record=host)
    facts = read_site(site)
    assert not facts.hosts and not facts.datastores and facts.appliances[0].host_id is None
    bring_back(by=staff, removal=removal)
    facts = read_site(site)
    assert facts.hosts[0].name == "mill-h1" and facts.datastores[0].host_id == host.pk
    assert facts.appliances[0].host_id == host.pk
    assert (
        Datastore.objects.get(pk=disk.pk).removal is None
        and Appliance.objects.get(pk=box.pk).host_id == host.pk
    )


def test_reading_costs_the_same_for_ten_times_the_rows(
    site, staff, django_assert_num_queries, django_assert_max_num_queries
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def fill(count):
        for number in range(count):
            net = add_record(by=staff, site=site, kind="network", values={"name": f"n{number}"})
            add_record(
                by=staff, site=site, kind="host", values={"name": f"h{number}", "network": net}
            )

    fill(2)
    with CaptureQueriesContext(
        connection,
    ) as few:
        read_site(site)
    fill(20)
    with CaptureQueriesContext(connection) as many:
        read_site(site)
    assert len(few) == len(many) <= 25


def test_no_javascript_and_htmx_get_the_same_record(site, host, people, enter):
    client = enter(people["editor"])
    page = client.get(f"{URL}hosts/").content.decode()
    part = client.get(f"{URL}hosts/", headers={"HX-Request": "true"})
    assert page.lstrip().lower().startswith("<!doctype html>") and "mill-h1" in page
    assert "<!doctype" not in part.content.decode().lower() and "mill-h1" in part.content.decode()
    assert "HX-Request" in part["Vary"]


def test_a_lost_session_sends_htmx_to_the_sign_in_page(client, site):
    response = client.get(f"{URL}hosts/", headers={"HX-Request": "true"})
    assert response.status_code == 200 and "/sign-in/" in response["HX-Redirect"]


@pytest.mark.parametrize("slug", sorted(BY_SLUG))
def test_every_chapter_of_an_empty_site_opens(site, people, enter, slug):
    response = enter(people["reader"]).get(f"{URL}{slug}/")
    assert response.status_code == 200
    assert b'method="post"' not in response.content.split(b"<main")[1].split(b"</main>")[0]


def test_user_text_is_escaped(site, staff, people, enter):
    add_record(
        by=staff,
        site=site,
        kind="host",
        values={"name": "<script>alert(1)</script>", "note": "<b>x"},
    )
    page = enter(people["reader"]).get(f"{URL}hosts/").content.decode()
    assert "<script>alert" not in page and "&lt;script&gt;" in page
    assert (
        "script-src 'self'"
        in enter(people["reader"]).get(f"{URL}hosts/")["Content-Security-Policy"]
    )
