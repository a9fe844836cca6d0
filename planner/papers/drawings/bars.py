"""What each host carries, with every host up and with each one down: a bar a host, in GiB of memory."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from planner.catalogue.sections import section
from planner.engine.placement.loads import HostLoad
from planner.engine.placement.placing import HostDown
from planner.papers.drawings.shapes import Drawing, Line, Rect, RectLook, Shape, Text, fit, key
from planner.plan import Plan
from planner.record import units

WIDTH, LEFT, LONGEST = 800, 152, 560  # of the drawing; where bars begin; where the longest ends
ROW, BAR = 38, 22
MOST = 24  # hosts that get a bar; the rest are in the table
OWN: RectLook = {"fill": "soft", "opacity": 0.45, "stroke": "edge"}
DESKTOPS: RectLook = {"fill": "line"}
FREE: RectLook = {"fill": "paper", "stroke": "ink", "stroke_width": 1.2}
OVER: RectLook = {"fill": "paper", "stroke": "stopper", "stroke_width": 1.4, "hatch": "stopper"}


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar, in GiB: ``own`` is the hypervisor's and the appliances', ``short`` what would not fit."""

    name: str
    under: str
    memory: float
    own: float
    desktops: float
    short: float
    words: str
    bad: bool = False


def draw(plan: Plan) -> Drawing:
    """Bars of the placement; says what is missing while there is none."""
    placement = plan.placement
    up = [_up(load) for load in placement.hosts]
    if not up:
        return _unknown(placement.missing)
    left_out = placement.left_out
    if left_out:
        words = f"‡ {units.show(left_out)} desktops fit on no host"
        up = [*up[:MOST], Bar("left out", "", 0, 0, 0, placement.short_gib, words, True)]
    down = [_down(one) for one in placement.without if one.loads]
    shapes, y = _section(up[: MOST + 1], 0, "memory, GiB")
    hidden = max(len(placement.hosts) - MOST, 0)
    if down:
        shapes.append(Line(0, y + 6, WIDTH, y + 6, "rule"))
        more, y = _section(down[:MOST], y + 14, "one host down")
        shapes += more
    if hidden:
        shapes.append(Text(LEFT, y + 14, f"and {hidden} more hosts, in the table", 12, "soft"))
        y += 22
    legend, tall = _legend(y + 8, bool(left_out) or any(bar.short for bar in down))
    return Drawing(
        WIDTH, y + 8 + tall, (*shapes, *legend), section("carries").title, _description(up, down)
    )


def _up(load: HostLoad) -> Bar:
    if load.memory_gib is None:
        return Bar(load.name, "", 0, 0, 0, 0, "memory not known")
    own = (load.own_gib or 0) + (load.appliance_gib or 0)
    count = sum(load.desktops.values())
    words = f"{_desktops(count)}, {units.show(load.used_gib, 0)} of {units.show(load.offers_gib, 0)} used"
    return Bar(load.name, "", load.memory_gib, own, load.used_gib or 0, 0, words)


def _down(one: HostDown) -> Bar:
    """A host down: the others' memory together. That all would fit together does not mean that each fits."""
    loads = [load for load in one.loads if load.memory_gib is not None]
    total = {
        name: sum(getattr(load, name) or 0 for load in loads)
        for name in ("memory_gib", "own_gib", "appliance_gib", "used_gib")
    }
    if len(loads) == 1:
        under = f"all on {loads[0].name}"
    else:
        under = f"on the other {len(loads)}"
    if one.left_out:
        if one.proved:
            at_least = ""
        else:
            at_least = "up to "
        words = f"‡ {at_least}{units.show(one.left_out)} left out"
    elif one.fits is None:
        words = "not known whether all fit"
    else:
        words = f"all fit, {_desktops(sum(sum(load.desktops.values()) for load in loads))}"
    own = total["own_gib"] + total["appliance_gib"]
    return Bar(
        f"{one.name} down",
        under,
        total["memory_gib"],
        own,
        total["used_gib"],
        one.short_gib,
        words,
        bool(one.left_out),
    )


def _desktops(count: int) -> str:
    return f"{units.show(count)} desktop{'' if count == 1 else 's'}"


def _section(bars: list[Bar], y: float, heading: str) -> tuple[list[Shape], float]:
    """Bars of one scale under their axis; gives where they end."""
    longest = max(
        (bar.memory + min(bar.short, 0.6 * bar.memory or bar.short) for bar in bars), default=0
    )
    longest = max(longest, 1.0)  # a bar for less than a GiB says nothing
    scale = (LONGEST - LEFT) / longest
    shapes: list[Shape] = [Text(0, y + 14, heading, 12, "soft")]
    for tick in _ticks(longest):
        x = LEFT + tick * scale
        shapes.append(
            Text(x, y + 14, units.show(tick, 0), 12, "soft", "start" if tick == 0 else "middle")
        )
        shapes.append(Line(x, y + 19, x, y + 24, "edge"))
    for at, bar in enumerate(bars):
        shapes += _bar(bar, y + 26 + at * ROW, scale)
    return shapes, y + 26 + len(bars) * ROW - (ROW - BAR) + 8


def _ticks(longest: float) -> Iterable[float]:
    """Three or so round marks; memory is bought in multiples of eight."""
    step = 8.0
    while longest / step > 4:
        step *= 2
    while step > 1 and longest / step < 2:
        step /= 2
    return [at * step for at in range(int(longest / step) + 1)]


def _bar(bar: Bar, y: float, scale: float) -> list[Shape]:
    end = LEFT + bar.memory * scale
    own = min(bar.own, bar.memory) * scale
    used = min(bar.desktops * scale, end - LEFT - own)
    shapes: list[Shape] = [
        fit(0, y + (11 if bar.under else 16), bar.name, LEFT - 12, bold=True, middle=True)
    ]
    if bar.under:
        shapes.append(fit(0, y + 25, bar.under, LEFT - 12, size=12, role="soft", middle=True))
    if bar.memory:
        shapes.append(Rect(LEFT, y, end - LEFT, BAR, **FREE))
        shapes.append(Rect(LEFT, y, own, BAR, **OWN))
        shapes.append(Rect(LEFT + own, y, used, BAR, **DESKTOPS))
    if bar.short:
        over = min(bar.short * scale, LONGEST - end)
        shapes.append(Rect(end, y, over, BAR, **OVER))
        if bar.memory:
            shapes.append(Line(end, y - 5, end, y + BAR + 5, "stopper", 2.2))
        end += over
    if bar.bad:
        role = "stopper"
    else:
        role = "ink"
    room = WIDTH - end - 12
    shapes.append(fit(end + 12, y + 16, bar.words, room, role=role, bold=bar.bad))
    return shapes


def _legend(y: float, short: bool) -> tuple[list[Shape], float]:
    entries: list[tuple[RectLook, str]] = [
        (OWN, "hypervisor and appliances"),
        (DESKTOPS, "desktops"),
        (FREE, "free"),
    ]
    if short:
        entries.append((OVER, "would not fit"))
    return key(LEFT, y, entries, WIDTH - LEFT)


def _unknown(missing: Iterable[str]) -> Drawing:
    """What must be known before anything can be placed."""
    words = [line for line, _ in zip(missing, range(5), strict=False)]
    shapes: list[Shape] = [Text(0, 20, "Nothing is placed yet.", 14, bold=True)]
    reasons = words or ["Hosts with their memory (3.1) and templates with theirs (7.1) are needed."]
    shapes += [fit(0, 42 + at * 19, line, WIDTH, role="soft") for at, line in enumerate(reasons)]
    return Drawing(
        WIDTH,
        42 + len(reasons) * 19,
        tuple(shapes),
        section("carries").title,
        " ".join(["Nothing is placed yet.", *reasons]),
    )


def _description(up: list[Bar], down: list[Bar]) -> str:
    told = [f"{bar.name}: {bar.words}." for bar in up[: MOST + 1]]
    told += [f"{bar.name}, {bar.under}: {bar.words}." for bar in down[:MOST]]
    return " ".join(told).replace("‡ ", "")
