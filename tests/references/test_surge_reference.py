"""The morning against outside models: SimPy event by event, Poisson and queueing formulas, scipy's distributions."""

from __future__ import annotations

import dataclasses
import math
import random

import numpy as np
import pytest
from scipy import stats

from planner.engine.surge import Morning, none_ready, ready_at_once, smallest_standby
from planner.engine.surge.arrivals import Arrivals, draw
from planner.engine.surge.handouts import hand_out
from planner.engine.surge.morning import AT_ONCE, REBUILT, STAYS, Group, Host, Stock
from planner.engine.surge.standby_poisson import busiest_mean
from tests.references.surge_simpy import one_run

NINE = 9 * 3600.0


def morning(
    groups, stocks, *, hosts=1, slots=4, seconds=150.0, slowdown=0.15, pause=900.0
) -> Morning:
    return Morning(
        groups=tuple(groups),
        stocks=tuple(stocks),
        hosts=tuple(Host(n, f"h{n}") for n in range(hosts)),
        slots=slots,
        build_seconds=seconds,
        slowdown=slowdown,
        break_seconds=pause,
        session_spread=0.5,
        target_seconds=30.0,
        target_share=0.95,
        runs=200,
    )


def one_template(times: np.ndarray, *, standby: int, slots: int, seconds: float) -> np.ndarray:
    """Waits of these arrivals, [run, person], at one template that may have any number of desktops."""
    stock = Stock(1, "office", standby, 10**6, STAYS, (True,))
    found = morning((), [stock], slots=slots, seconds=seconds, slowdown=0.0)
    (outs,) = hand_out(
        found, Arrivals(times, np.ones_like(times), (slice(0, times.shape[1]),)), [found.stocks]
    )
    return outs.paths[0].given - times


# -- run by run ------------------------------------------------------------------------------------


def some_morning(number: int) -> Morning:
    """Any site: one to four templates on one to four hosts, some of which cannot carry all of them."""
    pick = random.Random(number)
    count, groups, stocks = pick.randint(1, 4), [], []
    everywhere = pick.random() < 0.6
    for at in range(pick.randint(1, 4)):
        may = tuple(everywhere or pick.random() < 0.6 for _ in range(count))
        stocks.append(
            Stock(
                at + 1,
                f"t{at}",
                pick.choice([None, 0, 1, 2, 5, 60]),
                pick.randint(1, 40),
                pick.choice([STAYS, AT_ONCE, REBUILT]),
                may if any(may) else (True, *may[1:]),
            )
        )
        for _ in range(pick.randint(0, 2)):
            groups.append(
                Group(
                    len(groups) + 1,
                    at,
                    pick.randint(0, 30),
                    pick.choice([0.3, 0.8, 1.0]),
                    NINE + pick.choice([0, 600, 3600]),
                    pick.choice([0, 60, 600, 1800]),
                    pick.choice([1, 2, 2.4, 6, 12]),
                    pick.choice([600.0, 1800.0, 5400.0, 18000.0]),
                )
            )
    return morning(
        groups,
        stocks,
        hosts=count,
        slots=pick.randint(1, 4),
        seconds=pick.choice([20.0, 150.0, 400.3]),
        slowdown=pick.choice([0.0, 0.15, 1.7]),
        pause=pick.choice([0.0, 300.0, 900.0]),
    )


@pytest.mark.parametrize("block", range(4))
def test_every_hand_out_is_at_the_same_time_as_in_the_event_model(block):
    """The same people in both: slow-down, hosts that are full or cannot carry, desktops that come back and are
    rebuilt or not, standby of nought and over most. Source: SimPy 4.1 (tests/references/surge_simpy.py)."""
    people = sign_outs = never = 0
    for number in range(100 * block, 100 * block + 100):
        site = some_morning(number)
        arrivals = draw(site, 2)
        (found,) = hand_out(site, arrivals, [site.stocks], most_effort=10**9)
        assert found.settled
        sign_outs += not found.quiet
        ground = (len(site.hosts), site.slots, site.build_seconds, site.slowdown)
        for run in range(2):
            came = [np.isfinite(arrivals.times[run, at]) for at in arrivals.of]
            times, lengths = (
                [
                    table[run, at][there].tolist()
                    for at, there in zip(arrivals.of, came, strict=True)
                ]
                for table in (arrivals.times, arrivals.sessions)
            )
            wanted = one_run(site.stocks, ground, site.ends, times, lengths)
            for path, there, given in zip(found.paths, came, wanted, strict=True):
                people += len(given)
                never += sum(map(math.isinf, given))
                np.testing.assert_allclose(path.given[run][there], given, rtol=0, atol=1e-9)
    assert (
        people > 5000 and sign_outs > 20 and 0 < never < people / 2
    )  # the cases are of every kind


def test_other_standbys_and_hosts_side_by_side_are_as_if_worked_out_alone():
    for number in range(30):
        site = some_morning(number)
        arrivals = draw(site, 3)
        other = tuple(
            dataclasses.replace(
                one, standby=3, hosts=tuple(at == 0 for at in range(len(site.hosts)))
            )
            for one in site.stocks
        )
        both = hand_out(site, arrivals, [site.stocks, other], most_effort=10**9)
        for stocks, found in zip((site.stocks, other), both, strict=True):
            (alone,) = hand_out(site, arrivals, [stocks], most_effort=10**9)
            for one, two in zip(found.paths, alone.paths, strict=True):
                np.testing.assert_array_equal(one.given, two.given)


# -- formulas --------------------------------------------------------------------------------------


def test_none_ready_as_scipy_has_it():
    """Source: scipy.stats.poisson (P(X ≥ S) = sf(S − 1), P(X ≤ S − 1) = cdf)."""
    for mean in (0.01, 0.7, 3.0, 10.0, 75.0, 900.0, 20_000.0):
        for standby in {
            1,
            2,
            *(max(1, round(mean * share)) for share in (0.5, 0.9, 1.0, 1.1, 1.5)),
        }:
            for mine, theirs in (
                (none_ready(standby, mean), stats.poisson.sf(standby - 1, mean)),
                (ready_at_once(standby, mean), stats.poisson.cdf(standby - 1, mean)),
            ):
                assert mine == pytest.approx(theirs, rel=1e-8, abs=1e-300)
        for risk in (0.3, 0.05, 1e-6):
            found = smallest_standby(mean, risk)
            assert stats.poisson.sf(found - 1, mean) <= risk < stats.poisson.sf(found - 2, mean)


def test_busiest_mean_as_scipy_has_it():
    """Source: scipy.stats.norm, the largest of the sums over a fine grid."""
    groups = [
        Group(1, 0, 40, 0.7, NINE, 900.0, 1, 3600.0),
        Group(2, 0, 25, 1.0, NINE + 1500, 300.0, 1, 3600.0),
    ]
    times = np.arange(NINE - 3600, NINE + 7200, 1.0)
    wanted = max(
        sum(
            g.people
            * g.share
            * (
                stats.norm.cdf(times, g.around, g.spread)
                - stats.norm.cdf(times - 150, g.around, g.spread)
            )
            for g in groups
        )
    )
    assert busiest_mean(groups, 150.0) == pytest.approx(wanted, rel=1e-3)


@pytest.mark.parametrize("standby", [14, 15, 16])
def test_in_the_limit_the_simulation_is_the_poisson_formula(standby):
    """People come at random at λ, slots enough for all, no end of desktops: the share who find none ready is
    P(Poisson(λL) ≥ S), mean 10. Source: Feeney and Sherbrooke 1966; Hopp and Spearman, Factory Physics §2.4.2.

    400 mornings of 300 people; the first 60 of each are left out, standby being full at the start. The
    standard error is taken from the mornings' own shares, about 0.002; four of them are allowed.
    """
    random_numbers = np.random.default_rng(1966)
    times = np.cumsum(
        random_numbers.exponential(15.0, (400, 300)), axis=1
    )  # L = 150 s: ten on their way
    late = one_template(times, standby=standby, slots=60, seconds=150.0)[:, 60:] > 0
    shares = late.mean(axis=1)
    error = shares.std(ddof=1) / math.sqrt(len(shares))
    assert 0.001 < error < 0.006
    assert shares.mean() == pytest.approx(stats.poisson.sf(standby - 1, 10.0), abs=4 * error)


def test_without_standby_on_one_slot_people_wait_as_in_a_queue():
    """One build at a time, none on standby: the wait is the queue's and the build's own, L + λL² / (2(1 − ρ)).
    Source: Pollaczek-Khinchine mean value formula, constant service; from memory: L. Kleinrock, Queueing Systems, 1975.
    """
    random_numbers = np.random.default_rng(1975)
    each, seconds = 200.0, 120.0  # ρ = 0.6
    times = np.cumsum(random_numbers.exponential(each, (300, 1200)), axis=1)
    waits = one_template(times, standby=0, slots=1, seconds=seconds)[:, 200:].mean(axis=1)
    error = waits.std(ddof=1) / math.sqrt(len(waits))
    assert error < 1.5
    assert waits.mean() == pytest.approx(
        seconds + seconds**2 / each / (2 * (1 - seconds / each)), abs=4 * error
    )


# -- who comes when ----------------------------------------------------------------------------------


def test_people_come_as_binomial_and_normal_have_it():
    """Source: scipy.stats: chi-square against the binomial, Kolmogorov-Smirnov against the normal; the seed is
    fixed, so that this passes always or never. One in a thousand would be told apart."""
    site = morning(
        [Group(7, 0, 40, 0.7, NINE, 900.0, 1, 3600.0)], [Stock(1, "office", 3, 40, STAYS, (True,))]
    )
    times = draw(site, 1000).times
    came = np.isfinite(times)
    counts = np.bincount(came.sum(axis=1), minlength=41)[20:37]
    wanted = stats.binom.pmf(np.arange(20, 37), 40, 0.7)
    assert stats.chisquare(counts, wanted / wanted.sum() * counts.sum()).pvalue > 0.001
    assert stats.kstest(times[came], stats.norm(NINE, 900.0).cdf).pvalue > 0.001
