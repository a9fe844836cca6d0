"""The load of sessions with unlike rates against every combination there is."""

from __future__ import annotations

import itertools

import pytest
from scipy import stats

from planner.engine.people.line import load_kbit_s

PARTS = [
    [(12, 0.5, 300.0), (5, 0.3, 1000.0)],
    [(20, 0.7, 250.0), (16, 0.8, 400.0), (3, 0.1, 6000.0)],
    [(30, 0.2, 64.0), (30, 0.9, 128.0)],
    [(25, 0.4, 333.333), (10, 0.6, 717.1)],  # no common step to speak of: rounded up
]


def brute(parts, risk: float) -> float:
    """The smallest load that is passed with a chance of at most the risk, by every combination of counts.
    Source: scipy.stats.binom for the chance of each count."""
    rows = [
        [(k * rate, stats.binom(n, share).pmf(k)) for k in range(n + 1)] for n, share, rate in parts
    ]
    chances: dict[float, float] = {}
    for way in itertools.product(*rows):
        load, chance = sum(one for one, _ in way), 1.0
        for _, single in way:
            chance *= single
        chances[load] = chances.get(load, 0.0) + chance
    tail = 0.0
    for load in sorted(chances, reverse=True):
        tail += chances[load]
        if tail > risk:
            return load
    return 0.0


@pytest.mark.parametrize("parts", PARTS[:3])
@pytest.mark.parametrize("risk", [0.2, 0.01, 1e-4])
def test_rates_with_a_common_step_are_exact(parts, risk):
    assert load_kbit_s(parts, risk) == pytest.approx(brute(parts, risk), rel=1e-12)


@pytest.mark.parametrize("risk", [0.2, 0.01, 1e-4])
def test_other_rates_are_never_too_low_and_hardly_too_high(risk):
    exact, total = brute(PARTS[3], risk), sum(n * rate for n, _, rate in PARTS[3])
    assert exact <= load_kbit_s(PARTS[3], risk) * (1 + 1e-12) <= exact + 3 * total / 8192
