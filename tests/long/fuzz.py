"""Thousands of odd requests to every address of the house. Run: pytest tests/long/fuzz.py (and with DATABASE_URL).

SHOTS and SEED set how many and which: ``SHOTS=6000 SEED=1``.
"""

from __future__ import annotations

import collections
import logging
import os
import random
import time

from django.core import mail

from sites.models import Site
from sites.web import mail_server
from tests.demo_house import put_in_place
from tests.long.real import furnish
from tests.long.shots import Range, Trouble
from tests.long.standings import at

SHOTS = int(os.environ.get("SHOTS", "6000"))
SEED = os.environ.get("SEED", "odd")


def test_no_odd_request_ends_in_an_error(db, settings, monkeypatch):
    logging.disable(logging.CRITICAL)
    settings.SENDS_MAIL = True
    unsent = letters_that_could_not_be_made(monkeypatch)
    put_in_place()
    site = Site.objects.select_related("customer").get(code=os.environ.get("SITE", "mill"))
    people = at(site)
    found = Range(people, site, furnish(people["staff"], site))
    began = time.monotonic()
    troubles = found.look_around()
    print(
        f"\nlooked around in {time.monotonic() - began:.0f} s: {len(found.forms)} forms, {len(found.read)} names"
    )
    chance = random.Random(SEED)
    answers: collections.Counter = collections.Counter()
    for shot, _ in zip(found.shots(chance), range(SHOTS), strict=False):
        answer = found.send(shot)
        if isinstance(answer, Trouble):
            troubles.append(answer)
            answers["trouble"] += 1
        else:
            answers[answer.status_code] += 1
    print(f"sent in {time.monotonic() - began:.0f} s")
    told(troubles, answers)
    print(f"{len(mail.outbox)} letters were made, and could not be: {dict(unsent)}")
    assert not troubles and mail.outbox


def letters_that_could_not_be_made(monkeypatch) -> collections.Counter:
    """Counts them by the error: none is an error of the page, and each names an address that is none."""
    found: collections.Counter = collections.Counter()
    why = mail_server._why

    def noted(error: Exception) -> str:
        found[type(error).__name__] += 1
        return why(error)

    monkeypatch.setattr(mail_server, "_why", noted)
    return found


def told(troubles: list[Trouble], answers: collections.Counter) -> None:
    print(
        f"\n{sum(answers.values())} odd requests, by answer: {dict(sorted(answers.items(), key=str))}"
    )
    places: dict[str, list[Trouble]] = {}
    for one in troubles:
        places.setdefault(one.place, []).append(one)
    for place, ones in sorted(places.items(), key=lambda item: -len(item[1])):
        print(f"{len(ones):5} {place}\n      {ones[0].shot}")
