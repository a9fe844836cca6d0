"""How long addressing takes with a /16 full of claims, and section 9.1 that shows it.
Run: python -m tests.bench.addressing

The section is measured from a plan whose addresses are worked out already (that is the first part): its rows,
its drawings and its HTML, without database and without the rest of the page; the quickest of five, and the first
of them, which also lays out what is missing and finds the free runs. Yardstick: the same section of a /24 with
forty claims.
"""

from __future__ import annotations

import os
import tempfile
import time
from types import SimpleNamespace

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")
os.environ.setdefault("DESKWRIGHT_DEMO", "yes")
os.environ.setdefault("DESKWRIGHT_DATA", tempfile.mkdtemp())

import django

django.setup()

from django.http import QueryDict
from django.template.loader import render_to_string

from planner.engine.addresses import addressing, ipv4
from planner.plan import Plan
from planner.record import facts as f
from sites.pages import addresses
from tests.factories import TODAY

COUNT = 65_536
SITE = SimpleNamespace(customer=SimpleNamespace(code="larkfield"), code="mill")
ASKED = {
    "the whole network": "",
    "one part of it": "part=10.7.40.0",
    "a search by name": "q=d4096",
    "a search by MAC": "q=00:00:5e:00:53:01",
}


def site(
    address, count: int = COUNT, cidr: str = "10.7.0.0/16", given: int | None = None
) -> f.SiteFacts:
    devices = tuple(
        f.Device(
            id=n,
            name=f"d{n}",
            network_id=1,
            address=address(n) if given is None or n < given else "",
        )
        for n in range(count)
    )
    network = f.Network(id=1, name="big", cidr=cidr, gateway="10.7.0.1")
    return f.SiteFacts(today=TODAY, site=f.Site(id=1), networks=(network,), devices=devices)


def section(plan: Plan, asked: str) -> tuple[list[float], list[float], str]:
    """Seconds to make section 9.1 ready and to write it, five times, and what was written."""
    ready: list[float] = []
    written: list[float] = []
    html = ""
    for _ in range(5):
        start = time.perf_counter()
        context = addresses.part_of(plan, QueryDict(asked))
        between = time.perf_counter()
        html = render_to_string(
            "addresses/_addresses.html",
            {**context, "site": SITE, "plan": plan, "access": SimpleNamespace(may_edit=True)},
        )
        ready.append(between - start)
        written.append(time.perf_counter() - between)
    return ready, written, html


def show(words: str, plan: Plan, asked: str, yardstick: float) -> float:
    each_ready, each_written, html = section(plan, asked)
    ready, written, first = min(each_ready), min(each_written), each_ready[0] + each_written[0]
    total = ready + written
    rows, shapes = html.count("<tr"), html.count("<rect") + html.count("<line")
    times = f", {total / yardstick:.1f} × the yardstick" if yardstick else ""
    print(
        f"{words}: {total * 1000:.0f} ms ({ready * 1000:.0f} to make ready, {written * 1000:.0f} to write){times}; "
        f"the first time {first * 1000:.0f} ms; "
        f"{len(html) / 1000:.0f} kB, {rows} rows, {shapes} shapes"
    )
    return total


def main() -> None:
    start = ipv4.parse("10.7.0.0") or 0
    kinds = {
        "every address once": lambda n: ipv4.to_text(start + n),
        "every second twice": lambda n: ipv4.to_text(start + n // 2),
        "all at one address": lambda n: ipv4.to_text(start + 9),
        "all outside": lambda n: ipv4.to_text(start + COUNT + n),
    }
    small = Plan(site(kinds["every address once"], 40, "10.7.0.0/24"))
    plans = {}
    for words, address in kinds.items():
        facts = site(address)
        before = time.perf_counter()
        found = addressing.work_out(facts)
        free = found.spans[0].free
        seconds = time.perf_counter() - before
        print(
            f"{words}: {seconds:.2f} s, {len(found.clashes):,} clashes, {len(found.problems):,} problems, {free:,} free"
        )
        plans[words] = Plan(facts)
        plans[words].addressing  # noqa: B018  (worked out above)
    print("\nSection 9.1")
    yardstick = show("a /24 with 40 claims (yardstick)", small, "", 0)
    show(
        "a /16 with 300 claims",
        Plan(site(lambda n: ipv4.to_text(start + n * 211), 300)),
        "",
        yardstick,
    )
    for words, plan in plans.items():
        for what, asked in ASKED.items():
            show(f"a /16, {words}, {what}", plan, f"network=1&{asked}", yardstick)
    waiting = site(kinds["every address once"], 20_000, given=0)
    before = time.perf_counter()
    laid = Plan(waiting).layout
    print(
        f"\n20,000 missing addresses laid out: {time.perf_counter() - before:.2f} s, {len(laid.proposals):,} given"
    )


if __name__ == "__main__":
    main()
