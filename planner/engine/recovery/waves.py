"""Waves: machines start, or are built, a few at a time on each host; hosts may share a datastore.

A host works on so many machines at once, all of them at the same pace, and takes the next few when
those are done. The more it works on together the longer each takes (``slowdown``), and nothing
is done before its datastore has served the disk operations it asks: these are shared out evenly
among all machines under way there. So hosts that began together go wave by wave.
Source: common practice, no source; a model of the same rules in tests/references stands beside it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.engine.placement.capacity import positive
from planner.record.facts import Id

TOO_LONG = "longer than anybody would wait: one of the numbers is a slip"


@dataclass(frozen=True, slots=True)
class Pace:
    """How machines come: so many ``at_once`` on a host, ``seconds`` for one alone, longer by the share
    ``slowdown`` for each other one under way on the host; each asks ``operations`` of its datastore."""

    at_once: int
    seconds: float
    slowdown: float = 0.0
    operations: float = 0.0

    def together(self, count: int) -> float:
        """Seconds for ``count`` machines that a host works on together, as far as its disks keep up."""
        return self.seconds * (1 + self.slowdown * max(0, count - 1))


@dataclass(frozen=True, slots=True)
class Waves:
    """How long it takes: until the ``first`` wave is done, and until all are; seconds.

    ``store_id`` is the datastore whose disk operations made it longer, ``None`` where it is the number
    at once alone.
    """

    seconds: float = 0.0
    first: float = 0.0
    store_id: Id | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """So many waves after each other that are alike: ``seconds`` each, with so many ``machines``."""

    waves: int
    seconds: float
    machines: int


def runs(counts: Sequence[int], pace: Pace, rate: float | None = None) -> list[Run]:
    """The waves of the hosts on one datastore, those that are alike as one.

    ``counts`` are machines by host, ``rate`` the operations a second the datastore gives, ``None``
    where nobody knows: then it does not bind. In time that does not grow with the counts.
    """
    counts = [count for count in counts if count > 0]
    if not counts:
        return []
    given = positive(rate)
    at_once, each = max(1, pace.at_once), 0.0 if given is None else pace.operations / given
    change: dict[int, int] = {}  # of the machines under way, by the wave it comes with
    for count in counts:
        whole, rest = divmod(count, at_once)
        change[whole] = change.get(whole, 0) + rest - at_once
        change[whole + 1] = change.get(whole + 1, 0) - rest
    last = max(counts) // at_once  # from this wave on no host is at its full number
    ragged = max(count % at_once for count in counts if count // at_once == last)
    found, under_way, before = [], at_once * len(counts), 0
    for wave in sorted(change):
        if wave > before and under_way:
            if before < last:
                together = at_once
            else:
                together = ragged
            one = max(pace.together(together), under_way * each)
            found.append(Run(wave - before, one, under_way))
        under_way += change[wave]
        before = wave
    return found


def on_store(counts: Sequence[int], pace: Pace, rate: float | None = None) -> tuple[float, float]:
    """Seconds until all machines of the hosts on one datastore are done, and until the first wave is."""
    found = runs(counts, pace, rate)
    first = next((run.seconds for run in found if run.seconds), 0.0)
    return sum((run.waves * run.seconds for run in found), 0.0), first


def work_out(
    counts: Mapping[Id | None, Sequence[int]], pace: Pace, rates: Mapping[Id, float | None]
) -> Waves:
    """All datastores side by side: ``counts`` are machines by host on each (``None``: on none that is known)."""
    slowest, first = Waves(), 0.0
    for store_id, on_hosts in counts.items():
        if store_id is not None:
            rate = rates.get(store_id)
        else:
            rate = None
        seconds, begun = on_store(on_hosts, pace, rate)
        if first and begun:
            first = min(first, begun)
        else:
            first = first or begun
        if seconds > slowest.seconds:
            if rate is not None:
                free = on_store(on_hosts, pace)[0]
            else:
                free = seconds
            slowest = Waves(seconds, 0.0, store_id if seconds > free * (1 + 1e-9) else None)
    return Waves(slowest.seconds, first, slowest.store_id)
