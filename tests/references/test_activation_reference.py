"""The key server's count against a key server kept event by event, as its publisher describes it."""

from __future__ import annotations

import heapq

import pytest

from planner.record import facts as f
from tests.factories import make, plan_of

HOUR = 60


def activated(desktops: int, servers: int, apart_minutes: int, days: int) -> dict[str, int]:
    """Machines come one after another, ``apart_minutes`` apart, and ask; each asks again after 2 hours when it was
    refused and after 7 days when it was activated. Gives the minute when the last of each kind was activated.

    Source: Microsoft, Key Management Services (KMS) activation planning: the server adds the machine to those of
    the past 30 days and answers with their number; desktops are activated at 25, servers at 5.
    """
    kinds = ["server"] * servers + ["desktop"] * desktops
    asking = [(number * apart_minutes, number) for number in range(len(kinds))]
    heapq.heapify(asking)
    seen: dict[int, int] = {}
    done: dict[int, int] = {}
    while asking and asking[0][0] <= days * 24 * HOUR:
        now, machine = heapq.heappop(asking)
        seen[machine] = now
        count = sum(now - last <= 30 * 24 * HOUR for last in seen.values())
        if count >= (25 if kinds[machine] == "desktop" else 5):
            done.setdefault(machine, now)
            heapq.heappush(asking, (now + 7 * 24 * HOUR, machine))
        else:
            heapq.heappush(asking, (now + 2 * HOUR, machine))
    last = {}
    for kind in ("desktop", "server"):
        machines = [number for number, other in enumerate(kinds) if other == kind]
        if machines and all(number in done for number in machines):
            last[kind] = max(done[number] for number in machines)
    return last


@pytest.mark.parametrize(
    ("desktops", "servers"), [(24, 0), (25, 0), (20, 5), (20, 4), (3, 2), (3, 1), (40, 0)]
)
def test_desktops_are_activated_when_the_count_says_so(desktops, servers):
    image = make(f.Image, name="office", activation="key-server")
    template = make(f.Template, image_id=image.id, most=desktops, reset_rule="kept")
    listed = [make(f.Server, name=f"s{number}") for number in range(servers)]
    found = plan_of(image, template, *listed).activation.key_server
    last = activated(desktops, servers, apart_minutes=7, days=12)
    assert ("desktop" in last) is found.activates_with_servers
    assert ("server" in last) is (found.activates_servers and servers > 0)
    if (
        "desktop" in last
    ):  # the 25th machine comes, and those refused before ask again within the 2 hours
        reached = (max(desktops + servers, found.wanted) - 1) * 7
        assert last["desktop"] <= reached + found.retry_hours * HOUR
