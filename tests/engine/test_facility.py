"""The room: power, circuits, heat, batteries, rack and hands. Checks against published figures: tests/references."""

from __future__ import annotations

import pytest

from planner.engine.upkeep.circuits import spread
from planner.engine.upkeep.lifting import Limits, recommended_kg
from planner.record import facts as f
from tests.factories import make, plan_of


def host(**values):
    return make(
        f.Host, **{"name": "h", "rated_watts": 750.0, "rack_units": 2, "weight_kg": 22.0, **values}
    )


def room(*records, **assumed):
    keys = {
        "ups": "facility.ups-wh",
        "volts": "facility.voltage",
        "factor": "facility.power-factor",
        "breaker": "facility.circuit-amperes",
        "free": "facility.circuits-free",
        "units": "facility.rack-units-free",
        "cooling": "facility.cooling-kw",
        "drawn": "facility.drawn-share",
    }
    return plan_of(
        *records, *(f.Assumed(key=keys[name], value=value) for name, value in assumed.items())
    ).facility


def test_what_two_hosts_ask():
    """Worked by hand: 1,500 W / (230 V × 0.95) = 6.865 A; 4 U = 177.8 mm; 12.8 A × 230 V × 0.95 = 2,796.8 W."""
    found = room(host(name="h1"), host(name="h2"))
    assert (found.watts, found.rated_watts, found.cooling_kw, found.rack_units) == (
        1500,
        1500,
        1.5,
        4,
    )
    assert found.amperes == pytest.approx(6.865, abs=0.0005)
    assert found.rack_height_mm == pytest.approx(177.8)
    assert (found.circuit_amperes, found.circuit_watts) == pytest.approx((12.8, 2796.8))
    assert (found.circuits, found.circuits_needed, found.hosts_a_circuit) == ((("h1", "h2"),), 1, 3)
    assert found.circuits_for_two_supplies == 2
    assert found.hosts[0].share == pytest.approx(750 / 2796.8)
    assert found.missing == ()


def test_a_share_measured_with_a_meter_counts_instead_of_the_label():
    found = room(host(), drawn=0.6)
    assert (found.rated_watts, found.watts) == (750, pytest.approx(450))


def test_at_half_the_voltage_twice_the_amperes():
    """120 V, 15 A: 1,440 VA at a stretch; two hosts of 750 W want a circuit each."""
    found = room(host(name="h1"), host(name="h2"), volts=120, breaker=15, factor=1)
    assert found.circuit_watts == pytest.approx(1440)
    assert (found.circuits, found.hosts_a_circuit) == ((("h1",), ("h2",)), 1)
    assert found.hosts[0].amperes == pytest.approx(6.25)


def test_one_host_that_nobody_read_the_label_of_leaves_the_totals_open():
    found = room(host(name="h1"), host(name="h2", rated_watts=None, rack_units=None), ups=1000)
    assert (found.watts, found.rated_watts, found.amperes, found.heat_btu_h, found.cooling_kw) == (
        None,
    ) * 5
    assert (found.circuits_needed, found.ups_minutes, found.rack_units, found.rack_height_mm) == (
        None,
    ) * 4
    assert (found.at_least_watts, found.circuits, found.at_least_rack_units) == (750, (("h1",),), 2)
    assert found.missing == ("h2: rated power", "h2: rack units")
    assert {ref.field for ref in found.missing_at} == {"rated_watts", "rack_units"}


def test_spare_hosts_draw_nothing_but_are_lifted():
    found = room(host(name="h1"), host(name="cupboard", state="spare", weight_kg=40.0))
    assert (found.watts, [one.name for one in found.hosts]) == (750, ["h1"])
    assert {one.name: one.people for one in found.lifting} == {"h1": 2, "cupboard": None}
    assert [one.words for one in found.lifting] == [
        "at least two people",
        "a lift, or parts taken out first",
    ]


def test_a_host_that_no_circuit_carries():
    found = room(host(name="h1"), host(name="large", rated_watts=3000.0))
    assert (found.too_large, found.circuits, found.circuits_needed) == (
        ("large",),
        (("h1",),),
        None,
    )
    assert found.hosts_a_circuit == 0


def test_minutes_on_batteries():
    """1,000 Wh at 1,500 W: 40 minutes. Nothing set, or nothing drawn: nothing said."""
    assert room(host(), host(), ups=1000).ups_minutes == pytest.approx(40)
    assert room(host(), host()).ups_minutes is None
    assert room(ups=1000).ups_minutes is None


def test_what_nobody_counted_is_not_nought():
    found = room(host())
    assert (found.circuits_free, found.rack_units_free, found.cooling_free_kw, found.ups_wh) == (
        None,
    ) * 4
    found = room(host(), free=2, units=10, cooling=3.5)
    assert (found.circuits_free, found.rack_units_free, found.cooling_free_kw) == (2, 10, 3.5)


def test_no_hosts_ask_nothing():
    found = room()
    assert (found.watts, found.circuits_needed, found.rack_units, found.hosts_a_circuit) == (
        0,
        0,
        0,
        None,
    )


@pytest.mark.parametrize("name", ["volts", "breaker", "factor", "drawn"])
@pytest.mark.parametrize("value", [0.0, -5.0, float("nan"), float("inf"), 1e300])
def test_numbers_that_make_no_sense_are_passed_over(name, value):
    """The catalogue's number holds where somebody's own one cannot be (planner.catalogue.assumptions.Numbers)."""
    one = host()
    assert room(one, **{name: value}) == room(one)


def test_the_words_say_who_decides():
    found = room(host())
    assert any("licensed electrician" in words for words in found.cautions)
    assert found.inlet == "air at the inlets between 18 and 27 °C"


def test_who_lifts_into_a_rack():
    """By hand: 23 × (25/50) × (1 − 0.003 × 25) × (0.82 + 4.5/60) × 0.9 = 8.57 kg; for two, each at 25 cm: 17.14 kg, and
    two thirds of 2 × 17.14 = 22.85 kg."""
    limits = room().lift_limits
    assert (limits.alone_kg, limits.two_kg) == pytest.approx((8.57, 22.85), abs=0.01)
    hands = {weight: limits.people(weight) for weight in (0.5, 8.5, 8.6, 22, 22.8, 22.9, 60)}
    assert hands == {0.5: 1, 8.5: 1, 8.6: 2, 22: 2, 22.8: 2, 22.9: None, 60: None}


def test_never_one_person_where_the_index_is_above_one():
    """The demo's host of 22 kg has an index of 2.6: it is no lift for one."""
    [one] = room(host(weight_kg=22.0)).lifting
    assert (one.people, one.index) == (2, pytest.approx(22 / 8.57, abs=0.01))
    [one] = room(host(weight_kg=8.0)).lifting
    assert one.people == 1 and one.index < 1


def test_what_the_site_says_of_its_racks_counts():
    """A trolley at knuckle height and a machine held close leave the whole load constant: 23 kg × 0.9 for the grip."""
    values = {"lifting.reach-cm": 25, "lifting.height-cm": 75, "lifting.way-cm": 25}
    plan = plan_of(host(), *(f.Assumed(key=key, value=value) for key, value in values.items()))
    assert plan.facility.lift_limits.alone_kg == pytest.approx(23 * 0.9)


@pytest.mark.parametrize(
    "odd",
    [
        {"reach_cm": 64},
        {"height_cm": 176},
        {"height_cm": -1},
        {"way_cm": 176},
        {"twist_degrees": 136},
    ],
)
def test_outside_the_equation_nothing_is_recommended(odd):
    usual = {"load_constant_kg": 23, "reach_cm": 25, "height_cm": 75, "way_cm": 25}
    assert recommended_kg(**usual) == pytest.approx(23)
    assert recommended_kg(**{**usual, **odd}) == 0
    assert Limits(0.0, 0.0).people(1.0) is None and Limits(0.0, 0.0).index(1.0) is None


# -- Circuits -------------------------------------------------------------------------------------


def test_four_quarters_fill_a_circuit():
    assert spread([736.0] * 4, 0.8 * 16 * 230) == [[0, 1, 2, 3]]


def test_every_load_is_on_one_circuit_and_none_over_the_limit():
    loads = [700, 1200, 0, 950, 3000, 400, 1100, 650]
    found = spread(loads, 2000)
    assert sorted(number for circuit in found for number in circuit) == [
        0,
        1,
        3,
        5,
        6,
        7,
    ]  # not the 0 W, not the 3,000 W
    assert all(sum(loads[number] for number in circuit) <= 2000 for circuit in found)
    assert len(found) == 3  # 5,000 W on circuits of 2,000 W


def test_very_many_loads_take_no_time():
    found = spread([100 + number % 37 for number in range(20_000)], 2000)
    assert sum(map(len, found)) == 20_000
    assert len(found) <= 20_000 * 118 / 2000 * 11 / 9 + 1
