"""How long the seats take, against scipy and a plain convolution. Run: python -m tests.bench.concurrency"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy import stats

from planner.engine.people import chances, concurrency, line

REPEATS = 5


def seconds(work: Callable[[], object]) -> float:
    """The quickest of a few runs, each from a cold start."""
    found = []
    for _ in range(REPEATS):
        chances._together.cache_clear()
        before = time.perf_counter()
        work()
        found.append(time.perf_counter() - before)
    return min(found)


def plainly(groups, risk: float) -> int:
    """Every count of every group, convolved in turn. Yardstick."""
    whole = np.ones(1)
    for people, share in groups:
        whole = np.convolve(whole, stats.binom(people, share).pmf(np.arange(people + 1)))
    tails = whole[::-1].cumsum()[::-1]
    return int(np.argmax(np.append(tails, 0.0)[1:] <= risk))


def main() -> None:
    cases = {
        "one group of 60": [(60, 0.7)],
        "one group of 100,000": [(100_000, 0.7)],
        "three groups, 10,000 in all": [(5000, 0.2), (3000, 0.45), (2000, 0.9)],
        "100 groups of 1,000, all unlike": [(1000, n / 101) for n in range(1, 101)],
    }
    for words, groups in cases.items():
        ours, theirs = (
            seconds(lambda work=work, groups=groups: work(groups, 0.01))
            for work in (concurrency.most_needed, plainly)
        )
        same = concurrency.most_needed(groups, 0.01) == plainly(groups, 0.01)
        print(
            f"{words}: {1000 * ours:.2f} ms, {theirs / ours:.0f} times as quick as convolving everything; same: {same}"
        )
    many = [(1000, n / 101) for n in range(1, 101)]
    million = [(10 * people, share) for people, share in many]
    took = seconds(lambda: concurrency.most_needed(million, 0.01))
    print(f"most of 1,000,000 people in 100 groups: {1000 * took:.0f} ms")
    parts = [(people, share, 100.0 + 7 * n) for n, (people, share) in enumerate(many)]
    print(
        f"load of 100,000 people at 100 rates: {1000 * seconds(lambda: line.load_kbit_s(parts, 0.01)):.0f} ms"
    )
    print(
        f"load for 1,000 seats by Erlang B: {1000 * seconds(lambda: concurrency.load_for(1000, 0.01)):.2f} ms"
    )


if __name__ == "__main__":
    main()
