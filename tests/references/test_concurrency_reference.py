"""Most and the walk-up seats against scipy, exact fractions, queues solved whole, and printed tables."""

from __future__ import annotations

import itertools
from fractions import Fraction

import numpy as np
import pytest
from scipy import stats

from planner.engine.people import concurrency as c

MANY = [
    (60, 0.7, 0.01),
    (200, 0.8, 0.001),
    (1, 0.5, 0.01),
    (36, 0.75, 0.05),
    (5000, 0.03, 1e-6),
    (100_000, 0.7, 0.01),
    (100_000, 0.0001, 1e-4),
    (1_000_000, 0.5, 1e-6),
]


@pytest.mark.parametrize(("people", "share", "risk"), MANY)
def test_most_needed_is_the_quantile_of_the_binomial(people, share, risk):
    """Source: scipy.stats.binom (its isf and sf go by the incomplete beta function, ours adds up chances)."""
    theirs = stats.binom(people, share)
    most = c.most_needed([(people, share)], risk)
    assert most == theirs.isf(risk)
    assert c.chance_over([(people, share)], most) == pytest.approx(
        theirs.sf(most), rel=1e-9, abs=1e-300
    )


@pytest.mark.parametrize("people", [50, 3000, 100_000])
@pytest.mark.parametrize("share", [0.001, 0.3, 0.999])
def test_the_whole_tail_keeps_nine_digits(people, share):
    """From the middle out to chances of 1e-50. Source: scipy.stats.binom.sf."""
    theirs = stats.binom(people, share)
    for sigmas in (-3, 0, 1, 3, 6, 9, 12, 14):
        most = min(int(theirs.mean() + sigmas * theirs.std()), people)
        chance = theirs.sf(most)
        if chance > 1e-50:
            assert c.chance_over([(people, share)], most) == pytest.approx(chance, rel=1e-9)


def test_two_examples_to_remember():
    """60 people, 0.7, 1 % → 50; 200 people, 0.8, 0.1 % → 177. Source: scipy.stats.binom.isf, worked once outside."""
    assert c.most_needed([(60, 0.7)], 0.01) == 50
    assert c.most_needed([(200, 0.8)], 0.001) == 177


GROUPS = [
    [(12, 0.5), (5, 0.3)],
    [(20, 0.7), (16, 0.8), (3, 0.1)],
    [(40, 0.05), (40, 0.95), (1, 1.0), (9, 0.0)],
    [(n % 5 + 1, n / 41) for n in range(1, 40)],
]


@pytest.mark.parametrize("groups", GROUPS)
def test_groups_add_up_as_people_of_their_own_share(groups):
    """Source: scipy.stats.poisson_binom, the sum of single yes-or-no draws of unlike chances."""
    shares = [share for people, share in groups for _ in range(people)]
    theirs = stats.poisson_binom(shares).sf(np.arange(len(shares)))
    for most, chance in enumerate(theirs):
        assert c.chance_over(groups, most) == pytest.approx(chance, rel=1e-9, abs=1e-13)
    for risk in (0.2, 0.01, 1e-4):
        assert c.most_needed(groups, risk) == np.argmax(theirs <= risk)


def test_every_way_that_people_can_be_there_counted_one_by_one():
    """Brute force in exact fractions: 2¹² ways for three groups of four. Source: the definition itself."""
    shares = (
        [Fraction(1, 4)] * 4 + [Fraction(1, 2)] * 4 + [Fraction(7, 8)] * 4
    )  # all exact in binary
    exact = [Fraction(0)] * 13
    for there in itertools.product((0, 1), repeat=12):
        chance = Fraction(1)
        for yes, share in zip(there, shares, strict=True):
            chance *= share if yes else 1 - share
        exact[sum(there)] += chance
    groups = [(4, 0.25), (4, 0.5), (4, 0.875)]
    for most in range(12):
        assert c.chance_over(groups, most) == pytest.approx(
            float(sum(exact[most + 1 :])), rel=1e-12
        )


def test_unlike_groups_in_crowds_of_thousands():
    """Source: numpy.convolve of scipy's chances, over every count there is."""
    groups = [(3000, 0.2), (2000, 0.45), (1500, 0.9)]
    whole = np.ones(1)
    for people, share in groups:
        whole = np.convolve(whole, stats.binom(people, share).pmf(np.arange(people + 1)))
    for risk in (0.1, 0.01, 1e-6):
        most = c.most_needed(groups, risk)
        tail = whole[::-1].cumsum()[::-1]
        assert tail[most + 1] <= risk < tail[most]
        assert c.chance_over(groups, most) == pytest.approx(tail[most + 1], rel=1e-9)


# -- Erlang ---------------------------------------------------------------------------------------

# Source: Carrier Grade Voice over IP, 2nd ed., appendix A, table of Erlang B (one decimal): channels, then the
# erlangs at 0.1 %, 1 %, 2 %, 5 %
TABLE = [
    (3, 0.2, 0.5, 0.6, 0.9),
    (5, 0.8, 1.4, 1.7, 2.2),
    (7, 1.6, 2.5, 2.9, 3.7),
    (8, 2.1, 3.1, 3.6, 4.5),
    (9, 2.6, 3.8, 4.3, 5.4),
]


@pytest.mark.parametrize("row", TABLE)
def test_printed_tables_of_erlang_b(row):
    seats, *loads = row
    for load, blocking in zip(loads, (0.001, 0.01, 0.02, 0.05), strict=True):
        assert c.load_for(seats, blocking) == pytest.approx(load, abs=0.05)


@pytest.mark.parametrize(
    ("seats", "load"), [(1, 0.0101), (2, 0.153), (5, 1.361), (10, 4.461), (20, 12.03)]
)
def test_loads_at_one_per_cent(seats, load):
    """Source: the usual Erlang B tables at 1 %, from memory; one seat by hand: 0.01 ÷ 0.99."""
    assert c.load_for(seats, 0.01) == pytest.approx(load, rel=0.003)
    assert c.seats_for(c.load_for(seats, 0.01) * (1 - 1e-9), 0.01) == seats


LOADS = [(0.3, 1), (4.461, 10), (12.03, 20), (25.0, 30), (48.0, 55), (900.0, 950), (20.0, 12)]


@pytest.mark.parametrize(("load", "seats"), LOADS)
def test_erlang_b_is_a_poisson_cut_off(load, seats):
    """Source: scipy.stats.poisson; B is its chance of n divided by its chance of n or fewer."""
    poisson = stats.poisson(load)
    assert c.erlang_b(load, seats) == pytest.approx(
        poisson.pmf(seats) / poisson.cdf(seats), rel=1e-9
    )


def steady(load: float, seats: int, waiting: int) -> np.ndarray:
    """The steady state of a queue with ``seats`` and room for ``waiting``, from its balance equations."""
    states = seats + waiting + 1
    rates = np.zeros((states, states))
    for there in range(states - 1):
        rates[there, there + 1] = load
        rates[there + 1, there] = min(there + 1, seats)
    np.fill_diagonal(rates, -rates.sum(axis=1))
    balance = np.vstack((rates.T, np.ones(states)))
    return np.linalg.lstsq(balance, np.append(np.zeros(states), 1.0), rcond=None)[0]


@pytest.mark.parametrize(("load", "seats"), [(0.5, 1), (4.461, 10), (7.0, 8), (12.03, 20)])
def test_both_erlangs_against_the_queue_solved_whole(load, seats):
    """Source: balance equations of a Markov queue, solved by numpy.linalg.lstsq; arrivals see time averages."""
    assert c.erlang_b(load, seats) == pytest.approx(steady(load, seats, 0)[-1], rel=1e-7)
    assert c.erlang_c(load, seats) == pytest.approx(
        steady(load, seats, 300)[seats:].sum(), rel=1e-7
    )


def test_a_worked_example_of_erlang_c():
    """360 calls in half an hour, 4 minutes each, 55 agents: 48 erlangs, 23.9 % wait. Source: M. Tanner, The
    Erlang-C Formula, worked example (the figures of the question read there, the answer from memory)."""
    assert c.erlang_c(360 / 30 * 4, 55) == pytest.approx(0.239, abs=0.0005)
    assert c.erlang_c(55.0, 55) == 1.0
