"""The address strip of a network: one cell an address up to a /24, by who claims it; larger ones in 256 parts.

A part of a large network can be drawn by itself, so that every address can be seen without ever drawing more
than 256 cells. Beside it the bar of a network: how much of it is taken, leased and free.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from planner.engine.addresses.addressing import Addressing, NetworkSpan
from planner.engine.addresses.ipv4 import Block
from planner.engine.addresses.roles import ClaimRole
from planner.papers.drawings.shapes import Drawing, Line, Rect, RectLook, Shape, Text, fit, width_of
from planner.plan import Plan
from planner.record import units
from planner.record.facts import Id

WIDTH, LEFT, CELL, TALL, ACROSS = 800, 92, 22, 19, 32
BAR_WIDTH, BAR_TALL = 120, 14
LETTERS = {
    ClaimRole.GATEWAY: "G",
    ClaimRole.HOST: "H",
    ClaimRole.OUT_OF_BAND: "O",
    ClaimRole.APPLIANCE: "A",
    ClaimRole.SERVICE: "E",
    ClaimRole.SERVER: "S",
    ClaimRole.DEVICE: "D",
}
REFERRED = ("?", "pointed at, not recorded")
LEASED: RectLook = {"fill": "paper", "hatch": "edge"}
UNUSABLE: RectLook = {"fill": "desk"}
CLASH: RectLook = {"fill": "paper", "hatch": "stopper", "stroke": "stopper", "stroke_width": 1.4}
CLAIMED: RectLook = {"fill": "line", "opacity": 0.22}


@dataclass
class Cell:
    """One cell: one address, or as many as ``size`` of the strip says."""

    roles: Counter[ClaimRole] = field(default_factory=Counter)
    referred: int = 0
    clashes: int = 0

    @property
    def count(self) -> int:
        return sum(self.roles.values()) + self.referred


@dataclass(frozen=True)
class Strip:
    """What the drawing is made from; addresses as numbers. ``each`` addresses make one cell."""

    network: int
    size: int
    each: int
    usable: tuple[int, int]
    dhcp: tuple[int, int] | None
    cells: dict[int, Cell]

    @property
    def count(self) -> int:
        return max(self.size // self.each, 1)


def draw(plan: Plan, network_id: Id, part: Block | None = None) -> Drawing:
    """The strip of one network, or of a part of it; a sentence while its subnet is not known."""
    addressing = plan.addressing
    span = addressing.span(network_id)
    if span:
        block = span.block
    else:
        block = None
    if span is None or block is None:
        words = "The strip needs the network's subnet (2.1)."
        return Drawing(WIDTH, 30, (Text(0, 20, words, role="soft"),), "Address strip", words)
    if part is not None and block.holds(part):
        part = part
    else:
        part = block
    strip = _strip(addressing, span, part, _usable(block, part))
    shapes = [*_cells(strip), *_grid(strip), *_row_names(strip)]
    rows = -(-strip.count // ACROSS)
    bottom = rows * TALL + 12
    legend, tall = _legend(strip, bottom)
    title = f"Addresses of {span.name}, {part}"
    words = _description(addressing, span, part, strip.usable)
    return Drawing(WIDTH, bottom + tall, (*shapes, *legend), title, words)


def _usable(whole: Block, part: Block) -> tuple[int, int]:
    """The first and the last address of a part that machines may have."""
    return max(part.network, whole.first), min(part.end, whole.last)


def _strip(
    addressing: Addressing, span: NetworkSpan, block: Block, usable: tuple[int, int]
) -> Strip:
    each = max(block.size // 256, 1)
    cells: dict[int, Cell] = {}

    def cell(address: int) -> Cell:
        return cells.setdefault((address - block.network) // each, Cell())

    taken = span.taken[bisect_left(span.taken, block.network) : bisect_right(span.taken, block.end)]
    if each > 1:  # only how many: a /16 full of claims is counted, not gone through claim by claim
        for at, count in Counter((address - block.network) // each for address in taken).items():
            cells[at] = Cell(referred=count)
    else:
        claims = addressing.claims
        low = bisect_left(claims, block.network, key=lambda claim: claim.address)
        high = bisect_right(claims, block.end, key=lambda claim: claim.address)
        for claim in claims[low:high]:
            if not cell(claim.address).count:
                cell(claim.address).roles[claim.role] += 1
        for address in taken:
            if not cell(address).count:
                cell(address).referred += 1
    for clash in addressing.clashes:
        if clash.address in block:
            cell(clash.address).clashes += 1
    if span.dhcp and span.dhcp[0] <= block.end and span.dhcp[1] >= block.network:
        leased = span.dhcp
    else:
        leased = None
    return Strip(block.network, block.size, each, usable, leased, cells)


def _place(at: int) -> tuple[float, float]:
    return LEFT + at % ACROSS * CELL, at // ACROSS * TALL + 1


def _cells(strip: Strip) -> Iterator[Shape]:
    """Runs of leased addresses as one hatched box a row, then the cells somebody claims."""
    first, last = strip.usable
    if strip.dhcp:
        low = max((strip.dhcp[0] - strip.network) // strip.each, 0)
        high = min((strip.dhcp[1] - strip.network) // strip.each, strip.count - 1)
        for row in range(low // ACROSS, high // ACROSS + 1) if low <= high else ():
            start, stop = max(low, row * ACROSS), min(high, row * ACROSS + ACROSS - 1)
            x, y = _place(start)
            yield Rect(x, y, (stop - start + 1) * CELL, TALL, **LEASED)
    if strip.each == 1:
        for at in (0, strip.count - 1):
            if not first <= strip.network + at <= last:
                yield Rect(*_place(at), CELL, TALL, **UNUSABLE)
    for at, cell in sorted(strip.cells.items()):
        yield from _cell(cell, at, strip)


def _cell(cell: Cell, at: int, strip: Strip) -> Iterator[Shape]:
    x, y = _place(at)
    if cell.clashes:
        look = CLASH
    else:
        look = CLAIMED
    yield Rect(x, y, CELL, TALL, "paper")
    yield Rect(x, y, CELL, TALL, **look)
    if cell.clashes:
        letter = "‡"
    elif strip.each > 1:
        if cell.count < 1000:
            letter = str(cell.count)
        else:
            letter = f"{cell.count // 1000}k"
    else:
        letter = next((LETTERS[role] for role in cell.roles), REFERRED[0])
    if cell.clashes:
        yield Rect(x + 6, y + 3, CELL - 12, TALL - 6, "paper")
    yield Text(
        x + CELL / 2, y + 13.5, letter, 12, "stopper" if cell.clashes else "ink", "middle", True
    )


def _grid(strip: Strip) -> Iterator[Shape]:
    full, rest = divmod(strip.count, ACROSS)
    if full:
        across = ACROSS
    else:
        across = rest
    rows = full + bool(rest)
    for row in range(rows + 1):
        if rest and row == rows:
            wide = rest
        else:
            wide = across
        yield Line(LEFT, row * TALL + 1, LEFT + wide * CELL, row * TALL + 1, "edge", 0.8)
    for column in range(across + 1):
        if not rest or column <= rest:
            tall = rows
        else:
            tall = full
        yield Line(LEFT + column * CELL, 1, LEFT + column * CELL, tall * TALL + 1, "edge", 0.8)


def _row_names(strip: Strip) -> Iterator[Shape]:
    for row in range(-(-strip.count // ACROSS)):
        address = strip.network + row * ACROSS * strip.each
        octets = [str(address >> shift & 255) for shift in (24, 16, 8, 0)]
        if row == 0 or strip.each > 1:
            name = ".".join(octets)
        else:
            name = f".{octets[3]}"
        yield Text(LEFT - 8, row * TALL + 14.5, name, 12, "soft", "end")


def _legend(strip: Strip, y: float) -> tuple[list[Shape], float]:
    """Only what is in this strip."""
    roles = {role for cell in strip.cells.values() for role in cell.roles}
    entries: list[tuple[RectLook, str, str]] = []
    if strip.each == 1:
        entries += [
            (CLAIMED, letter, role.words) for role, letter in LETTERS.items() if role in roles
        ]
        if any(cell.referred for cell in strip.cells.values()):
            entries.append((CLAIMED, *REFERRED))
    elif strip.cells:
        entries.append((CLAIMED, "n", f"claims in {units.show(strip.each)} addresses"))
    if any(cell.clashes for cell in strip.cells.values()):
        entries.append((CLASH, "‡", "claimed more than once"))
    if strip.dhcp:
        entries.append((LEASED, "", "DHCP range"))
    if strip.each == 1 and strip.usable != (strip.network, strip.network + strip.size - 1):
        entries.append((UNUSABLE, "", "not for use"))
    entries.append(({"fill": "paper", "stroke": "edge"}, "", "free"))
    shapes: list[Shape] = []
    x: float = LEFT
    line = 0
    for look, letter, words in entries:
        wide = CELL + 7 + width_of(words, 12) + 18
        if x > LEFT and x + wide > WIDTH:
            x, line = LEFT, line + 1
        top = y + line * 24
        edged: RectLook = {"stroke": "edge", "stroke_width": 0.8, **look}
        shapes.append(Rect(x, top, CELL, TALL, **edged))
        if letter == "‡":
            shapes.append(Rect(x + 6, top + 3, CELL - 12, TALL - 6, "paper"))
        shapes.append(
            Text(
                x + CELL / 2,
                top + 13.5,
                letter,
                12,
                "stopper" if letter == "‡" else "ink",
                "middle",
                True,
            )
        )
        shapes.append(
            fit(x + CELL + 7, top + 13.5, words, WIDTH - x - CELL - 7, size=12, role="soft")
        )
        x += wide
    return shapes, (line + 1) * 24


def _description(
    addressing: Addressing, span: NetworkSpan, block: Block, usable: tuple[int, int]
) -> str:
    clashes = [clash for clash in addressing.clashes if clash.address in block]
    low, high = usable
    taken = bisect_right(span.taken, block.end) - bisect_left(span.taken, block.network)
    if span.dhcp:
        leased = max(min(span.dhcp[1], high) - max(span.dhcp[0], low) + 1, 0)
    else:
        leased = 0
    free = sum(max(min(last, high) - max(first, low) + 1, 0) for first, last in span.free_runs)
    told = [f"{units.show(high - low + 1)} usable addresses, {units.show(taken)} taken,"]
    if leased:
        told.append(f"{units.show(leased)} in the DHCP range,")
    told.append(f"{units.show(free)} free.")
    told += [f"{len(clash.claims)} claim {clash.text}." for clash in clashes[:5]]
    if len(clashes) > 5:
        told.append(f"{len(clashes) - 5} more addresses are claimed more than once.")
    return " ".join(told)


def draw_bar(span: NetworkSpan) -> Drawing:
    """How full a network is, as one bar: taken filled, the DHCP range hatched, free empty. Nothing that is there
    is drawn narrower than a hair, so that it is seen."""
    usable, free = span.usable or 0, span.free or 0
    leased = min(span.dhcp_size, usable - free)
    taken = usable - free - leased
    words = f"{units.show(taken)} taken, {units.show(leased)} in the DHCP range, {units.show(free)} free"
    shapes: list[Shape] = []
    x = 0.0
    for count, look in ((taken, {"fill": "line"}), (leased, LEASED)):
        if count and usable:
            wide = max(BAR_WIDTH * count / usable, 1.5)
        else:
            wide = 0.0
        if wide:
            shapes.append(Rect(x, 0, min(wide, BAR_WIDTH - x), BAR_TALL, **look))
        x = min(x + wide, BAR_WIDTH)
    shapes.append(Rect(0.5, 0.5, BAR_WIDTH - 1, BAR_TALL - 1, stroke="edge", stroke_width=1))
    return Drawing(BAR_WIDTH, BAR_TALL, tuple(shapes), f"How full {span.name} is", words)
