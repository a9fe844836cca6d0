"""A proof has a bound that follows from what is claimed: each case here passed as proven before."""

from __future__ import annotations

import pytest

from planner.plan import Plan
from planner.record import facts as f
from planner.stages.answers import Given, refusal
from planner.stages.bounds import BOUNDS
from planner.stages.reading import read
from tests.factories import make, plan_of
from tests.stages.examples import bench, clinic


def check(plan: Plan, name: str):
    return next(one for key, one in plan.stages.checks.items() if key.partition("@")[0] == name)


def proven(plan: Plan, name: str, measured: str) -> bool:
    given = Given(note="as read", measured=measured)
    return refusal(check(plan, name), "proven", given, "lead", live=True) == ""


# -- activation ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("system", "count", "good"),
    [
        ("desktop system, business edition, release 3", "7", False),
        ("desktop system, business edition, release 3", "24", False),
        ("desktop system, business edition, release 3", "25", True),
        ("server system, release 2025", "4", False),
        ("server system, release 2025", "5", True),
        ("", "7", False),  # what nobody knows is no server
    ],
)
def test_a_key_server_counts_25_for_desktops_and_5_for_servers(system, count, good):
    """Source: the publisher's activation planning guide: 25 for desktop systems, 5 for server systems."""
    plan = plan_of(make(f.Image, name="front", activation="key-server", operating_system=system))
    assert proven(plan, "activation-by-key-server", count) is good


def test_the_count_is_asked_for_where_desktops_run():
    """A new key server reaches its count only with the desktops of stage 6: gate 5 must not wait for it."""
    plan = plan_of(make(f.Image, name="front", activation="key-server"))
    assert check(plan, "activation-by-key-server").stage == 6
    asked = check(plan, "activation-key-set")
    assert asked.stage == 5 and asked.unit == "" and "count" in asked.how


# -- clocks --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["clocks-agree", "host-clock", "service-clock"])
def test_clocks_are_held_to_one_bound(name):
    """Source: RFC 4120 §8.2, five minutes between two parties: with each at 299 s they are 598 s apart."""
    plan = Plan(clinic())
    assert not proven(plan, name, "299") and not proven(plan, name, "151")
    assert proven(plan, name, "4.9") and not proven(plan, name, "5.1")


def test_no_house_makes_two_clocks_drift_apart_beyond_the_standard():
    """Source: RFC 4120 §8.2: 300 s. Each of two may be off by half."""
    plan = Plan(clinic())
    assert 2 * plan.numbers.all["clock.proof-seconds"].high == 300


# -- seconds and minutes -------------------------------------------------------------------------


def test_a_sign_in_is_held_to_its_target():
    plan = Plan(clinic())
    assert proven(plan, "pilot-signs-in", "60") and not proven(plan, "pilot-signs-in", "61")
    assert proven(plan, "morning-rehearsed", "90") and not proven(plan, "morning-rehearsed", "91")
    slow = Plan(clinic(assumed=(f.Assumed(key="seats.sign-in-seconds", value=120),)))
    assert proven(slow, "pilot-signs-in", "119")


def test_the_batteries_last_as_long_as_the_shutdown():
    plan = Plan(clinic())
    assert proven(plan, "power-cut-survived", "10")
    assert not proven(plan, "power-cut-survived", "9.5")


# -- refusals as well as success -----------------------------------------------------------------

WORDS = {
    "join-account-right": ["same name", "default container", "another unit", "quota", "0"],
    "outside-closed": ["65,535", "UDP", "managed", "IPv6", "addresses tried"],
    "second-factor-asked": ["without", "wrong one", "refused"],
    "entry-name-outside": ["public", "private address", "IPv6"],
    "certificate-ordered": ["in hand", "chain", "names", "both its days"],
    "directory-over-tls": ["636", "refused"],
    "settings-survive": ["reset has come", "not reset proves nothing"],
    "dhcp-answers": ["planned servers only"],
    "certificate-renews": ["forced", "serial number"],
}


@pytest.mark.parametrize("name", WORDS)
def test_a_proof_asks_for_what_its_title_claims(name):
    entry = read().checks[name]
    said = " ".join(
        "".join(str(part) for part in text.parts if isinstance(part, str))
        for text in entry.texts.values()
    )
    assert [word for word in WORDS[name] if word not in said] == []


def test_a_warning_of_ones_own_certificate_is_failed():
    one = check(Plan(bench()), "own-certificate-known")
    assert "none of them shows a warning" in one.title and "a warning is failed" in one.how
    assert "everybody knows what warning" not in one.title


def test_nothing_stops_for_want_of_activation():
    """Source: the publisher's product activation notifications: it works on, and says so."""
    plan = plan_of(make(f.Image, name="front"))
    assert "stop" not in check(plan, "activation-settled").why
    [told] = [one for one in plan.review.findings if one.key == "image-activation-unknown"]
    assert "stop" not in f"{told.why} {told.text}"


def test_every_bound_is_used():
    used = {end for one in read().checks.values() for end in (one.low_from, one.high_from)}
    assert used - {""} == set(BOUNDS)
