"""Server time of every chapter page of the large demo site. Run: python -m tests.bench.pages

For each page: unchanged, beside a bare Django view that sends the same bytes behind the same middleware and sign-in;
the queries beside the session's own (session and person); after a host's value was changed, and after an answer, beside
the same page without any plan kept. Then what it takes to save one value, page with it, and what a kept plan holds.
The database is an embedded one in a temporary folder; times are the processor's, of Django's test client, the quickest
of a few: so neighbours on the machine count little.
"""

from __future__ import annotations

import gc
import os
import tempfile
import time
import tracemalloc
from collections.abc import Callable

os.environ["DJANGO_SETTINGS_MODULE"] = "planner.settings"
os.environ["DESKWRIGHT_DEMO"] = "yes"
os.environ["DESKWRIGHT_DATA"] = tempfile.mkdtemp()

import django

django.setup()

from django.contrib.auth.decorators import login_required
from django.core.management import call_command
from django.db import connection
from django.http import HttpResponse
from django.test import Client, override_settings
from django.urls import include, path

from planner.record.chapters import BY_SECTION, CHAPTERS
from sites.actions.customers import make_member
from sites.actions.records import change_record
from sites.actions.stages import give_answer
from sites.forms import record_form
from sites.models import Host, Person, Site, Template
from sites.pages.plans import PLANS, kept_plan
from tests.pages import sent_as_shown

CAMPUS = "/at/northmere/campus/"
CONTENT = b""
REPEATS = 9
OF_SESSION = ("django_session", "sites_person")  # whose row each request reads


@login_required
def bare(request):
    request.user.is_active  # noqa: B018  (the person is loaded, as on every page)
    return HttpResponse(CONTENT)


urlpatterns = [path("bare", bare), path("", include("planner.urls"))]


def queries(ask: Callable[[], HttpResponse]) -> list[str]:
    """What a request asks the database, but for its session's own."""
    seen: list[str] = []

    def note(execute, sql, params, many, context):
        seen.append(sql)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        ask()
    own = [sql for sql in seen[:2] if any(f'FROM "{table}"' in sql for table in OF_SESSION)]
    return seen[len(own) :]


def quickest(ask: Callable[[], HttpResponse], before: Callable[[], object] = bool) -> float:
    """Milliseconds that a request takes at least; ``before`` is done each time, and does not count."""
    found = []
    for _ in range(REPEATS):
        before()
        began = time.process_time()
        ask()
        found.append(time.process_time() - began)
    return 1000 * min(found)


class House:
    """The demo house, with somebody signed in."""

    def __init__(self):
        call_command("migrate", verbosity=0)
        call_command("demo", verbosity=0)
        self.ida = Person.objects.get(email="ida@house.example")
        self.client = Client()
        self.client.force_login(self.ida)
        self.host = Host.objects.filter(site__code="campus").first().pk

    def change(self) -> None:
        """Somebody else changes one value."""
        host = Host.objects.get(pk=self.host)
        memory = {"memory_gib": 1024.0 - host.memory_gib + 256}
        change_record(by=self.ida, kind="host", pk=host.pk, opened_at=host.edits, values=memory)

    def answer(self) -> None:
        """Somebody else answers a check."""
        site = Site.objects.get(code="campus")
        give_answer(by=self.ida, site=site, key="scope-agreed", state="trust", proof="So it is.")

    def save(self) -> list[str]:
        """What is asked where one value is saved in its row with a script: the answer is the page."""
        host = Host.objects.select_related("site__customer").get(pk=self.host)
        form = record_form(BY_SECTION["hosts"], kept_plan(host.site).facts, host)
        sent = {**sent_as_shown(form), form["memory_gib"].html_name: "384"}
        url = f"{CAMPUS}change/hosts/{self.host}"

        def send() -> HttpResponse:
            return self.client.post(url, sent, headers={"HX-Request": "true"})

        return queries(send)


def line(name: str, url: str, headers: dict, house: House) -> str:
    global CONTENT

    def ask() -> HttpResponse:
        return house.client.get(CAMPUS + url, headers=headers)

    CONTENT = ask().content
    asked = queries(ask)
    unchanged, bare_one = quickest(ask), quickest(lambda: house.client.get("/bare"))
    changed, answered = quickest(ask, house.change), quickest(ask, house.answer)
    without = quickest(ask, PLANS.clear)
    return (
        f"{name:26} {unchanged:5.1f} ms, {len(CONTENT) // 1024:3} kB, bare view {bare_one:.1f} ms: "
        f"{unchanged / bare_one:4.1f} times; {len(asked)} queries; without a kept plan {without:5.1f} ms; "
        f"after a host's value {changed:5.1f} ms: {changed / without:.2f}, "
        f"after an answer {answered:5.1f} ms: {answered / without:.2f}"
    )


def held(house: House) -> float:
    """What is kept of the large site once every chapter was shown to two roles and every room is worked out, in MiB."""
    site = Site.objects.select_related("customer").get(code="campus")
    noor = Person.objects.create_user("reader@northmere.example")
    make_member(customer=site.customer, person=noor, role="reader")
    reader = Client()
    reader.force_login(noor)

    def show_all() -> None:
        for client in (house.client, reader):
            for chapter in CHAPTERS:
                client.get(f"{CAMPUS}{chapter.slug}/")
        kept_plan(site).everything()

    show_all()  # what is kept of other things is there already
    tracemalloc.start()
    PLANS.clear()
    gc.collect()
    before = tracemalloc.get_traced_memory()[0]
    for _ in range(2):  # the second plan holds what it took over from the first
        show_all()
        house.answer()
        site.refresh_from_db()
    gc.collect()
    return (tracemalloc.get_traced_memory()[0] - before) / 2**20


def main() -> None:
    house = House()
    template = Template.objects.filter(site__code="campus").first()
    pages = {chapter.name: (f"{chapter.slug}/", {}) for chapter in CHAPTERS}
    tried = f"what-if?template-{template.pk}-most=20"
    pages["What if, one value changed"] = (tried, {"HX-Request": "true"})
    gc.collect()
    gc.freeze()
    for name, (url, headers) in pages.items():
        print(line(name, url, headers, house))
    saving = house.save()
    print(f"One value saved, with its page: {len(saving) + 2} queries, the session's two with them")
    print(f"Kept of the large site, all pages and rooms with it: {held(house):.1f} MiB")


if __name__ == "__main__":
    with override_settings(ROOT_URLCONF="tests.bench.pages"):
        main()
