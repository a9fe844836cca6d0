"""How long addressing takes with a /16 full of claims. Run: python -m tests.bench.addressing"""

from __future__ import annotations

import time

from planner import facts as f
from planner.engine import addressing, ipv4
from tests.factories import TODAY

COUNT = 65_536


def site(address) -> f.SiteFacts:
    devices = tuple(f.Device(id=n, name=f"d{n}", network_id=1, address=address(n)) for n in range(COUNT))
    network = f.Network(id=1, name="big", cidr="10.7.0.0/16", gateway="10.7.0.1")
    return f.SiteFacts(today=TODAY, site=f.Site(id=1), networks=(network,), devices=devices)


def main() -> None:
    start = ipv4.parse("10.7.0.0") or 0
    kinds = {
        "every address once": lambda n: ipv4.to_text(start + n),
        "every second twice": lambda n: ipv4.to_text(start + n // 2),
        "all at one address": lambda n: ipv4.to_text(start + 9),
        "all outside": lambda n: ipv4.to_text(start + COUNT + n),
    }
    for words, address in kinds.items():
        facts = site(address)
        before = time.perf_counter()
        found = addressing.work_out(facts)
        free = found.spans[0].free
        seconds = time.perf_counter() - before
        print(
            f"{words}: {seconds:.2f} s, {len(found.clashes):,} clashes, {len(found.problems):,} problems, {free:,} free"
        )


if __name__ == "__main__":
    main()
