"""The problem in whole numbers, its answer, and the room that is left while desktops are placed."""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field, replace

SOLVER_SECONDS = 0.6
STEPS = (
    2_000_000  # a whole site's greedy work; a site of 12 hosts and 20 templates uses about 20,000
)


@dataclass(frozen=True, slots=True)
class Class:
    """Desktops that ask the same: memory in MiB, vCPU, disk in MiB; ``count`` of them."""

    memory: int
    vcpu: int
    disk: int
    count: int


@dataclass(frozen=True, slots=True)
class Bin:
    """A host: memory in MiB, vCPU, and its disk pool (-1: disk does not bind)."""

    memory: int
    vcpu: int
    pool: int = -1


@dataclass(frozen=True)
class Problem:
    """``pools`` are disk pools in MiB; several bins may name one."""

    classes: tuple[Class, ...]
    bins: tuple[Bin, ...]
    pools: tuple[int, ...] = ()

    @property
    def total(self) -> int:
        return sum(one.count for one in self.classes)

    def without(self, index: int) -> Problem:
        return replace(self, bins=self.bins[:index] + self.bins[index + 1 :])


@dataclass(frozen=True)
class Packed:
    """``placed[class][bin]``. ``left`` is how many are left out here; nobody can leave out fewer
    than ``left_at_least``."""

    placed: tuple[tuple[int, ...], ...]
    left: int
    left_at_least: int = 0

    @property
    def proved(self) -> bool:
        return self.left <= self.left_at_least

    @property
    def fits(self) -> bool | None:
        if self.left == 0:
            return True
        if self.left_at_least:
            return False
        return None


@dataclass
class Work:
    """What is left to spend: greedy steps, and seconds of the exact solver's own clock."""

    steps: int = STEPS
    solver_seconds: float = field(default_factory=lambda: SOLVER_SECONDS)
    solver_calls: int = 0
    reach: dict[tuple[int, tuple[tuple[int, int], ...]], int] = field(default_factory=dict)

    def spend(self, steps: int) -> bool:
        self.steps -= steps
        return self.steps >= 0


class Room:
    """What is still free while desktops are placed."""

    def __init__(self, problem: Problem):
        self.bins, self.classes = problem.bins, problem.classes
        self.memory = [one.memory for one in problem.bins]
        self.vcpu = [one.vcpu for one in problem.bins]
        self.pools = list(problem.pools)
        self.placed = [[0] * len(problem.bins) for _ in problem.classes]

    def fits(self, ask: Class, at: int) -> int:
        """How many more of ``ask`` go on bin ``at``."""
        count = ask.count
        if ask.memory:
            count = min(count, self.memory[at] // ask.memory)
        if ask.vcpu:
            count = min(count, self.vcpu[at] // ask.vcpu)
        pool = self.bins[at].pool
        if pool >= 0 and ask.disk:
            count = min(count, self.pools[pool] // ask.disk)
        return max(0, count)

    def put(self, number: int, at: int, count: int) -> None:
        ask = self.classes[number]
        self.memory[at] -= ask.memory * count
        self.vcpu[at] -= ask.vcpu * count
        if self.bins[at].pool >= 0:
            self.pools[self.bins[at].pool] -= ask.disk * count
        self.placed[number][at] += count

    def fill(self, number: int, count: int, order: list[int] | range) -> int:
        """First fit of ``count`` desktops of a class; how many found no place."""
        ask = self.classes[number]
        for at in order:
            if not count:
                break
            here = min(count, self.fits(ask, at))
            if here:
                self.put(number, at, here)
                count -= here
        return count

    def spread(self, number: int, count: int) -> int:
        """Places ``count`` desktops of a class, always on the bin with most to spare, in small lots."""
        ask, bins = self.classes[number], self.bins
        heap = [(-self.spare(at), at) for at in range(len(bins)) if self.fits(ask, at)]
        heapq.heapify(heap)
        while count and heap:
            at = heap[0][1]
            here = min(max(1, count // (2 * len(bins))), self.fits(ask, at))
            if not here:
                heapq.heappop(heap)
                continue
            self.put(number, at, here)
            count -= here
            heapq.heapreplace(heap, (-self.spare(at), at))
        return count

    def spare(self, at: int) -> float:
        one = self.bins[at]
        return min(self.memory[at] / (one.memory or 1), self.vcpu[at] / (one.vcpu or 1))
