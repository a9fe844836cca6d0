"""Builds: when each desktop that was asked for is ready, for many mornings side by side.

The rules
- Builds begin in the order they were asked for, whatever template they are of.
- A host works on so many at once (``slots``). A build begins when one of the hosts that can carry it
  has a slot free: on the one with the fewest under way then, of these the first.
- It takes ``seconds``, longer by the share ``slowdown`` for each other build under way on its host when
  it begins, and what other builds do later changes nothing. A build that ends at that very time is over.

All mornings take one step at a time, each with the next build it was asked for: a step is a dozen
numpy operations over all slots of all mornings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

LANES = 65_536  # slots × mornings that are worked on together: what stays in the processor's cache


@dataclass(frozen=True, slots=True)
class Ground:
    """What the hosts do: builds at once on each, seconds for one alone, how much longer for each other."""

    slots: int
    seconds: float
    slowdown: float

    def lengths(self) -> np.ndarray:
        """Seconds a build takes by how many others are under way on its host."""
        return self.seconds * (1 + self.slowdown * np.arange(self.slots + 1.0))


def in_order(times: np.ndarray) -> np.ndarray:
    """The columns of each row by their times, those that are ``inf`` left out as far as they are so in every row.

    At one time the first in the row is the first.
    """
    width = int(np.isfinite(times).sum(axis=1).max(initial=0))
    return np.argsort(times, axis=1, kind="stable")[:, :width]


def ready_times(
    asked: np.ndarray, hosts: np.ndarray, ground: Ground, order: np.ndarray | None = None
) -> np.ndarray:
    """When each build is ready, in the shape of ``asked``: [morning, build], seconds, ``inf`` for none.

    ``hosts`` says which hosts can carry it: [morning or 1, build or 1, host] of bool. ``order`` is the order
    in which the builds of each morning are asked for, where it is known already; those that are not asked
    for (``inf``) may stand anywhere in it. At one time, the first in the row is the first.
    """
    if order is None and not (asked[:, 1:] >= asked[:, :-1]).all():
        order = in_order(asked)
    found = np.full(asked.shape, np.inf)
    size = max(64, LANES // (hosts.shape[2] * ground.slots))
    for start in range(0, len(asked), size):
        part = slice(start, start + size)
        if len(hosts) == 1:
            closed_to = hosts
        else:
            closed_to = hosts[part]
        if order is None:
            found[part] = _walk(np.ascontiguousarray(asked[part].T), closed_to, None, ground).T
        else:
            queue = np.take_along_axis(asked[part], order[part], axis=1).T
            ready = _walk(np.ascontiguousarray(queue), closed_to, order[part], ground)
            np.put_along_axis(found[part], order[part], ready.T, axis=1)
    return found


class _Keys:
    """Which slot a build takes, in one whole number a slot: whether it is taken, how many others are under way
    on its host, its own number from 1 on. The least is the slot to take; nought stands for the last row."""

    def __init__(self, count: int, ground: Ground):
        total = count * ground.slots
        self.bits = total.bit_length()
        end = (ground.slots + 1) << self.bits
        self.kind = np.int16 if end <= 2**14 else np.int32
        self.taken = self.kind(2**14 if self.kind is np.int16 else 2**30)
        self.numbers = np.arange(1, total + 1, dtype=self.kind).reshape(count, ground.slots, 1)
        keys = np.arange(end)
        self.lengths = ground.lengths()[keys >> self.bits]
        row = np.minimum(keys & ((1 << self.bits) - 1), total) - 1
        self.rows = np.where(row < 0, total, row)


def _walk(
    queue: np.ndarray, hosts: np.ndarray, order: np.ndarray | None, ground: Ground
) -> np.ndarray:
    """``queue`` is [step, morning]: when the step's build was asked for. The same shape, when it is ready."""
    lanes, count, total = queue.shape[1], hosts.shape[2], hosts.shape[2] * ground.slots
    keys = _Keys(count, ground)

    def by_host(rows: np.ndarray) -> np.ndarray:
        return rows[:total].reshape(count, ground.slots, lanes)

    # when each slot is free again; the last row is for builds that are not asked for: free at "never" alone
    free = np.full((total + 1, lanes), -np.inf)
    free[total] = np.inf
    closed = (
        None if hosts.all() else ~hosts.transpose(1, 2, 0)[:, :, None, :]
    )  # [build, host, 1, morning]
    if closed is not None and len(closed) == 1:
        by_host(free)[:] = np.where(
            closed[0], np.inf, by_host(free)
        )  # no slot of such a host is ever free
        closed = None
    busy, key, mark = (np.empty(free.shape, kind) for kind in (np.int8, keys.kind, keys.kind))
    busy_or_not, busy_by_host, key_by_host = busy.view(bool), by_host(busy), by_host(key)
    begins, at, places, slots = (
        np.empty(lanes),
        np.arange(lanes),
        keys.rows * lanes,
        free.reshape(-1),
    )
    for step, asked in enumerate(queue):
        if closed is None:
            shut = None
        else:
            shut = _shut(closed, order, step, at)
        if shut is None:
            open_from = free
        else:
            open_from = np.where(shut, np.inf, by_host(free)).reshape(total, lanes)
        np.minimum.reduce(open_from, axis=0, out=begins)
        np.maximum(begins, asked, out=begins)
        np.greater(free, begins, out=busy_or_not)
        others = np.add.reduce(busy_by_host, axis=1, dtype=keys.kind)
        others <<= keys.bits
        np.add(others[:, None, :], keys.numbers, out=key_by_host)
        key[total] = 0
        if shut is not None:
            np.bitwise_or(busy_by_host, shut, out=busy_by_host)
        np.multiply(busy, keys.taken, out=mark)
        np.bitwise_or(key, mark, out=key)  # far quicker than to write where it is taken
        chosen = np.minimum.reduce(key, axis=0)
        begins += keys.lengths.take(chosen, mode="clip")
        queue[step] = begins
        slot = places.take(chosen, mode="clip")
        slot += at
        slots[slot] = begins
    return queue


def _shut(closed: np.ndarray, order: np.ndarray | None, step: int, at: np.ndarray) -> np.ndarray:
    """Which hosts cannot carry the step's build, [host, 1, morning or 1]."""
    shut: np.ndarray
    if order is None:
        shut = closed[step]
        return shut
    mornings = at if closed.shape[3] > 1 else 0
    shut = np.moveaxis(closed[order[:, step], :, 0, mornings], 0, 1)[:, None, :]
    return shut
