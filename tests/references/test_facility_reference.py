"""The room against published figures, a table of constants, and an exact solver.

Source: NIST Special Publication 811 (2008), appendix B.8: 1 Btu (International Table) an hour is 2.930711 E-01 W.
Source: scipy.constants (CODATA and the international table): Btu, inch, pound.
Source: NFPA 70 (National Electrical Code) 210.19(A)(1), 210.20(A), as quoted in trade pages: 125 % of such a load.
Source: NIOSH Publication No. 94-110: load constant 23 kg (51 lb). HSE L23: a team of two manages two-thirds of the sum.
Source: OR-tools CP-SAT for the fewest circuits.
"""

from __future__ import annotations

import random

import pytest
from ortools.sat.python import cp_model
from scipy import constants

from planner.catalogue.assumptions import listed
from planner.engine.upkeep.circuits import spread
from planner.engine.upkeep.facility import (
    BTU_AN_HOUR,
    RACK_UNIT_MM,
    amperes,
    btu_an_hour,
    continuous_amperes,
    ups_minutes,
)
from planner.engine.upkeep.lifting import recommended_kg


def test_heat_of_a_watt():
    """Source: NIST SP 811, appendix B.8; the same factor as 3600 s over scipy's Btu."""
    assert pytest.approx(3.412, abs=0.0005) == BTU_AN_HOUR
    assert btu_an_hour(0.2930711) == pytest.approx(1, abs=1e-6)
    assert pytest.approx(constants.hour / constants.Btu_IT, rel=1e-12) == BTU_AN_HOUR


@pytest.mark.parametrize(
    ("watts", "heat"),
    [
        (
            899,
            3067,
        ),  # Source: starline.de, "So berechnen Sie die Wärmeabgabe Ihrer Server": 899 W → 3.067 BTU/h
        (1000, 3412),  # Source: virtualremote.net, "BTU Calculation": 1 kW is 3412 BTU/h
    ],
)
def test_heat_of_published_examples(watts, heat):
    assert btu_an_hour(watts) == pytest.approx(heat, abs=1)


def test_amperes_of_a_published_example():
    """Source: popmartian.com, "calculate server btu output": 1000 W at 208 V are 4.8 A."""
    assert amperes(1000, 208) == pytest.approx(4.8, abs=0.05)


@pytest.mark.parametrize(
    ("breaker", "volts", "carried", "watts"),
    [
        (16, 230, 12.8, 2944),  # worked by hand: 16 × 0.8 = 12.8; 12.8 × 230
        (
            15,
            120,
            12,
            1440,
        ),  # Source: electrical-contractor.net, a 15 A circuit: heaters of 1440 watts
        (
            20,
            120,
            16,
            1920,
        ),  # Source: electriciantalk.com, "80% rule": 16 A continuous × 125 % = 20 A
        (30, 208, 24, 4992),
    ],
)
def test_a_circuit_at_a_stretch(breaker, volts, carried, watts):
    """Source: NFPA 70 210.20(A): a breaker of at least 125 % of the load, so a load of 80 % of the breaker."""
    share = listed()["facility.continuous-share"].value
    found = continuous_amperes(breaker, share)
    assert found == pytest.approx(carried) and found * 1.25 == pytest.approx(breaker)
    assert found * volts == pytest.approx(watts)
    assert amperes(watts, volts) == pytest.approx(carried)


def test_a_rack_unit():
    """Source: EIA-310-D, IEC 60297 (as quoted, not opened): 1 3/4 inches. A rack of 42 units gives 73.5 inches."""
    assert pytest.approx(1.75 * constants.inch * 1000) == RACK_UNIT_MM
    assert 42 * RACK_UNIT_MM / 1000 / constants.inch == pytest.approx(73.5)


def test_the_load_constant_and_a_team_of_two():
    """Source: NIOSH 94-110: 23 kg, printed as 51 lb too. Source: Network Rail, lifting in teams: 20 kg → 26.6 kg."""
    constant, share = (
        listed()["host.lift-alone-kg"].value,
        listed()["facility.lift-two-share"].value,
    )
    assert constant == 23 and constant == pytest.approx(51 * constants.pound, abs=0.2)
    assert 2 * 20 * share == pytest.approx(26.67, abs=0.01)


@pytest.mark.parametrize(
    ("pounds", "inches", "grip"),
    [
        # Example 1, loading punch press stock (from memory): a reel of 44 lb, at the origin and at the destination.
        (16.3, (23, 15, 49), 0.95),
        (14.5, (23, 64, 49), 1.0),
        # Example 4, package inspection, origin: 51 × 1.0 × .94 × .87 × 1.0 × .88 × .95, .88 for frequency.
        # Opened: a transcription of figure 14, p. 46, in a public repository's notes on the method.
        (34.9 / 0.88, (10, 38, 37), 0.95),
    ],
)
def test_the_lifting_equation(pounds, inches, grip):
    """Source: NIOSH Publication No. 94-110, worked examples. They round multipliers to two places, and the metric
    equation is no exact conversion of the other one: within 6 %."""
    reach, height, way = (2.54 * one for one in inches)
    found = recommended_kg(23, reach, height, way, grip=grip)
    assert found == pytest.approx(pounds * constants.pound, rel=0.06)


def test_a_rack_at_two_reaches():
    """Source: the same equation, worked by hand with a good grip: 9.5 kg far in, 13.9 kg close and level."""
    assert recommended_kg(23, 50, 100, 60) == pytest.approx(9.5, abs=0.05)
    assert recommended_kg(23, 40, 75, 30) == pytest.approx(13.9, abs=0.05)


def test_the_inlet():
    """Source: ASHRAE TC 9.9, Thermal Guidelines, as quoted in trade pages: recommended 18 to 27 °C, 64.4 to 80.6 °F."""
    ends = [listed()[f"facility.inlet-{end}-c"].value for end in ("least", "most")]
    assert ends == [18, 27]
    fahrenheit = constants.convert_temperature(ends, "Celsius", "Fahrenheit")
    assert list(fahrenheit) == pytest.approx([64.4, 80.6])


def test_a_battery_cannot_give_more_than_it_holds():
    """Conservation of energy, in joules: 1,000 Wh are 3.6 MJ, which 1,500 W use up in 2,400 s."""
    assert ups_minutes(1000, 1500) * constants.minute == pytest.approx(1000 * constants.hour / 1500)


# -- The fewest circuits --------------------------------------------------------------------------


def test_where_the_largest_first_fails():
    """Source: Johnson, Demers, Ullman, Garey, Graham, SIAM Journal on Computing 3(4), 1974: the sizes for which first
    fit decreasing takes 11 bins and 9 are enough (6 × 51, 6 × 27, 6 × 26, 12 × 23 into 100)."""
    loads = [51] * 6 + [27] * 6 + [26] * 6 + [23] * 12
    found = spread(loads, 100)
    assert len(found) == 9 and all(sum(loads[n] for n in circuit) <= 100 for circuit in found)


def fewest(loads: list[int], limit: int, most: int) -> int:
    """The fewest circuits by a constraint solver."""
    model = cp_model.CpModel()
    used = [model.new_bool_var("") for _ in range(most)]
    on = [[model.new_bool_var("") for _ in range(most)] for _ in loads]
    for row in on:
        model.add_exactly_one(row)
    for circuit in range(most):
        carried = sum(load * row[circuit] for load, row in zip(loads, on, strict=True))
        model.add(carried <= limit * used[circuit])
        if circuit:
            model.add_implication(used[circuit], used[circuit - 1])
    model.minimize(sum(used))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


def test_as_few_as_a_solver_finds():
    draw = random.Random(11)
    for _ in range(40):
        limit = draw.choice([1440, 2797, 2944])
        loads = [draw.randint(120, 1400) for _ in range(draw.randint(1, 11))]
        found = spread(loads, limit)
        assert sorted(n for circuit in found for n in circuit) == list(range(len(loads)))
        assert all(sum(loads[n] for n in circuit) <= limit for circuit in found)
        assert len(found) == fewest(loads, limit, len(found))
