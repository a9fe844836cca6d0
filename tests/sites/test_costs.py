"""What pages cost: a fixed number of queries, however large the site and however many customers."""

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from planner.record.chapters import CHAPTERS
from sites.actions.customers import make_customer
from sites.actions.records import add_record, make_site
from sites.actions.stages import give_answer
from sites.models import Person
from tests.people import house_staff, larkfield

PAGES = [
    *(f"{chapter.slug}/" for chapter in CHAPTERS),
    "stages/1/",
    "assumptions",
    "day",
    "owners",
    "changes",
    "watch",
    "probe/",
    "addresses/lay-out",
    "addresses/carve",
    "addresses/ranges",
    "run/1/",
    "run/1/whole",
    "run/1/check/scope-agreed/",
    "ready",
    "stages/1/excuse",
    "answer/scope-agreed",
    "read-back",
    "addresses/?ports=firewall",
    "addresses/?ports=pairs",
]
MOST = 45  # 23 to read a site; session, person, site, role; one or two of the page's own
MORE = {"changes": 85}  # it reads the history of every kind of record


def fill(staff, site, times):
    for n in range(times):
        network = add_record(
            by=staff, site=site, kind="network", values={"name": f"n{n}", "cidr": f"10.9.{n}.0/24"}
        )
        host = add_record(
            by=staff, site=site, kind="host", values={"name": f"h{n}", "network_id": network.pk}
        )
        add_record(
            by=staff, site=site, kind="datastore", values={"name": f"d{n}", "host_id": host.pk}
        )
        image = add_record(by=staff, site=site, kind="image", values={"name": f"i{n}"})
        on = {"name": f"t{n}", "image_id": image.pk, "network_id": network.pk}
        template = add_record(by=staff, site=site, kind="template", values=on)
        add_record(
            by=staff,
            site=site,
            kind="seatgroup",
            values={"name": f"s{n}", "template_id": template.pk},
        )
        give_answer(by=staff, site=site, key=f"k{n}", state="trust")


def queries(client, url):
    client.get(url)  # the first look leaves the site's standing behind
    with CaptureQueriesContext(connection) as seen:
        assert client.get(url).status_code in (200, 204)
    return len(seen)


@pytest.fixture(scope="module")
def counted(django_db_setup, django_db_blocker):
    """What each page costs before and after its site grew, by page; the site is filled once for all pages."""
    with django_db_blocker.unblock(), transaction.atomic():
        staff = house_staff()
        site = make_site(
            by=staff, customer=larkfield(staff), code="mill", name="Mill Street", purpose="live"
        )
        client = Client()
        client.force_login(Person.objects.get(email="editor@larkfield.example"))
        fill(staff, site, 1)
        before = {page: queries(client, f"/at/larkfield/mill/{page}") for page in PAGES}
        fill(staff, site, 10)
        after = {page: queries(client, f"/at/larkfield/mill/{page}") for page in PAGES}
        transaction.set_rollback(True)
    return before, after


@pytest.mark.parametrize("page", PAGES)
def test_a_page_of_a_site_costs_the_same_queries_at_ten_times_its_rows(page, counted, db):
    before, after = counted
    assert after[page] == before[page] <= MORE.get(page, MOST)


def test_the_home_page_costs_the_same_with_many_customers(people, site, staff, enter):
    client = enter(staff)
    before = queries(client, "/")
    for n in range(12):
        new = make_customer(by=staff, values={"name": f"C{n}", "code": f"c{n}"})
        make_site(by=staff, customer=new, code="a", name="A")
    assert queries(client, "/") == before <= 8
