"""What moves a site's facts moves its state: no action may forget the counters that kept plans go by.

As in test_transactions the ground is laid once, and every action is taken back.
"""

import pytest
from django.core.management import call_command
from django.db import transaction
from django.db.models import F

from sites.actions import assumptions, counter, people
from sites.loading import read_site, rows_of, state_of
from sites.models import Site
from tests.ground import ACTIONS, Ground


@pytest.fixture(scope="module")
def ground(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock():
        yield Ground()
        call_command("flush", interactive=False, verbosity=0)


def looked_at() -> dict:
    """Every site's state, facts and rows by its key."""
    sites = Site.objects.select_related("customer")
    return {site.pk: (state_of(site), read_site(site), rows_of(site)) for site in sites}


def forgotten_by(name: str, ground: Ground) -> list[str]:
    """What an action moved in a site's facts without moving the site's state, or in rows without an edit counter."""
    found = []
    before = looked_at()
    with transaction.atomic():
        ACTIONS[name](ground)
        for pk, (state, facts, rows) in before.items():
            site = Site.objects.select_related("customer").get(pk=pk)
            now = read_site(site)
            if now != facts and state_of(site) == state:
                found.append(f"{site}: its state")
            if read_site(site, rows_of(site, rows)) != now:
                found.append(f"{site}: an edit counter")
        transaction.set_rollback(True)
    return found


# Done only within another, in its transaction: what is kept with an answer, once the answer has raised the counter.
WITHIN = {"proofs.keep": "stages.answer_check"}


@pytest.mark.parametrize("name", [name for name in ACTIONS if name not in WITHIN])
def test_no_action_moves_facts_without_their_state(name, ground):
    assert not forgotten_by(name, ground)


class Same:
    """In the place of a column in ``F("counter") + 1``: the column as it is."""

    def __init__(self, name: str):
        self.name = name

    def __add__(self, more: int) -> F:
        return F(self.name)


FORGETFUL = {
    "assumptions.assume, of the house": (assumptions, "touch_house", lambda: None),
    "people.change_name": (people, "touch_house", lambda: None),
    "people.change_address": (people, "touch_house", lambda: None),
    "house_work.add_work": (counter, "F", Same),
    "house_work.estimate": (counter, "F", Same),
    "records.remove_record": (counter, "F", Same),
    "stages.give_answer": (counter, "F", Same),
}


@pytest.mark.parametrize("name", FORGETFUL)
def test_an_action_that_forgets_is_found(name, ground, monkeypatch):
    """What the test above rests on: a counter that stays where it was is noticed."""
    monkeypatch.setattr(*FORGETFUL[name])
    assert forgotten_by(name, ground)
