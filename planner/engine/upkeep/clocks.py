"""Clocks: who takes the time from whom, and where each chain ends.

Hosts and the directory say what their time source is. A directory server follows the directory; what
another machine follows is not in the facts, so a chain that reaches one ends there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers
from planner.engine.flows.ends import Ends, Group
from planner.engine.placement.capacity import counting_hosts, positive
from planner.record.choices import Choice, ServerRole
from planner.record.facts import Appliance, Host, Record, Ref, Server, Service, SiteFacts

SOURCES_KEPT = 8  # of one text; nobody lists more
_PARTS = re.compile(r"[,;\s]+")
_NAME = re.compile(r"[\w.:-]*[.:0-9][\w.:-]*")  # an address, or a name with a dot or a digit in it


class SourceKind(Choice):
    HOST = "host"
    SERVER = "server"
    DEVICE = "device"  # any other machine of the plan
    GATEWAY = "gateway"  # of a network
    DIRECTORY = "directory"
    OWN = "own"  # the directory's own server, named as its source
    UNLISTED = "unlisted"  # an address in a network of the site, or a name in its domain, that no record has
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class Source:
    """What a text about a time source names.

    ``ref`` points at the record, if there is one. Only a host
    and the directory lead on to a further source.
    """

    kind: SourceKind
    label: str
    ref: Ref | None = None
    timekeeper: bool = True  # False for a server that does not answer for time


@dataclass(frozen=True, slots=True)
class Taker:
    """A host or the directory: what it takes its time from, and the sources where all its chains end.

    ``roots`` is empty when nobody knows, or when the chains go round. ``loop`` then names the machines
    on the way round.
    """

    ref: Ref
    label: str
    text: str
    sources: tuple[Source, ...]
    roots: tuple[Source, ...]
    loop: tuple[str, ...] = ()

    @property
    def known(self) -> bool:
        return bool(self.sources)


@dataclass(frozen=True, slots=True)
class Clocks:
    """``takers`` are the directory (in a domain) and every counting host. ``usual`` is the taker that the others
    are held against: the directory, else the one most hosts agree with.

    ``apart`` share no root with it. ``one_root`` says whether all do share one; ``None`` while somebody's
    source is not known. ``drift_days`` is how long until a clock that nobody corrects is out of tolerance.
    """

    takers: tuple[Taker, ...]
    usual: Taker | None
    apart: tuple[Taker, ...]
    one_root: bool | None
    tolerance_minutes: float
    drift_days: float | None

    def of(self, ref: Ref) -> Taker | None:
        return next((taker for taker in self.takers if taker.ref == ref.at("time_source")), None)


def drift_days(minutes: float, parts_per_million: float) -> float | None:
    """Days until a clock that is fast or slow by ``parts_per_million`` is ``minutes`` out; ``None`` without both."""
    if positive(parts_per_million) is None or positive(minutes) is None:
        return None
    return minutes * 60 / (parts_per_million * 1e-6) / 86400


def work_out(facts: SiteFacts, numbers: Numbers) -> Clocks:
    """Every chain of the site's clocks.

    Source: RFC 4120 §8.2 for the five minutes between any two of them.
    """
    chains = _Chains(facts)
    takers = tuple(chains.takers())
    usual = next((taker for taker in takers if taker.ref.kind == "directory" and taker.roots), None)
    usual = usual or _usual(takers)
    apart = tuple(t for t in takers if usual and t.roots and not set(t.roots) & set(usual.roots))
    whole = bool(takers) and all(taker.roots for taker in takers)
    tolerance = numbers["clock.tolerance-minutes"]
    return Clocks(
        takers=takers,
        usual=usual,
        apart=apart,
        one_root=not apart if whole else None,
        tolerance_minutes=tolerance,
        drift_days=drift_days(tolerance, numbers["clock.drift-ppm"]),
    )


def _usual(takers: tuple[Taker, ...]) -> Taker | None:
    """The taker whose roots most others have too; of several roots the first by name."""
    counts: dict[tuple[Source, ...], int] = {}
    for taker in takers:
        if taker.roots:
            counts[taker.roots] = counts.get(taker.roots, 0) + 1

    def place(roots: tuple[Source, ...]) -> tuple[int, list[str]]:
        return -counts[roots], [source.label for source in roots]

    most = min(counts, key=place, default=None)
    return next((taker for taker in takers if taker.roots == most), None)


class _Chains:
    """The site's clocks as a graph: a key for each host and for the directory leads to its sources."""

    def __init__(self, facts: SiteFacts):
        self.facts, self.ends = facts, Ends(facts)
        self.domain = (
            facts.directory.domain.strip().casefold().strip(".") if self.ends.in_a_domain else ""
        )
        self.others = {name: source for name, source in _others(facts) if name}
        self.texts: dict[Ref, str] = {host.ref: host.time_source for host in facts.hosts}
        if self.ends.in_a_domain:
            self.texts[facts.directory.ref] = facts.directory.time_source
        self.sources = {ref: tuple(self._named(ref, text)) for ref, text in self.texts.items()}
        self.next = {
            ref: list(filter(None, map(self._leads_to, found)))
            for ref, found in self.sources.items()
        }
        self.roots = self._roots()
        self.round = self._rounds()

    def takers(self) -> Iterator[Taker]:
        directory = self.facts.directory
        if directory.ref in self.texts:
            yield self._taker(directory)
        for host in counting_hosts(self.facts):
            yield self._taker(host)

    def _taker(self, record: Record) -> Taker:
        ref = record.ref
        roots = tuple(sorted(self.roots[ref], key=lambda source: (source.kind, source.label)))
        return Taker(
            ref=ref.at("time_source"),
            label=record.label,
            text=self.texts[ref].strip(),
            sources=self.sources[ref],
            roots=roots,
            loop=() if roots else self.round.get(ref, ()),
        )

    # -- what a text names ------------------------------------------------------------------------

    def _named(self, ref: Ref, text: str) -> Iterator[Source]:
        whole = text.strip()
        parts = [part for part in _PARTS.split(whole, SOURCES_KEPT)[:SOURCES_KEPT] if part]
        several = len(parts) > 1 and all(self._looks_like_one(part) for part in parts)
        for part in parts if several else [whole] if whole else []:
            yield self._source(ref, part)

    def _looks_like_one(self, part: str) -> bool:
        return (
            _NAME.fullmatch(part) is not None or self.ends.called(Group.NONE, part).ref is not None
        )

    def _source(self, ref: Ref, text: str) -> Source:
        name = text.casefold().removesuffix(".")
        if self.domain and name == self.domain:
            return self._of_the_directory(ref, self.facts.directory.label)
        held = self.ends.called(Group.NONE, text)
        if held.ref:
            record = self.facts.find(held.ref)
        else:
            record = None
        if isinstance(record, Server):
            if ServerRole.DIRECTORY in record.roles and self.ends.in_a_domain:
                return self._of_the_directory(ref, record.label)
            return Source(
                SourceKind.SERVER, record.label, record.ref, ServerRole.TIME in record.roles
            )
        if record is not None:
            if isinstance(record, Host):
                kind = SourceKind.HOST
            else:
                kind = SourceKind.DEVICE
            return Source(kind, record.label, record.ref)
        if name in self.others:
            return self.others[name]
        inside = held.network_id is not None or (self.domain and name.endswith(f".{self.domain}"))
        return Source(SourceKind.UNLISTED if inside else SourceKind.OUTSIDE, name)

    def _of_the_directory(self, ref: Ref, label: str) -> Source:
        """A directory server: whoever asks it asks the directory. A directory that asks one has no other clock."""
        if ref.kind == "directory":
            return Source(SourceKind.OWN, label, ref.at("time_source"))
        return Source(SourceKind.DIRECTORY, label, self.facts.directory.ref)

    def _leads_to(self, source: Source) -> Ref | None:
        if source.kind in (SourceKind.HOST, SourceKind.DIRECTORY) and source.ref in self.texts:
            return source.ref
        return None

    # -- where the chains end ---------------------------------------------------------------------

    def _roots(self) -> dict[Ref, set[Source]]:
        """The ends that each clock reaches: from every end backwards to all that follow it."""
        followers: dict[Ref, list[Ref]] = {}
        ends: dict[Source, list[Ref]] = {}
        for ref, sources in self.sources.items():
            for source in sources:
                onward = self._leads_to(source)
                if onward is None:
                    ends.setdefault(source, []).append(ref)
                else:
                    followers.setdefault(onward, []).append(ref)
        found: dict[Ref, set[Source]] = {ref: set() for ref in self.texts}
        for root, waiting in ends.items():
            waiting = list(waiting)
            while waiting:
                ref = waiting.pop()
                if root not in found[ref]:
                    found[ref].add(root)
                    waiting += followers.get(ref, ())
        return found

    def _rounds(self) -> dict[Ref, tuple[str, ...]]:
        """For each clock that lies on a way round, the labels along it, the first once more at the end."""
        found: dict[Ref, tuple[str, ...]] = {}
        seen: set[Ref] = set()
        for start in self.texts:
            path: list[Ref] = []
            at: Ref | None = start
            while at is not None and at not in seen:
                seen.add(at)
                path.append(at)
                at = next(iter(self.next[at]), None)
            if at in path:
                circle = path[path.index(at) :]
                names = [self._label(ref) for ref in circle]
                for place, ref in enumerate(circle):
                    found[ref] = (*names[place:], *names[: place + 1])
        return found

    def _label(self, ref: Ref) -> str:
        record = self.facts.find(ref)
        if record:
            return record.label
        return ""


def _others(facts: SiteFacts) -> Iterator[tuple[str, Source]]:
    """Addresses and names that point at a machine of the plan, beyond servers, hosts and devices."""
    for network in facts.networks:
        yield (
            network.gateway.strip(),
            Source(SourceKind.GATEWAY, network.gateway.strip(), network.ref.at("gateway")),
        )
    machines: list[Appliance | Service] = [*facts.appliances, facts.service]
    for record in machines:
        for text in (record.name, record.address):
            yield text.strip().casefold(), Source(SourceKind.DEVICE, record.label, record.ref)
