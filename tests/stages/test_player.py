"""Every plan can be carried out by somebody who knows only the world; what must not be done fails in their hands."""

from __future__ import annotations

import dataclasses
import functools
import graphlib
import pathlib
import random
import tomllib
from collections.abc import Iterable, Mapping

import pytest

from planner.plan import Plan
from planner.record.facts import OwnStep
from planner.stages import orders
from planner.stages.choosing import Chooser
from planner.stages.orders import Orders
from planner.stages.outline import Outline
from planner.stages.states import coming_before
from tests.papers.demo_facts import SITES, demo
from tests.shares import share
from tests.stages import random_sites
from tests.stages.examples import bare, bench, clinic, empty
from tests.stages.player import RULES, Move, Player, one_by_one

MADE_UP = {"clinic": clinic, "trial": bench, "bare": bare, "empty": empty}
FORBIDDEN = tomllib.loads(
    pathlib.Path(__file__).with_name("forbidden.toml").read_text(encoding="utf-8")
)["forbidden"]


def facts_of(name: str):
    return MADE_UP[name]() if name in MADE_UP else demo(name)


def in_order(steps: Mapping[str, Outline], chance: random.Random | None = None) -> list[str]:
    """An order that the steps allow: that of the run sheet as far as it goes, or any one by chance."""
    left = graphlib.TopologicalSorter({key: step.after for key, step in steps.items()})
    left.prepare()
    ready, found = list(left.get_ready()), []
    while ready:
        place = chance.randrange(len(ready)) if chance else 0
        key = ready.pop(place)
        found.append(key)
        left.done(key)
        ready += left.get_ready()
    return found


def laid(plan: Plan) -> list[Move]:
    """A whole plan as it would be done: what comes before the day, the day as it is laid out, what comes after."""
    steps, day = Orders(plan).by_key, plan.day
    bars = {bar.key: bar for bar in day.bars}
    later = {
        key for key in steps if key in {one.key for one in day.shares.own} or steps[key].stage > 7
    }
    order = in_order(steps)
    before = one_by_one(key for key in order if key not in bars and key not in later)
    start = before[-1].finish if before else 0.0
    moves = [Move(key, start + bar.start, start + bar.finish) for key, bar in bars.items()]
    end = max((one.finish for one in moves), default=start)
    after = [
        Move(key, end + place, end + place + 1) for place, key in enumerate(order_of(order, later))
    ]
    return [*before, *moves, *after]


def order_of(order: Iterable[str], keys: set[str]) -> list[str]:
    return [key for key in order if key in keys]


# -- plans that can be carried out ---------------------------------------------------------------


@pytest.mark.parametrize("name", [*SITES, *MADE_UP])
def test_the_states_of_a_site_agree_with_its_order(name):
    assert orders.faults(Plan(facts_of(name))) == []


@pytest.mark.parametrize("name", [*SITES, *MADE_UP])
def test_every_laid_plan_can_be_carried_out(name):
    facts = facts_of(name)
    assert Player(facts).play(laid(Plan(facts))) == []


@pytest.mark.parametrize("name", [*SITES, *MADE_UP])
def test_any_order_that_the_plan_allows_can_be_carried_out(name):
    facts = facts_of(name)
    steps = Orders(Plan(facts)).by_key
    for seed in range(share(3, of=50)):
        order = in_order(steps, random.Random(seed))
        assert Player(facts).play(one_by_one(order)) == [], seed


def early(facts) -> list[tuple[str, str]]:
    """What a player complains of when each step is done as early as it may be: after its own forerunners alone."""
    steps = Orders(Plan(facts)).by_key
    order, found = in_order(steps), []
    for key in steps:
        near = coming_before(key, steps) | {key}
        told = Player(facts).play(one_by_one(one for one in order if one in near), order)
        found += [one for one in told if one[0] == key]
    return found


@pytest.mark.parametrize("name", ["mill", "harbour", "workshop", "bench", *MADE_UP])
def test_every_step_can_be_done_once_its_forerunners_are(name):
    assert early(facts_of(name)) == []


def test_at_random_sites_too():
    for seed in range(share(60, of=1000)):
        assert early(random_sites.site(seed)) == [], seed


def test_random_sites_can_be_carried_out_in_any_order_that_their_plans_allow():
    for seed in range(share(400, of=4000)):
        facts = random_sites.site(seed)
        plan = Plan(facts)
        assert orders.faults(plan) == [], seed
        order = in_order(Orders(plan).by_key, random.Random(seed))
        assert Player(facts).play(one_by_one(order)) == [], seed


def test_random_sites_can_be_carried_out_as_they_are_laid_out():
    for seed in range(share(60, of=2000)):
        facts = random_sites.site(seed)
        assert Player(facts).play(laid(Plan(facts))) == [], seed


# -- and those that cannot -----------------------------------------------------------------------


@functools.cache
def right() -> tuple[str, ...]:
    return tuple(in_order(Orders(Plan(clinic_once())).by_key))


@functools.cache
def clinic_once():
    return clinic()


def spoiled(case: Mapping[str, str]) -> list[Move]:
    """The clinic's work in its right order, but for what the case says."""
    order = list(right())
    does = [key for key in order if key.partition("@")[0] == case["does"]]
    other = [key for key in order if key.partition("@")[0] in case.values() and key not in does]
    assert does and other
    if "without" in case:
        return one_by_one(key for key in order if key not in other)
    if "after" in case:
        order = [key for key in order if key not in does]
        place = order.index(other[-1]) + 1
        return one_by_one([*order[:place], *does, *order[place:]])
    moves = one_by_one(key for key in order if key not in does)
    times = {one.key: one for one in moves}
    beside = [
        Move(key, times[one].start, times[one].finish)
        for key in does
        for one in (_same_host(key, other) or other)[:1]
    ]
    return [*moves, *beside]


def _same_host(key: str, other: list[str]) -> list[str]:
    return [one for one in other if one.partition("@")[2] == key.partition("@")[2]]


def test_there_are_enough_forbidden_orders_and_none_twice():
    assert len(FORBIDDEN) >= 60
    assert len({(one["does"], *sorted(one.items())[1:2]) for one in FORBIDDEN}) > 55
    assert all(one["why"].endswith(".") and one["says"] for one in FORBIDDEN)


def test_the_right_order_fails_in_nothing():
    assert Player(clinic_once()).play(one_by_one(right())) == []


@pytest.mark.parametrize(
    "case", FORBIDDEN, ids=lambda case: "-".join(list(case.values())[:2]) if case else ""
)
def test_a_forbidden_order_fails(case):
    told = Player(clinic_once()).play(spoiled(case), right())
    found = [
        words for key, words in told if key.partition("@")[0] in (case["does"], case.get("beside"))
    ]
    assert any(case["says"] in words for words in found), told


@pytest.mark.parametrize("case", FORBIDDEN, ids=lambda case: "-".join(list(case.values())[:2]))
def test_no_plan_allows_a_forbidden_order(case):
    """What fails in the player's hands, the plan's own order rules out."""
    steps = Orders(Plan(clinic_once())).by_key
    does = [key for key in steps if key.partition("@")[0] == case["does"]]
    [other] = [case[word] for word in ("without", "after", "beside") if word in case]
    others = [key for key in steps if key.partition("@")[0] == other]
    first = any(set(others) & coming_before(key, steps) for key in does)
    last = any(set(does) & coming_before(key, steps) for key in others)
    alone = any(steps[key].entry.alone for key in (*does, *others))
    assert {"without": first, "after": last, "beside": first or last or alone}[list(case)[1]]


# -- the two tables are two ----------------------------------------------------------------------


def test_the_player_shares_nothing_with_the_catalogues_states():
    text = pathlib.Path(__file__).with_name("player.py").read_text(encoding="utf-8")
    assert "planner.stages" not in text and "states" not in text.split('"""', 2)[2]
    assert len(RULES) > 75


def test_an_order_that_is_lost_on_the_way_is_found(monkeypatch):
    plan = Plan(clinic())
    monkeypatch.setattr(Chooser, "before", lambda self, entry, record: ())
    told = orders.faults(plan)
    assert any("connect-hosts needs “service-made” and does not wait" in one for one in told)
    assert any("pilot-sign-in" in one and "takes “nobody-signed-in”" in one for one in told)
    assert any("is waited for by nothing" in one for one in told)
    assert any("takes “host-free”" in one and "may rely on it" in one for one in told)


def test_what_nobody_gives_here_is_found(monkeypatch):
    """Own accounts asked for, and the step that makes them is not."""
    plan = Plan(bench())
    found = Orders.outlines
    monkeypatch.setattr(
        Orders,
        "outlines",
        lambda self, stage: [one for one in found(self, stage) if one.key != "make-own-accounts"],
    )
    monkeypatch.setattr(
        Chooser,
        "before",
        lambda self, entry, record, was=Chooser.before: _left(was(self, entry, record)),
    )
    assert "back-up-service needs “people-known”, which no step gives" in orders.faults(plan)


def _left(keys: Iterable[str]) -> tuple[str, ...]:
    return tuple(key for key in keys if key != "make-own-accounts")


def test_a_circle_is_told_and_nothing_else(monkeypatch):
    plan = Plan(empty())
    monkeypatch.setattr(Chooser, "before", lambda self, entry, record: ("agree-scope",))
    assert orders.faults(plan) == ["agree-scope comes after itself"]


def test_an_own_step_is_no_fault_of_the_catalogue():
    own = OwnStep(id=9, name="Feed the parrot", stage=6)
    facts = dataclasses.replace(clinic(), own_steps=(own,))
    assert orders.faults(Plan(facts)) == []
