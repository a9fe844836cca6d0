"""The site drawing: networks as lanes, hosts as columns that touch the lanes they have an address in,
what lives in each lane, and the main flows between lanes."""

from __future__ import annotations

from planner.papers.drawings import site_flows, site_lanes
from planner.papers.drawings.shapes import (
    Circle,
    Drawing,
    Line,
    Polygon,
    Rect,
    RectLook,
    Shape,
    Text,
    clean,
    fit,
    width_of,
)
from planner.papers.drawings.site_lanes import Chip, Column, Lane, Look, Site, Touch, counted
from planner.plan import Plan
from planner.record.choices import HostState

WIDTH = 800  # at least
LABELS = 190  # the lanes' names
LANE = 58  # height at least
ROW = 13.5  # a line of small text
FIRST = 12  # from a lane's line to the first mark under it
CHIP, GAP, CHIP_MOST, CHIP_ROWS = 21, 6, 230, 3
TITLE = "Site drawing"


def draw(plan: Plan) -> Drawing:
    """The drawing of a site. It never fails; what nobody knows yet is left out or said to be missing."""
    site = site_lanes.gather(plan)
    if not site.lanes and not site.columns:
        return empty()
    arrows, pairs = site_flows.main(
        plan.flows, {lane.network.id for lane in site.lanes if lane.network}
    )
    if arrows:
        gutter = 20 + len(arrows) * site_flows.TRACK
    else:
        gutter = 0
    room = WIDTH - LABELS - gutter
    if site.columns:
        column = max(84.0, min(150.0, room / len(site.columns)))
    else:
        column = 0
    right = LABELS + max(room, column * len(site.columns))
    head, shapes = _heads(site, column, right)
    lines, lane_shapes, bottom = _lanes(site, column, head, right)
    drops = _drops(site, column, head, lines)
    arrows_at = {
        lane.network.id: y for lane, y in zip(site.lanes, lines, strict=True) if lane.network
    }
    names = {lane.network.id: lane.name for lane in site.lanes if lane.network}
    width = right + gutter
    parts: list[Shape] = [*lane_shapes["under"], *drops, *lane_shapes["over"], *shapes]
    parts += site_flows.draw(arrows, arrows_at, right)
    legend, high = _legend(site, bottom + 14, width)
    told, more = site_flows.key(arrows, pairs, names, bottom + 14 + high + 4, width)
    return Drawing(
        width,
        bottom + 14 + high + 4 + more + 4,
        (*parts, *legend, *told),
        TITLE,
        _description(site, [site_flows.words(arrow, names) for arrow in arrows]),
    )


def empty() -> Drawing:
    """What an empty site shows: where things will stand."""
    shapes: list[Shape] = []
    for at, words in enumerate(("a host", "another host")):
        x = LABELS + 40 + at * 190
        shapes.append(Rect(x, 8, 150, 34, stroke="edge", radius=3, dashed=True))
        shapes.append(Text(x + 75, 29, words, role="soft", anchor="middle"))
        shapes.append(Line(x + 12, 42, x + 12, 174, "edge", 1, True))
        shapes += [Circle(x + 12, y, 4, "edge") for y in (128, 174)]
    for row, words in enumerate(("people's own network", "desktops", "management")):
        y = 82 + row * 46
        shapes.append(Line(LABELS, y, WIDTH, y, "edge", 2, True))
        shapes.append(Text(0, y + 4, words, role="soft"))
    shapes.append(Text(0, 230, "Nothing to draw yet.", 14, bold=True))
    shapes.append(
        Text(
            0,
            250,
            "Networks (2.1) become lanes, hosts (3.1) columns that touch them; people, servers and",
            role="soft",
        )
    )
    shapes.append(
        Text(
            0,
            268,
            "devices stand in their lane, and arrows show what must pass from lane to lane.",
            role="soft",
        )
    )
    told = "Nothing to draw yet: networks become lanes, hosts become columns that touch them."
    return Drawing(WIDTH, 280, tuple(shapes), TITLE, told)


# -- hosts -----------------------------------------------------------------------------------------


def _x(at: int, column: float) -> float:
    """Where a host's column begins."""
    return LABELS + 6 + at * column


def _heads(site: Site, column: float, right: float) -> tuple[float, list[Shape]]:
    """The hosts' boxes with what runs on them; gives where they end."""
    if not site.columns:
        words = "No hosts yet: they will stand here as columns (3.1)."
        return 44, [fit(LABELS + 8, 24, words, right - LABELS - 8, role="soft")]
    tall = 12 + 15 + ROW * max(len(one.lines) for one in site.columns)
    shapes: list[Shape] = []
    for at, one in enumerate(site.columns):
        shapes += _head(one, _x(at, column), column - 10, tall)
    end = 4 + tall
    if site.more_hosts:
        end += 20
        words = f"and {site.more_hosts} more hosts, not drawn"
        shapes.append(fit(LABELS + 6, end - 4, words, right - LABELS - 6, size=12, role="soft"))
    return end, shapes


def _head(one: Column, x: float, wide: float, tall: float) -> list[Shape]:
    absent = one.host.state in (HostState.TO_BUY, HostState.SPARE)
    shapes: list[Shape] = [
        Rect(x, 4, wide, tall, "paper", "ink", 1.4, radius=3, dashed=absent),
        fit(x + 8, 21, one.host.label, wide - 14, bold=True, middle=True),
    ]
    if absent:
        state = HostState.words_of(one.host.state)
    else:
        state = ""
    if state and width_of(one.host.label, bold=True) + width_of(state, 11) < wide - 22:
        shapes.append(Text(x + wide - 7, 21, state, 11, "soft", "end"))
    for at, line in enumerate(one.lines):
        base = 21 + ROW + at * ROW
        if line.look:
            indent = 13
        else:
            indent = 0
        if line.look:
            shapes += _mark(line.look, x + 12, base - 4)
        shapes.append(
            fit(
                x + 8 + indent,
                base,
                line.text,
                wide - 14 - indent,
                size=11,
                role="soft",
                middle=bool(line.look),
            )
        )
    return shapes


def _mark(mark: Look, x: float, y: float) -> list[Shape]:
    """A sign a centimetre from its words: dot, ring, square or screen."""
    match mark:
        case Look.HOST:
            return [Circle(x, y, 4.2, "ink")]
        case Look.BOARD:
            return [Circle(x, y, 3.6, "paper", "ink", 1.5)]
        case Look.APPLIANCE:
            return [Rect(x - 3.8, y - 3.8, 7.6, 7.6, "line")]
        case Look.DESKTOPS:
            return [
                Rect(x - 4.8, y - 3.8, 9.6, 6.4, "paper", "line", 1.4),
                Line(x - 3, y + 4.4, x + 3, y + 4.4, "line", 1.4),
            ]
        case Look.PEOPLE:
            body = Polygon(
                ((x - 4.6, y + 5), (x - 3, y + 0.6), (x + 3, y + 0.6), (x + 4.6, y + 5)), "ink"
            )
            return [Circle(x, y - 2.4, 2.5, "ink"), body]
    return []


def _drops(site: Site, column: float, head: float, lines: list[float]) -> list[Shape]:
    """From each host down to the lowest lane it touches; what it has there stands under the crossing."""
    shapes: list[Shape] = []
    for at, one in enumerate(site.columns):
        x = _x(at, column) + 12
        touched = [
            (y, _shown(lane.touches[one.host.id]))
            for lane, y in zip(site.lanes, lines, strict=True)
            if one.host.id in lane.touches
        ]
        if touched:
            y, touches = touched[-1]
            shapes.append(Line(x, head, x, y + FIRST + ROW * (len(touches) - 1), "soft", 1.2))
        for y, touches in touched:
            shapes.append(Circle(x, y, 3.2, "line"))
            for row, touch in enumerate(touches):
                base = y + FIRST + row * ROW
                shapes += _mark(touch.mark, x, base)
                shapes.append(
                    fit(
                        x + 9,
                        base + 4,
                        touch.text,
                        column - 24,
                        size=11,
                        middle=touch.mark == Look.APPLIANCE,
                    )
                )
    return shapes


def _shown(touches: list[Touch]) -> list[Touch]:
    if len(touches) <= 4:
        return touches
    return [*touches[:3], Touch(Look.PLAIN, f"+{len(touches) - 3} more")]


# -- lanes -----------------------------------------------------------------------------------------


def _lanes(
    site: Site, column: float, top: float, right: float
) -> tuple[list[float], dict[str, list[Shape]], float]:
    """The lanes below each other: where each one's line is, the shapes under and over the drops, the end."""
    under: list[Shape] = []
    over: list[Shape] = []
    lines: list[float] = []
    y = top + 16
    for at, lane in enumerate(site.lanes):
        rows = max((len(_shown(touches)) for touches in lane.touches.values()), default=0)
        chips_at = y + 22 + (rows * ROW if rows else 0)
        chips, chips_end = _chips(lane.chips, LABELS + 8, chips_at, right - LABELS - 14)
        tall = max(LANE, chips_end - y + 8)
        if at % 2 == 0:
            under.append(Rect(0, y, right, tall, "band"))
        under.append(
            Line(
                LABELS,
                y + 12,
                right,
                y + 12,
                "line" if lane.network else "edge",
                2.4,
                not lane.network,
            )
        )
        over += _names(lane, y)
        over += chips
        lines.append(y + 12)
        y += tall
    if site.more_lanes:
        over.append(Text(8, y + 17, f"and {site.more_lanes} more networks, not drawn", 12, "soft"))
        y += 24
    return lines, {"under": under, "over": over}, y


def _names(lane: Lane, y: float) -> list[Shape]:
    shapes: list[Shape] = [fit(8, y + 17, lane.name, LABELS - 16, bold=lane.network is not None)]
    for at, words in enumerate(lane.lines):
        shapes.append(fit(8, y + 33 + at * 15, words, LABELS - 16, size=11.5, role="soft"))
    return shapes


LOOKS: dict[Look, RectLook] = {
    Look.PEOPLE: {"fill": "paper", "stroke": "ink", "radius": 10},
    Look.ENTRY: {"fill": "paper", "stroke": "line", "stroke_width": 2.2, "radius": 3},
    Look.SERVER: {"fill": "paper", "stroke": "ink", "radius": 3},
    Look.APPLIANCE: {"fill": "paper", "stroke": "line", "radius": 3},
    Look.DESKTOPS: {"fill": "paper", "stroke": "line", "radius": 3},
    Look.DEVICE: {"fill": "paper", "stroke": "edge", "radius": 3},
    Look.REST: {"fill": "paper", "radius": 3},
}
MARKED = (Look.PEOPLE, Look.DESKTOPS, Look.APPLIANCE)


def _chips(chips: list[Chip], x: float, y: float, room: float) -> tuple[list[Shape], float]:
    """A lane's chips in rows; those beyond the last row are counted. Gives where they end."""
    shapes: list[Shape] = []
    at, row = x, 0
    for number, chip in enumerate(chips):
        text = clean(chip.text)
        if chip.look in MARKED:
            indent = 16
        else:
            indent = 0
        wide = min(width_of(text, 12) + 15 + indent, CHIP_MOST, room)
        rest = len(chips) - number
        if row == CHIP_ROWS - 1 and rest > 1:
            keep = 80
        else:
            keep = 0
        if at > x and at + wide > x + room - keep:
            if row == CHIP_ROWS - 1:
                shapes.append(
                    Text(at + 4, y + row * (CHIP + GAP) + 15, f"+{rest} more", 12, "soft")
                )
                break
            at, row = x, row + 1
        shapes += _chip(chip, text, at, y + row * (CHIP + GAP), wide, indent)
        at += wide + GAP
    return shapes, y + (row + 1) * (CHIP + GAP) - GAP if chips else y


def _chip(chip: Chip, text: str, x: float, y: float, wide: float, indent: float) -> list[Shape]:
    return [
        Rect(x, y, wide, CHIP, **LOOKS[chip.look]),
        *(_mark(chip.look, x + 13, y + 10.5) if indent else ()),
        fit(x + 8 + indent, y + 15, text, wide - 13 - indent, size=12),
    ]


# -- words -----------------------------------------------------------------------------------------

SIGNS = (Look.HOST, Look.BOARD, Look.APPLIANCE, Look.DESKTOPS, Look.PEOPLE)


def _legend(site: Site, y: float, width: float) -> tuple[list[Shape], float]:
    """The signs that are in the picture, with their meaning."""
    used = {chip.look for lane in site.lanes for chip in lane.chips}
    used |= {
        touch.mark for lane in site.lanes for touches in lane.touches.values() for touch in touches
    }
    used |= {line.look for column in site.columns for line in column.lines}
    shapes: list[Shape] = []
    x: float = 0
    for sign in SIGNS:
        if sign in used and x + 24 + width_of(sign.words, 12) < width:
            shapes += _mark(sign, x + 8, y + 8)
            shapes.append(Text(x + 18, y + 12, sign.words, 12, "soft"))
            x += 18 + width_of(sign.words, 12) + 20
    return shapes, 22 if shapes else 0


def _description(site: Site, flows: list[str]) -> str:
    """The drawing in words: what stands in each lane, and what passes between them."""
    networks = sum(lane.network is not None for lane in site.lanes) + site.more_lanes
    hosts = len(site.columns) + site.more_hosts
    told = [f"{counted(networks, 'network')} and {counted(hosts, 'host')}."]
    for lane in site.lanes[:12]:
        here = [chip.text for chip in lane.chips[:4]]
        if len(lane.chips) > 4:
            here.append(f"{len(lane.chips) - 4} more")
        if lane.touches:
            here.append(counted(len(lane.touches), "host"))
        told.append(f"{lane.name}: {', '.join(here) or 'nothing recorded'}.")
    if len(site.lanes) > 12:
        told.append(f"{len(site.lanes) - 12} more lanes.")
    return " ".join([*told, *(f"{words}." for words in flows)])
