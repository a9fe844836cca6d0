"""Findings about the room: each raised by one site and not by another."""

from __future__ import annotations

import pytest

from planner.record import facts as f
from tests.factories import findings, make, raised
from tests.review.cases import rules_of


def host(**values) -> f.Host:
    return make(
        f.Host,
        **{"name": "mill-h1", "rated_watts": 750.0, "rack_units": 2, "weight_kg": 22.0, **values},
    )


def assumed(key: str, value: float) -> f.Assumed:
    return f.Assumed(key=f"facility.{key}", value=value)


TWO = [host(), host(name="mill-h2")]

THREE = [host(name=f"mill-h{number}", rated_watts=1000.0) for number in (1, 2, 3)]

CASES = {  # what raises it, what does not, the field, words of its title
    # 12.8 A × 230 V × 0.95 = 2,796.8 W
    "host-over-circuit": (
        [host(rated_watts=2900.0)],
        [host(rated_watts=2796.8)],
        "rated_watts",
        "draws 2,900 W, and one circuit carries 2,797 W",
    ),
    # two of 1,000 W on one circuit, the third on another
    "circuits-short": (
        [*THREE, assumed("circuits-free", 1)],
        [*THREE, assumed("circuits-free", 2)],
        "rated_watts",
        "want 2 circuits, and 1 is free",
    ),
    # 200 Wh at 1,500 W are 8 minutes, 250 Wh are 10
    "ups-too-short": (
        [*TWO, assumed("ups-wh", 200)],
        [*TWO, assumed("ups-wh", 250)],
        "rated_watts",
        "8 min at the most; 10 are wanted",
    ),
    "cooling-short": (
        [*TWO, assumed("cooling-kw", 1.4)],
        [*TWO, assumed("cooling-kw", 1.5)],
        "rated_watts",
        "1.5 kW of heat; the cooling takes away 1.4 kW",
    ),
    "rack-short": (
        [*TWO, assumed("rack-units-free", 3)],
        [*TWO, assumed("rack-units-free", 4)],
        "rack_units",
        "need 4 rack units, and 3 are free",
    ),
    # two, each 17.14 kg at 25 cm: ⅔ of the sum is 22.85 kg
    "host-needs-lift": (
        [host(weight_kg=22.9)],
        [host(weight_kg=22.8), host(weight_kg=60.0, state="existing")],
        "weight_kg",
        "mill-h1 (22.9 kg)",
    ),
}


@pytest.mark.parametrize("key", CASES)
@pytest.mark.parametrize("purpose", ["trial", "live"])
def test_raised_and_not_raised(key, purpose):
    bad, good, field, words = CASES[key]
    found = raised(key, *bad, purpose=purpose)[0]
    assert (found.at.kind, found.at.field, found.chapter) == ("host", field, 3)
    assert words in found.title
    assert raised(key, *good, purpose=purpose) == []


def test_every_rule_of_the_room_has_its_case():
    assert CASES.keys() == rules_of("facility")


@pytest.mark.parametrize(
    "values", [{}, {"rated_watts": None}, {"rack_units": None, "weight_kg": None}]
)
def test_a_site_that_set_nothing_hears_nothing(values):
    assert not CASES.keys() & findings(host(**values)).keys()


def test_what_is_known_alone_is_enough_for_too_little():
    """One label nobody read: the others already overload the room."""
    hosts = [*TWO, host(name="h3", rated_watts=None, rack_units=None)]
    for key, name, value in (
        ("cooling-short", "cooling-kw", 1.0),
        ("rack-short", "rack-units-free", 3),
        ("ups-too-short", "ups-wh", 100),
    ):
        (found,) = raised(key, *hosts, assumed(name, value))
        assert len(found.also) == 1


def test_every_word_about_mains_names_who_decides():
    for key in ("host-over-circuit", "circuits-short"):
        assert "licensed electrician" in raised(key, *CASES[key][0])[0].text
