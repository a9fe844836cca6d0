"""Standby by formula: how often nobody has a desktop ready, without any simulation.

People ask for desktops at random (Poisson) at the rate λ; each who asks starts a replacement that takes
L on average; nothing limits how many are built at once. Then the number X of replacements on their way
is Poisson with mean λL, whatever the shape of the build time, and whoever asks finds no desktop ready
when X ≥ S, the standby.

In whole desktops the chance of finding one at once is P(X ≤ S − 1), not P(X ≤ S): the person who asks
needs one too.

Source: C. Palm's theorem; G. J. Feeney, C. C. Sherbrooke, The (S−1, S) Inventory Policy under Compound
Poisson Demand, Management Science 12(5), 1966; W. J. Hopp, M. L. Spearman, Factory Physics, §2.4.2
(places from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from planner.engine.surge.morning import Group

MEAN_MOST = 1e6  # more desktops on their way at once is a slip of the keyboard
BETWEEN = 96  # times between the groups' own peaks at which is looked
SMALL = 1e-17  # a term that adds nothing to a sum near one of the first terms


def none_ready(standby: float, mean: float) -> float | None:
    """P(X ≥ S): the share of people who find no desktop ready; ``mean`` is λL, replacements on their way.

    ``None`` when a number cannot be one (negative, no number, absurd). Right to nine digits and more.
    """
    tails = _known_tails(standby, mean)
    if tails is None:
        return None
    return tails[1]


def ready_at_once(standby: float, mean: float) -> float | None:
    """P(X ≤ S − 1): the share of people who are handed a desktop at once. ``None`` as in :func:`none_ready`."""
    tails = _known_tails(standby, mean)
    if tails is None:
        return None
    return tails[0]


def smallest_standby(mean: float, risk: float) -> int | None:
    """The smallest S with P(X ≥ S) ≤ ``risk``; ``None`` when there is none (``risk`` not above 0) or as above."""
    if not 0 <= mean <= MEAN_MOST or not risk > 0:
        return None
    if risk >= 1:
        return 0
    low, high = 0, 1  # low: too small; high: enough
    while _tails(high, mean)[1] > risk:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if _tails(middle, mean)[1] <= risk else (middle, high)
    return high


def busiest_mean(groups: Sequence[Group], seconds: float) -> float:
    """The most replacements that are on their way at one time, on average, if each takes ``seconds`` to build.

    As many as people come within so many seconds: groups arrive normally, each person with the group's share.
    (Palm's theorem holds for a rate that changes as well, with the arrivals expected within the last L.)
    """
    peaks = sorted({group.around + seconds / 2 for group in groups})
    if not peaks:
        return 0.0
    step = (peaks[-1] - peaks[0]) / BETWEEN
    times = [*peaks, *(peaks[0] + step * turn for turn in range(1, BETWEEN) if step)]
    return max(
        sum(group.people * group.share * _between(group, time - seconds, time) for group in groups)
        for time in times
    )


def _between(group: Group, start: float, end: float) -> float:
    """The share of a group's people who come in this time."""
    if not group.spread:
        if start < group.around <= end:
            return 1.0
        return 0.0
    low, high = ((time - group.around) / (group.spread * math.sqrt(2)) for time in (start, end))
    return (math.erf(high) - math.erf(low)) / 2


def _known_tails(standby: float, mean: float) -> tuple[float, float] | None:
    if not 0 <= mean <= MEAN_MOST or not 0 <= standby < math.inf:
        return None
    return _tails(math.floor(standby), mean)


def _tails(count: int, mean: float) -> tuple[float, float]:
    """P(X ≤ count − 1) and P(X ≥ count); the smaller one is summed, so that a far tail keeps its digits."""
    if count == 0 or mean == 0:
        if count == 0:
            return (0.0, 1.0)
        return (1.0, 0.0)
    if count > mean:
        above = _sum_up(count, mean)
        return 1.0 - above, above
    below = _sum_down(count - 1, mean)
    return below, 1.0 - below


def _chance(count: int, mean: float) -> float:
    return math.exp(count * math.log(mean) - mean - math.lgamma(count + 1))


def _sum_up(count: int, mean: float) -> float:
    """P(X ≥ count) for a count above the mean: each term is mean / k times the one before."""
    total, term, k = 0.0, 1.0, count
    while term > SMALL * total:
        total += term
        k += 1
        term *= mean / k
    return min(1.0, _chance(count, mean) * total)


def _sum_down(count: int, mean: float) -> float:
    """P(X ≤ count) for a count below the mean: each term is k / mean times the one after."""
    total, term, k = 0.0, 1.0, count
    while term > SMALL * total:
        total += term
        term *= k / mean
        k -= 1
    return min(1.0, _chance(count, mean) * total)
