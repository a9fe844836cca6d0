"""Disks and arrays: what a RAID level leaves of the disks, and how many operations it gives."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from planner.record.choices import Raid
from planner.record.units import GIB

RAID_LEAST: Mapping[str, int] = {
    Raid.STRIPED: 1,
    Raid.MIRRORED: 2,
    Raid.STRIPED_MIRRORS: 4,
    Raid.ONE_PARITY: 3,
    Raid.TWO_PARITIES: 4,
}
RAID_PAIRS = (Raid.MIRRORED, Raid.STRIPED_MIRRORS)
PARITIES: Mapping[str, int] = {Raid.STRIPED: 0, Raid.ONE_PARITY: 1, Raid.TWO_PARITIES: 2}
WRITE_PENALTY: Mapping[str, int] = {
    Raid.STRIPED: 1,
    Raid.MIRRORED: 2,
    Raid.STRIPED_MIRRORS: 2,
    Raid.ONE_PARITY: 4,
    Raid.TWO_PARITIES: 6,
}


def raid_usable_disks(raid: str, disks: int | None, hot_spares: int | None = 0) -> float | None:
    """How many disks' worth of space an array gives: RAID 0 N, 1 and 10 N/2, 5 N−1, 6 N−2.

    ``disks`` counts every disk, hot spares among them. ``None`` when something is not known or
    the level cannot be built from so many disks (1: pairs, 10: pairs from 4 disks on, 5: 3, 6: 4).
    Source: IBM Power documentation, Disk array capacities.
    Source: Red Hat, System Design Guide 8, appendix E.3 (the fewest disks of each level).
    """
    if raid not in RAID_LEAST or disks is None or disks < 0 or (hot_spares or 0) < 0:
        return None
    working = disks - (hot_spares or 0)
    if working < RAID_LEAST[raid] or (raid in RAID_PAIRS and working % 2):
        return None
    if raid in RAID_PAIRS:
        return working / 2
    return float(working - PARITIES[raid])


def gb_to_gib(gb: float) -> float:
    """Decimal GB, as disks are sold, in GiB: 10⁹ / 2³⁰. Source: IEC 80000-13 (from memory)."""
    return gb * 1e9 / GIB


def disk_operations(seek_ms: float, rpm: float) -> float | None:
    """Random operations a second of a turning disk: 1000 / (seek + half a turn), both in ms.

    Half a turn is 30000/rpm ms. ``None`` unless both are positive.
    Source: Patterson & Hennessy, Computer Organization and Design, disk storage (half a turn on average;
    from memory).
    """
    if not (seek_ms >= 0 and rpm > 0):
        return None
    return 1000 / (seek_ms + 30000 / rpm)


def back_end(front: float, write_share: float, raid: str) -> float | None:
    """Disk operations behind ``front`` operations a second: F·read + F·write·penalty.

    ``write_share`` is 0 … 1. ``None`` for a level that is not known. Source: Chen et al., RAID:
    High-Performance, Reliable Secondary Storage, ACM Computing Surveys 26(2), 1994: a small
    write is 1, 2, 4 or 6 disk operations at level 0, 1, 5 or 6.
    """
    if raid not in WRITE_PENALTY or not 0 <= write_share <= 1:
        return None
    return front * (1 - write_share) + front * write_share * WRITE_PENALTY[raid]


def front_end(raw: float, write_share: float, raid: str) -> float | None:
    """Operations a second an array gives its users, of ``raw`` its disks do: the inverse of
    :func:`back_end`, raw / (read + write·penalty).

    A formula in print, raw·write/penalty + raw·read, gives more than the disks can do: the work
    behind it is not conserved.
    """
    work = back_end(1.0, write_share, raid)
    if work is None:
        return None
    return raw / work


def days_until_full(
    free_gib: float, growing: Iterable[tuple[float, int]], gib_a_day: float
) -> float | None:
    """Days until disks that grow have filled what is free.

    ``growing`` are (how much one may still grow in GiB, how many such disks there are); each grows by
    ``gib_a_day`` until it cannot any more. ``None`` when all stop before it is full. Source: common practice,
    no source; it is bookkeeping.
    """
    rooms = sorted((room, count) for room, count in growing if room > 0 and count > 0)
    free, left, each = max(0.0, free_gib), sum(count for _, count in rooms), 0.0
    if not gib_a_day > 0:
        return None
    for room, stopping in rooms:  # those with least room stop first
        if left * (room - each) >= free:
            return (each + free / left) / gib_a_day
        free -= left * (room - each)
        left, each = left - stopping, room
    return None
