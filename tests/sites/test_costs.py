"""What pages cost: a fixed number of queries, however large the site and however many customers.

Nothing is wrapped in a transaction here: within one no plan is kept, and no page would cost what it costs people.
"""

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from planner.record.chapters import BY_SECTION, CHAPTERS
from sites.actions.customers import make_customer
from sites.actions.records import add_record, make_site
from sites.actions.stages import give_answer
from sites.forms import record_form
from sites.loading import read_site
from sites.models import Host, Person
from sites.pages.plans import PLANS
from tests.pages import sent_as_shown
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
OWN = 4  # session, person, site, role
UNCHANGED = OWN + 1  # the site's state
MOST = UNCHANGED + 4  # two or three of the page's own
RUN = ("run/1/", "run/1/whole", "run/1/check/scope-agreed/")
MORE = {
    "changes": 60,  # it reads the history of every kind of record
    **dict.fromkeys(RUN, MOST + 4),  # what was done, with whom, and its proofs
}
READ_ANEW = 45  # two states, the counters of all kinds, 24 to read a site; its standing
SAVED = 30  # a value, and the page that shows it


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
    with django_db_blocker.unblock():
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
        call_command("flush", interactive=False, verbosity=0)
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


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("page", [f"{chapter.slug}/" for chapter in CHAPTERS])
def test_a_chapter_that_nothing_moved_is_asked_for_in_few_queries(page, people, site, enter):
    client = enter(people["editor"])
    wanted = UNCHANGED + {"papers/": 1}.get(page, 0)  # what was printed raises no counter
    assert queries(client, f"/at/larkfield/mill/{page}") == wanted


@pytest.mark.django_db(transaction=True)
def test_saving_one_value_reads_the_site_once(people, site, staff, enter):
    """The form is read by the plan that was there; what was saved is shown by a new one, and of the rows only those
    of the one kind are read."""
    fill(staff, site, 3)
    client, host = enter(people["editor"]), Host.objects.get(name="h1")
    client.get("/at/larkfield/mill/hosts/")
    form = record_form(BY_SECTION["hosts"], read_site(site), host)
    sent = {**sent_as_shown(form), form["memory_gib"].html_name: "384"}
    url = f"/at/larkfield/mill/change/hosts/{host.pk}"
    with CaptureQueriesContext(connection) as seen:
        page = client.post(url, sent, headers={"HX-Request": "true"})
    assert "384" in page.content.decode() and Host.objects.get(pk=host.pk).memory_gib == 384
    assert len(seen) <= SAVED
    whole_kinds = [one["sql"] for one in seen if 'FROM "sites_network" WHERE' in one["sql"]]
    assert not [sql for sql in whole_kinds if "SUM(" not in sql]


@pytest.mark.django_db(transaction=True)
def test_a_process_that_keeps_nothing_yet_reads_the_site_once(people, site, enter):
    client = enter(people["editor"])
    client.get("/at/larkfield/mill/hosts/")
    PLANS.clear()
    with CaptureQueriesContext(connection) as seen:
        client.get("/at/larkfield/mill/hosts/")
    assert len(seen) <= READ_ANEW
