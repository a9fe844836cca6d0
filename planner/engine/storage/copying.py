"""Copying: how long an image takes from the host that has it to all others.

Decisions where the facts leave room
- The image is saved on the host of the first appliance, else on the first host that counts, and is
  copied from there to every other host that counts.
- A copy goes over the hosts' own networks; every host has a port of the network's link rate, which
  sends and receives at that rate at the same time. Switches between them are not the narrowest part.
- Where a host keeps its desktops on a shared datastore, the copy goes over the storage network as
  well, if there is one whose rate is known. Two hosts on one shared datastore leave the other line
  alone: the receiving host reads and writes there.
- A datastore's throughput is what it reads and writes together. Where it is not known it does not
  bind, and ``unchecked`` says so.
- When all are copied at once, they share what they have in common evenly: then the part with most to
  carry, at its own rate, is busy to the end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers
from planner.engine.placement.capacity import counting_hosts, known, positive
from planner.engine.storage.datastores import Storage
from planner.record import units
from planner.record.choices import NetworkPurpose, Sharing
from planner.record.facts import Datastore, Host, Id, Network, Ref, SiteFacts

HEADERS = 20 + 20  # IPv4 and TCP without options. Source: RFC 791 section 3.1, RFC 9293 section 3.1
# preamble and start delimiter, addresses and type, check sequence, gap.
# Source: IEEE 802.3-2022 clauses 3 and 4 (as quoted in code)
FRAMING = 8 + 14 + 4 + 12
LEAST_MTU, MOST_MTU = 68, 65_535  # Source: RFC 791 sections 3.1 and 3.2


def efficiency(mtu: float | None, option_bytes: float = 0) -> float | None:
    """Share of a line's bits that are the file's own, with full TCP packets: (MTU − 40 − options) / (MTU + 38).

    ``mtu`` in bytes, ``option_bytes`` of TCP options in each packet (12 with timestamps, RFC 7323
    appendix A). ``None`` when the MTU cannot be one. A VLAN tag takes 4 bytes more, and acknowledgements go
    the other way: neither is counted. Source: IEEE 802.3 (38 bytes around each packet), RFC 791, RFC 9293.
    """
    if mtu is None or not LEAST_MTU <= mtu <= MOST_MTU or not 0 <= option_bytes < mtu - HEADERS:
        return None
    return (mtu - HEADERS - option_bytes) / (mtu + FRAMING)


def line_seconds(
    gib: float, mbit_s: float | None, mtu: float | None, option_bytes: float = 0
) -> float | None:
    """Seconds ``gib`` (2³⁰ bytes each) take over a line of ``mbit_s`` (10⁶ bits a second): 1 GiB over
    1 Gbit/s at an MTU of 1500 takes 9.05 s. ``None`` when rate or MTU is not known."""
    share, rate = efficiency(mtu, option_bytes), positive(mbit_s)
    if share is None or rate is None:
        return None
    return gib * units.GIB * 8 / (rate * 1e6 * share)


@dataclass(frozen=True, slots=True)
class Part:
    """Something a copy goes through: a host's line or a datastore. ``seconds`` for one GiB of one copy."""

    key: tuple[str, Id]
    words: str
    at: Ref
    seconds: float


@dataclass(frozen=True, slots=True)
class Lines:
    """How fast images go round, in seconds for each GiB of an image; ``None`` where ``missing`` says why.

    ``targets`` hosts get a copy. ``saving`` is one copy made on the source's own datastore; ``longest``
    is the slowest host's copy alone, ``in_turn`` all of them one after another, ``at_once`` all of them
    together. ``binds`` says what sets the pace when all are copied at once, ``binds_in_turn`` what does
    for most of the time otherwise; ``at`` is where somebody would change the former.
    """

    source_id: Id | None = None
    targets: int = 0
    saving: float | None = None
    longest: float | None = None
    in_turn: float | None = None
    at_once: float | None = None
    binds: str = ""
    binds_in_turn: str = ""
    at: Ref | None = None
    missing: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()


def lines(facts: SiteFacts, numbers: Numbers, storage: Storage) -> Lines:
    """What every copy of an image goes through at this site. Never raises; one pass over the hosts."""
    hosts = counting_hosts(facts)
    if not hosts:
        return Lines(missing=("no host that counts is named",))
    bearing = {appliance.host_id for appliance in facts.appliances[:1]}
    source = next((host for host in hosts if host.id in bearing), hosts[0])
    ways = _Ways(facts, numbers, storage)
    targets = [host for host in hosts if host is not source]
    walked = [list(ways.between(source, target)) for target in targets]
    home = ways.stores.get(ways.homes.get(source.id))
    if home is not None:
        rate = positive(home.throughput_mb_s)
    else:
        rate = None
    saving = (
        None if rate is None else 2 * units.GIB / (rate * 1e6)
    )  # read and written at the same place
    fixed = (source.id, len(targets), saving)
    if ways.missing:
        return Lines(*fixed, missing=tuple(ways.missing), unchecked=tuple(ways.unchecked))
    slowest = [max(parts, key=lambda part: part.seconds) for parts in walked]
    carried: dict[tuple[str, Id], list[Part]] = {}
    for parts in walked:
        for part in parts:
            carried.setdefault(part.key, []).append(part)
    turns: dict[str, float] = {}
    for part in slowest:
        turns[part.words] = turns.get(part.words, 0.0) + part.seconds
    busiest = max(carried.values(), key=_total, default=[])
    return Lines(
        *fixed,
        longest=max((part.seconds for part in slowest), default=0.0),
        in_turn=_total(slowest),
        at_once=_total(busiest),
        binds=busiest[0].words if busiest else "",
        binds_in_turn=max(turns, key=lambda words: turns[words], default=""),
        at=busiest[0].at if busiest else None,
        unchecked=tuple(ways.unchecked),
    )


def _total(parts: list[Part]) -> float:
    return sum(part.seconds for part in parts)


class _Ways:
    """What lies between two hosts; gathers what is missing on the way."""

    def __init__(self, facts: SiteFacts, numbers: Numbers, storage: Storage):
        self.networks = {network.id: network for network in facts.networks}
        self.stores: dict[Id | None, Datastore] = {store.id: store for store in facts.datastores}
        self.homes = dict(storage.homes)
        self.usual_mtu = known(numbers["line.mtu"])
        self.options = known(numbers["line.option-bytes"]) or 0.0
        rated = [
            one
            for one in facts.networks
            if one.purpose == NetworkPurpose.STORAGE and positive(one.link_mbit_s)
        ]
        self.storage_line = min(rated, key=lambda one: one.link_mbit_s or 0.0, default=None)
        self.missing: dict[str, None] = {}
        self.unchecked: dict[str, None] = {}

    def between(self, source: Host, target: Host) -> Iterator[Part]:
        """The parts a copy from one host to the other goes through."""
        first, last = (self.stores.get(self.homes.get(host.id)) for host in (source, target))
        if first is not None and first is last:
            found = [*self._store(first, 2), *self._over_storage(target, first)]
            if not found:
                self.missing[f"{first.label}: throughput"] = None
            yield from found
            return
        ends = [self._network(host) for host in (source, target)]
        mtu = min((self._mtu(network) or 0 for network in ends if network is not None), default=0)
        for host, network in zip((source, target), ends, strict=True):
            if network is not None:
                yield from self._line(host, network, mtu, "own")
        for host, store in ((source, first), (target, last)):
            if store is None:
                self.unchecked[f"{host.label}: no datastore"] = None
            else:
                yield from (*self._store(store, 1), *self._over_storage(host, store))

    def _network(self, host: Host) -> Network | None:
        if host.network_id is not None:
            network = self.networks.get(host.network_id)
        else:
            network = None
        if network is None:
            self.missing[f"{host.label}: its network"] = None
        return network

    def _mtu(self, network: Network) -> float | None:
        if network.mtu is None:
            return self.usual_mtu
        return network.mtu

    def _line(self, host: Host, network: Network, mtu: float | None, which: str) -> Iterator[Part]:
        if positive(network.link_mbit_s) is None:
            self.missing[f"{network.label}: link rate"] = None
        if efficiency(self._mtu(network), self.options) is None:
            self.missing[f"{network.label}: MTU"] = None
        seconds = line_seconds(1.0, network.link_mbit_s, mtu, self.options)
        if seconds is not None:
            words = f"the line of {host.label} on {network.label} ({units.show(network.link_mbit_s)} Mbit/s)"
            yield Part((which, host.id), words, network.ref.at("link_mbit_s"), seconds)

    def _over_storage(self, host: Host, store: Datastore) -> Iterator[Part]:
        network = self.storage_line
        if (
            store.sharing == Sharing.SHARED
            and network is not None
            and efficiency(self._mtu(network), self.options)
        ):
            yield from self._line(host, network, self._mtu(network), "storage")

    def _store(self, store: Datastore, times: int) -> Iterator[Part]:
        rate = positive(store.throughput_mb_s)
        if rate is None:
            self.unchecked[f"{store.label}: throughput"] = None
            return
        words = f"{store.label} ({units.show(rate)} MB/s)"
        yield Part(
            ("store", store.id),
            words,
            store.ref.at("throughput_mb_s"),
            times * units.GIB / (rate * 1e6),
        )
