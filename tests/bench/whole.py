"""How long a whole site takes, and how that grows. Run: python -m tests.bench.whole

``work_out`` here means every room of the engine, every finding and every stage of the large demo site; the
morning's finer simulation, which is asked for by one page alone, is measured on its own line. Yardstick of the
growth: the same site once. Grown sites hold so many copies of every record, each with ids, names, subnets
and addresses of its own.
"""

from __future__ import annotations

import dataclasses
import gc
import ipaddress
import os
import time
from collections.abc import Callable

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")

from planner import work_out
from planner.engine import surge
from planner.engine.placement.placing import _more_of_each
from planner.record import facts as f
from tests.papers.demo_facts import demo

TIMES = (1, 2, 5, 10)
REPEATS = 5
REFERENCES = ("network_id", "host_id", "image_id", "template_id", "protocol_id", "datastore_id")
ADDRESSES = ("gateway", "dhcp_first", "dhcp_last", "address", "out_of_band_address")


def grown(facts: f.SiteFacts, times: int) -> f.SiteFacts:
    """The site with so many of everything; copies lie in subnets of their own."""
    lists = {}
    for name in (
        "networks",
        "devices",
        "hosts",
        "datastores",
        "images",
        "templates",
        "seat_groups",
    ):
        rows = getattr(facts, name)
        lists[name] = tuple(_moved(row, turn) for turn in range(times) for row in rows)
    return dataclasses.replace(facts, **lists)


def _moved(row, turn: int):
    if not turn:
        return row
    values = {"id": row.id + turn * 100_000, "name": f"{row.name} {turn}"}
    for name in REFERENCES:
        if getattr(row, name, None) is not None and name != "protocol_id":
            values[name] = getattr(row, name) + turn * 100_000
    for name in ADDRESSES:
        if getattr(row, name, ""):
            values[name] = str(ipaddress.ip_address(getattr(row, name)) + turn * 2**16)
    if getattr(row, "cidr", ""):
        net = ipaddress.ip_network(row.cidr)
        values |= {
            "cidr": f"{net.network_address + turn * 2**16}/{net.prefixlen}",
            "vlan": row.vlan + turn * 200,
        }
    if hasattr(row, "name_prefix"):
        values["name_prefix"] = f"{turn}{row.name_prefix}"
    if getattr(row, "mac", ""):
        values["mac"] = ""
    return dataclasses.replace(row, **values)


def quickest(work: Callable[[], object]) -> float:
    found = []
    gc.collect()
    gc.freeze()  # as the server does
    for _ in range(REPEATS):
        for cache in (surge._simulated, surge._glance, _more_of_each):
            cache.cache_clear()  # every run from a cold start
        before = time.perf_counter()
        work()
        found.append(time.perf_counter() - before)
    return min(found)


def main() -> None:
    facts = demo("large")
    once = 0.0
    for times in TIMES:
        site = grown(facts, times)
        seconds = quickest(lambda site=site: work_out(site).everything())
        once = once or seconds
        held = f"{len(site.hosts)} hosts, {len(site.networks)} networks, {len(site.templates)} templates"
        print(
            f"{times:2} × the large site ({held}): {1000 * seconds:.1f} ms, {seconds / once:.1f} times the site once"
        )
    plan = work_out(facts).everything()
    print(f"the morning's finer simulation: {1000 * quickest(lambda: plan.surge.all_there):.1f} ms")
    print(
        f"how many more of each fit, proved: {1000 * quickest(lambda: work_out(facts).placement.more):.1f} ms"
    )


if __name__ == "__main__":
    main()
