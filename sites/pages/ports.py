"""9.2 Ports: the port sheet as the page shows it, looked at from the side that the address asks for."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Mapping, Sequence

from planner.engine.flows.ends import FIREWALL, HOST_FIREWALLS, NOT_KNOWN, End
from planner.engine.flows.gaps import Gap, Gaps, undecided
from planner.engine.flows.port_sheet import Direction, Flow
from planner.engine.flows.views import OUTSIDE, Inbound, Place, Views, grouped
from planner.plan import Plan
from planner.record import chapters
from planner.record.choices import AnswerState
from planner.record.facts import Ref
from planner.stages.confirmed import WHOLE_SHEET, Confirmation
from planner.stages.results import SiteCheck
from sites.forms.numbers import whole
from sites.pages.port_rows import (
    Cell,
    Machine,
    Pair,
    Port,
    Row,
    Rows,
    Seen,
    Shown,
    Where,
    port_words,
    where,
)

VIEWS = {
    "all": "Every line",
    "firewall": "By firewall",
    "machine": "By machine",
    "pairs": "From network to network",
    "desktops": "What desktops let in",
}
NETWORKS_SHOWN = 4
ADDRESSES_SHOWN = 6
WALLS_SHOWN = 4
ROWS_SHOWN = 300
MATRIX_MOST = 40  # networks beyond which a table of pairs is read as a list
AT_ONCE = 8  # firewalls up to which the page shows the lines of each
CALLED = {"outside": OUTSIDE, "unknown": None}


# -- The sheet ---------------------------------------------------------------------------------------


def sheet(plan: Plan, asked: Mapping[str, str]) -> PortSheet:
    """The port sheet from the side that ``?ports=`` names; an unknown one is every line."""
    view = asked.get("ports", "")
    return PortSheet(
        plan, view if view in VIEWS else "all", asked.get("between", ""), asked.get("machine", "")
    )


class PortSheet:
    """What the template asks for; nothing is worked out that it does not show."""

    views = VIEWS

    def __init__(self, plan: Plan, view: str, between: str = "", machine: str = ""):
        self.plan, self.facts, self.view, self.between, self.machine = (
            plan,
            plan.facts,
            view,
            between,
            machine,
        )
        self.flows = plan.flows.flows

    @functools.cached_property
    def sides(self) -> Views:
        return Views(self.facts, self.flows)

    @functools.cached_property
    def _gaps(self) -> list[tuple[Gap, ...]]:
        gaps = Gaps(self.facts)
        return [gaps.of(flow) for flow in self.flows]

    # -- above the table

    @property
    def counts(self) -> dict[str, int]:
        """How many lines pass a firewall, only the hosts' own ones, or nobody knows."""
        found = {"firewall": FIREWALL, "hosts": HOST_FIREWALLS, "unknown": NOT_KNOWN}
        return {
            word: sum(flow.crosses == how for flow in self.flows) for word, how in found.items()
        }

    @property
    def states(self) -> list[tuple[str, int]]:
        """How many lines bear each answer, those of none left out."""
        all_states = [one.state for one in self.plan.confirmed]
        return [(state, all_states.count(state)) for state in AnswerState if state in all_states]

    @property
    def whole_check(self) -> SiteCheck | None:
        """The check that tries the whole sheet."""
        return self.plan.stages.checks.get(WHOLE_SHEET)

    @functools.cached_property
    def missing(self) -> list[tuple[Where, int]]:
        """What is missing, with the number of lines it keeps from being whole; most first."""
        counts: dict[Gap, int] = {}
        for gaps in self._gaps:
            for gap in gaps:
                counts[gap] = counts.get(gap, 0) + 1
        return [(where(gap), counts[gap]) for gap in sorted(counts, key=lambda gap: -counts[gap])]

    @functools.cached_property
    def undecided(self) -> list[Where]:
        return [where(gap) for gap in undecided(self.facts)]

    # -- rows

    @functools.cached_property
    def rows(self) -> Rows:
        return self._rows(range(len(self.flows)))

    def _rows(
        self, numbers: Iterable[int], turned: Callable[[Flow], bool] = lambda flow: False
    ) -> Rows:
        groups = list(grouped((number, self.flows[number]) for number in numbers))
        rows = (self._row(group, turned=turned(group[0][1])) for group in groups[:ROWS_SHOWN])
        return Rows(rows, sum(map(len, groups[ROWS_SHOWN:])))

    def _row(
        self, group: list[tuple[int, Flow]], *, turned: bool = False, on: tuple[str, ...] = ()
    ) -> Row:
        """Lines as one row; ``turned`` tells them from the other end, which may open them as well."""
        flow = group[0][1]
        source, target = (flow.target, flow.source) if turned else (flow.source, flow.target)
        gaps = dict.fromkeys(gap for number, _ in group for gap in self._gaps[number])
        return Row(
            flow,
            self._shown(source),
            self._shown(target),
            tuple(Port(number + 1, port_words(one), one.iana) for number, one in group),
            self._walls(flow),
            tuple(self._seen(group)),
            tuple(map(where, gaps)),
            on,
        )

    def _shown(self, end: End) -> Shown:
        names = [self.facts.named("network", id) for id in end.network_ids]
        networks = _first(names, NETWORKS_SHOWN, ", ", " and {} more networks")
        addresses = _first(end.addresses, ADDRESSES_SHOWN, ", ", " and {} more")
        return Shown(end.label, ": ".join(filter(None, (networks, addresses))))

    def _walls(self, flow: Flow) -> str:
        name = self.sides.place_name
        found = [f"{name(one)} and {name(other)}" for one, other in self.sides.walls(flow)]
        return _first(found, WALLS_SHOWN, "; ", "; {} more")

    def _seen(self, group: list[tuple[int, Flow]]) -> Iterable[Seen]:
        found: dict[Confirmation, list[str]] = {}
        for number, flow in group:
            found.setdefault(self.plan.confirmed[number], []).append(port_words(flow))
        for one, ports in found.items():
            yield Seen(one.state, one.checks, ", ".join(ports) if len(found) > 1 else "")

    # -- by firewall, and from network to network

    @functools.cached_property
    def firewalls(self) -> list[Pair]:
        found = self.sides.firewalls
        chosen = _pair(self.between)
        few = len(found) <= AT_ONCE
        return [
            self._pair(pair, numbers, few or chosen in (pair, pair[::-1]))
            for pair, numbers in found.items()
        ]

    def _pair(self, pair: tuple[Place, Place], numbers: list[int], shown: bool) -> Pair:
        name = self.sides.place_name
        if None in pair:
            between = NOT_KNOWN
        else:
            between = self.sides.between(*pair)
        if shown:
            rows = self._rows(numbers)
        else:
            rows = Rows()
        return Pair(_called(pair), name(pair[0]), name(pair[1]), between, len(numbers), rows)

    @functools.cached_property
    def pair(self) -> Pair | None:
        """The chosen pair of places, with its lines."""
        chosen = _pair(self.between)
        if chosen:
            numbers = self.sides.pairs.get(chosen)
        else:
            numbers = None
        if chosen and numbers:
            return self._pair(chosen, numbers, True)
        return None

    @functools.cached_property
    def pairs(self) -> list[Pair]:
        order = {place: at for at, place in enumerate(self.sides.places)}
        found = sorted(
            self.sides.pairs.items(), key=lambda one: (order[one[0][0]], order[one[0][1]])
        )
        return [self._pair(pair, numbers, False) for pair, numbers in found]

    @functools.cached_property
    def matrix(self) -> list[tuple[str, list[Cell]]]:
        """Who sends (rows) to whom (columns), in the order of ``columns``; empty where it would be too wide."""
        places = self.sides.places
        if len(places) > MATRIX_MOST:
            return []
        return [
            (self.sides.place_name(here), [self._cell(here, there) for there in places])
            for here in places
        ]

    @property
    def columns(self) -> list[str]:
        return [self.sides.place_name(place) for place in self.sides.places]

    def _cell(self, here: Place, there: Place) -> Cell:
        numbers = self.sides.pairs.get((here, there))
        if not numbers:
            return Cell()
        if here is None or there is None:
            between = NOT_KNOWN
        else:
            between = self.sides.between(here, there)
        name = self.sides.place_name
        words = f"{name(here)} to {name(there)}, {'through a firewall' if between == FIREWALL else between}"
        return Cell(len(numbers), _called((here, there)), between == FIREWALL, words)

    # -- by machine

    @functools.cached_property
    def machines(self) -> list[Machine]:
        sides = self.sides.sides.values()
        return [
            Machine(
                one.ref,
                self._label(one.ref),
                "administrators"
                if one.ref.kind == "network"
                else chapters.sections_of(one.ref.kind)[0].one,
                len(one.sends),
                len(one.lets_in),
            )
            for one in sides
        ]

    @functools.cached_property
    def chosen(self) -> Machine | None:
        return next((one for one in self.machines if one.ref.anchor == self.machine), None)

    @property
    def sent(self) -> Rows:
        return self._of_chosen(opens=True)

    @property
    def let_in(self) -> Rows:
        return self._of_chosen(opens=False)

    def _of_chosen(self, *, opens: bool) -> Rows:
        """The chosen machine's lines; one that both sides may open is told from its own side."""
        if self.chosen is None:
            return Rows()
        ref, side = self.chosen.ref, self.sides.sides[self.chosen.ref]

        def turned(flow: Flow) -> bool:
            if opens:
                end = flow.source
            else:
                end = flow.target
            return flow.direction == Direction.BOTH_WAYS and all(
                holder.ref != ref for holder in end.holders
            )

        return self._rows(side.sends if opens else side.lets_in, turned)

    def _label(self, ref: Ref) -> str:
        record = self.facts.find(ref)
        if record:
            return record.label
        return ref.anchor

    # -- what the desktops' own firewall must let in

    @functools.cached_property
    def inbound(self) -> Rows:
        found: dict[tuple, list[Inbound]] = {}
        for one in self.sides.inbound:
            found.setdefault((one.others, one.templates, one.flow.why), []).append(one)
        groups = list(found.values())
        rows = (
            self._row(
                [(n.number, n.flow) for n in group],
                turned=group[0].others is not group[0].flow.source,
                on=group[0].templates,
            )
            for group in groups[:ROWS_SHOWN]
        )
        return Rows(rows, sum(map(len, groups[ROWS_SHOWN:])))


# -- Small parts -------------------------------------------------------------------------------------


def _first(words: Sequence[str], most: int, between: str, rest: str) -> str:
    """The first few words of many; ``rest`` says how many more there are."""
    return between.join(words[:most]) + (
        rest.format(len(words) - most) if len(words) > most else ""
    )


def _called(pair: tuple[Place, Place]) -> str:
    """A pair in an address: ``3-7``, ``outside-3``, ``unknown-7``."""
    words = {place: word for word, place in CALLED.items()}
    return "-".join(words.get(place, str(place)) for place in pair)


def _pair(text: str) -> tuple[Place, Place] | None:
    """The pair that an address names, where it names one."""
    words = text.split("-")
    if len(words) != 2 or not all(word in CALLED or whole(word) for word in words):
        return None
    here, there = (CALLED[word] if word in CALLED else whole(word) for word in words)
    return here, there
