"""What the port sheet's tables show: the rows, the cells, and the small words in them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from planner.engine.flows.ends import UNKNOWN
from planner.engine.flows.gaps import Gap
from planner.engine.flows.port_sheet import Direction, Flow
from planner.record import chapters
from planner.record.choices import Transport
from planner.record.facts import Ref
from planner.stages.results import SiteCheck
from sites.pages import links as places


@dataclass(frozen=True)
class Where:
    """Something missing, and where it would be written."""

    words: str
    place: places.Place


@dataclass(frozen=True)
class Shown:
    """One end of a line: what it is, and ``under`` that its networks and its first addresses, as words."""

    label: str
    under: str


@dataclass(frozen=True)
class Port:
    """One line of the sheet: ``number`` is its number there too, ``words`` its port and protocol, ``iana`` the
    registered name of that port or ""."""

    number: int
    words: str
    iana: str


@dataclass(frozen=True)
class Seen:
    """One answer's state, with the checks it rests on, and which of the row's ports it is about ("" for all)."""

    state: str
    checks: tuple[SiteCheck, ...]
    ports: str = ""


@dataclass(frozen=True)
class Row:
    """Lines of the sheet that differ in their ports alone. ``walls`` are words too: the networks that firewalls
    stand between; ``on`` are the desktops that let the lines in."""

    flow: Flow
    source: Shown
    target: Shown
    ports: tuple[Port, ...]
    walls: str
    seen: tuple[Seen, ...]
    gaps: tuple[Where, ...]
    on: tuple[str, ...] = ()

    @property
    def both(self) -> bool:
        return self.flow.direction == Direction.BOTH_WAYS


class Rows(list[Row]):
    """Rows as the page shows them; ``left`` counts the lines that only the sheet has."""

    def __init__(self, rows: Iterable[Row] = (), left: int = 0):
        super().__init__(rows)
        self.left = left


@dataclass(frozen=True)
class Cell:
    """A place of the matrix: how many lines, and whether they pass a firewall."""

    count: int = 0
    asked: str = ""
    wall: bool = False
    words: str = ""


@dataclass(frozen=True)
class Pair:
    """Two places and their lines; ``rows`` only where they are shown."""

    asked: str
    source: str
    target: str
    between: str
    count: int
    rows: Rows


@dataclass(frozen=True)
class Machine:
    ref: Ref
    label: str
    what: str
    sends: int
    lets_in: int


def port_words(flow: Flow) -> str:
    """``443/TCP``, ``ICMP``, ``port not known yet``."""
    transport = Transport.words_of(flow.transport)
    if flow.ports == UNKNOWN:
        if transport:
            return f"port not known yet/{transport}"
        return "port not known yet"
    return "/".join(filter(None, (flow.ports, transport or "protocol not known yet")))


def where(gap: Gap) -> Where:
    """A gap with the place where it is filled."""
    found = places.of_ref(gap.at)
    return Where(
        gap.words, found or places.of_section(chapters.BY_SECTION[gap.section or "networks"])
    )
