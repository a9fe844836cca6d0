"""Server time of every chapter page of the large demo site. Run: python -m tests.bench.pages

Yardstick: a bare Django view, behind the same middleware and sign-in, that sends the same bytes. The database is an
embedded one in a temporary folder; times are of Django's test client, the quickest of a few.
"""

from __future__ import annotations

import functools
import gc
import os
import tempfile
import time

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

from planner.record.chapters import CHAPTERS
from sites.models import Person, Template

CONTENT = b""
REPEATS = 7


@login_required
def bare(request):
    request.user.is_active  # noqa: B018  (the person is loaded, as on every page)
    return HttpResponse(CONTENT)


urlpatterns = [path("bare", bare), path("", include("planner.urls"))]


def _count(seen, execute, sql, params, many, context):
    seen.append(sql)
    return execute(sql, params, many, context)


def quickest(client: Client, url: str, **headers) -> tuple[float, HttpResponse]:
    found = []
    for _ in range(REPEATS):
        before = time.perf_counter()
        answer = client.get(url, headers=headers)
        found.append(time.perf_counter() - before)
    return min(found), answer


def main() -> None:
    global CONTENT
    call_command("migrate", verbosity=0)
    call_command("demo", verbosity=0)
    client = Client()
    client.force_login(Person.objects.get(email="ida@house.example"))
    one = Template.objects.filter(site__code="campus").first()
    pages = {chapter.name: (f"{chapter.slug}/", {}) for chapter in CHAPTERS}
    pages["What if, one value changed"] = (
        f"what-if?template-{one.pk}-most=20",
        {"HX-Request": "true"},
    )
    gc.collect()
    gc.freeze()
    for name, (url, headers) in pages.items():
        before = time.perf_counter()
        client.get(f"/at/northmere/campus/{url}", headers=headers)
        first = time.perf_counter() - before
        seen: list[str] = []
        with connection.execute_wrapper(functools.partial(_count, seen)):
            client.get(f"/at/northmere/campus/{url}", headers=headers)
        seconds, answer = quickest(client, f"/at/northmere/campus/{url}", **headers)
        CONTENT = answer.content
        plain, _ = quickest(client, "/bare")
        print(
            f"{name:28} {1000 * seconds:5.0f} ms ({1000 * first:.0f} ms the first time), {len(seen)} queries, "
            f"{len(CONTENT) // 1024} kB; bare view {1000 * plain:.1f} ms: {seconds / plain:.0f} times"
        )


if __name__ == "__main__":
    with override_settings(ROOT_URLCONF="tests.bench.pages"):
        main()
