"""Writes through the app's own actions, one thing after the other, and says after each that it is done.

It is watched by ``strace``; what it says on standard output stands in that record too, in order. With ``normal`` the
database syncs as it would by SQLite's usual setting for a write-ahead log; with ``hasty`` nothing waits for a photo.
"""

from __future__ import annotations

import os
import random
import sys

import django

ROUNDS = 5


def main(how: str) -> None:
    django.setup()
    from django.db import connection

    from planner.plan import Plan
    from sites.actions.proofs import take
    from sites.actions.records import add_record
    from sites.actions.stages import answer_check, newest_answer
    from sites.loading import read_site
    from sites.models import Person, Site
    from sites.web import durable
    from tests.kills.writers import photo

    if how == "hasty":
        durable._sync = lambda path: None
        durable.os = HastyOs()  # type: ignore[assignment]
    site, by = Site.objects.get(code="mill"), Person.objects.get(email="editor@larkfield.example")
    check = Plan(read_site(site)).stages.checks["room-seen"]
    shades = random.Random(1)
    if how == "normal":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA synchronous=NORMAL")
    for count in range(ROUNDS):
        add_record(by=by, site=site, kind="contact", values={"name": f"eve-{count}"})
        say(f"contact eve-{count}")
        before = newest_answer(site, check.key)
        answer_check(
            by=by,
            role="editor",
            site=site,
            check=check,
            state="proven",
            proof=f"kim-{count}",
            taken=[take(photo(shades), "photo.png")],
            seen=before.pk if before else 0,
        )
        say(f"answer kim-{count}")
    os._exit(0)  # no closing: as at a cut of power


class HastyOs:
    """The module ``os`` for one that does not wait for the disk."""

    def __getattr__(self, name: str):
        return (lambda handle: None) if name == "fsync" else getattr(os, name)


def say(words: str) -> None:
    os.write(1, f"done {words}\n".encode())


if __name__ == "__main__":
    main(sys.argv[1])
