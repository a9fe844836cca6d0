"""Who else is here, and has the site moved on: what an open page asks every few seconds."""

import datetime as dt

from django.utils import timezone

from sites.actions.records import add_record
from sites.models import Presence, Site

WATCH = "/at/larkfield/mill/watch"


def ask(client, site, known="0", chapter=3):
    counter = Site.objects.get(pk=site.pk).counter if site else 1
    return client.get(WATCH, {"chapter": chapter, "counter": counter, "known": known})


def test_nothing_new_is_no_answer(people, site, enter):
    assert ask(enter(people["reader"]), site).status_code == 204


def test_somebody_else_is_named_with_their_chapter_and_once_only(people, site, enter):
    ask(enter(people["editor"]), site, chapter=2)
    first = ask(enter(people["reader"]), site)
    assert "editor@larkfield.example is here too, in 2 Networks" in first.content.decode()
    known = first.context["known"]
    assert ask(enter(people["reader"]), site, known=known).status_code == 204


def test_who_left_is_gone_after_a_minute(people, site, enter):
    ask(enter(people["editor"]), site)
    Presence.objects.update(seen_at=timezone.now() - dt.timedelta(seconds=61))
    assert ask(enter(people["reader"]), site).status_code == 204


def test_the_site_has_moved_on(people, site, staff, enter):
    client = enter(people["reader"])
    opened_at = Site.objects.get(pk=site.pk).counter
    add_record(by=staff, site=site, kind="host", values={"name": "mill-h1"})
    answer = client.get(WATCH, {"chapter": 3, "counter": opened_at, "known": "0"})
    assert "The site has moved on" in answer.content.decode()


def test_asking_costs_the_same_however_large_the_site(
    people, site, staff, enter, django_assert_max_num_queries
):
    for n in range(30):
        add_record(by=staff, site=site, kind="host", values={"name": f"h{n}"})
    client = enter(people["reader"])
    ask(client, site)
    with django_assert_max_num_queries(12):
        ask(client, site)


def test_nonsense_is_harmless(people, site, enter):
    client = enter(people["reader"])
    assert client.get(WATCH, {"chapter": "99", "counter": "x", "known": "<b>"}).status_code == 200
    assert client.get(WATCH, {"counter": "9" * 40}).status_code == 200
