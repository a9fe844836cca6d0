"""Kept plans beside fresh ones, for as long as one likes. Run: SEEDS=100 TIMES=200 pytest -s tests/long/kept_plans.py

The short form, with three seeds, is in tests/sites/test_kept_plans.py; a seed that fails here belongs there.
"""

from __future__ import annotations

import os

import pytest
from django.core.management import call_command

from sites.pages.plans import PLANS
from tests.played import play

FIRST = int(os.environ.get("FIRST", "1000"))
SEEDS = int(os.environ.get("SEEDS", "20"))
TIMES = int(os.environ.get("TIMES", "200"))


@pytest.fixture(scope="module")
def db(django_db_setup, django_db_blocker):
    """No transaction around a test: within one nothing is kept."""
    with django_db_blocker.unblock():
        yield


@pytest.mark.parametrize("seed", range(FIRST, FIRST + SEEDS))
def test_kept_plans_say_what_fresh_ones_say(seed, db, monkeypatch):
    PLANS.clear()
    try:
        happened = play(seed, TIMES, monkeypatch)
    finally:
        call_command("flush", interactive=False, verbosity=0)
    print(f"seed {seed}: {len(happened)} things happened")
