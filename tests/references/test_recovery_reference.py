"""Times of copying, starting and building against standards, published figures and models of the same rules."""

from __future__ import annotations

import math

import pytest
import simpy
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from planner.engine.recovery import waves
from planner.engine.recovery.waves import Pace
from planner.engine.storage import copying
from planner.record import facts as f
from planner.record.units import GIB
from tests.factories import make, plan_of

# Source: IEEE 802.3-2022 clause 3.1.1 (preamble 56 bits, start delimiter 8, two addresses 48 each, type 16,
# check sequence 32) and clause 4.4.2 (gap between packets 96 bit times); clauses as quoted in code
AROUND_A_PACKET = (56 + 8 + 48 + 48 + 16 + 32 + 96) // 8
IPV4_HEADER = 5 * 4  # Source: RFC 791 section 3.1: at least five words of 32 bits
TCP_HEADER = 5 * 4  # Source: RFC 9293 section 3.1: at least five words of 32 bits
TIMESTAMPS = (
    1 + 1 + 10
)  # Source: RFC 7323 appendix A (as RFC 1323 appendix A): two no-operations and 10 bytes


def test_what_stands_around_the_files_own_bytes():
    """Source: IEEE 802.3-2022; RFC 791; RFC 9293, summed above."""
    assert AROUND_A_PACKET == 38
    assert (copying.FRAMING, copying.HEADERS) == (AROUND_A_PACKET, IPV4_HEADER + TCP_HEADER)


@pytest.mark.parametrize(
    ("mtu", "options", "per_cent"),
    [
        (1500, 0, 94.9285),
        (1500, TIMESTAMPS, 94.1482),
        (1500, 20, 93.6281),
        (1500, 20 + TIMESTAMPS, 92.8479),
    ],
)
def test_efficiency_of_a_line_in_print(mtu, options, per_cent):
    """Source: wiki.td-er.nl, Ethernet payload datarates. Its last two are IPv6, whose header is 20 bytes longer."""
    assert 100 * copying.efficiency(mtu, options) == pytest.approx(per_cent, abs=5e-5)


def test_efficiency_of_a_line_with_large_packets():
    """Source: itecnotes.com, Calculating exact TCP overhead cost: 94.93 % at 1500, 99.14 % at 9000."""
    assert 100 * copying.efficiency(1500) == pytest.approx(94.93, abs=5e-3)
    assert 100 * copying.efficiency(9000) == pytest.approx(99.14, abs=5e-3)


def test_a_rate_that_was_measured():
    """Source: itecnotes.com, Calculating exact TCP overhead cost: 941 Mbit/s and 94.1 Mbit/s measured over lines
    of 1000 and 100 Mbit/s between systems as installed; that such systems send timestamps: from memory."""
    assert 1000 * copying.efficiency(1500, TIMESTAMPS) == pytest.approx(941, abs=0.5)
    assert 100 * copying.efficiency(1500, TIMESTAMPS) == pytest.approx(94.1, abs=0.05)


@pytest.mark.parametrize("options", [0, TIMESTAMPS])
@pytest.mark.parametrize("mtu", [576, 1500, 9000])
def test_seconds_of_a_gib_counted_packet_by_packet(mtu, options):
    """Every packet full but the last, with all that stands around it. Source: IEEE 802.3-2022, RFC 791, RFC 9293."""
    own = mtu - IPV4_HEADER - TCP_HEADER - options
    whole, rest = divmod(GIB, own)
    on_the_line = whole * (mtu + AROUND_A_PACKET) + (
        rest + mtu - own + AROUND_A_PACKET if rest else 0
    )
    assert copying.line_seconds(1, 1000, mtu, options) == pytest.approx(
        on_the_line * 8 / 1e9, rel=3e-6
    )


def test_a_gib_over_a_gbit_a_second():
    """Source: the design's check value; worked by hand 2³⁰ × 8 ÷ 10⁹ = 8.5899 s, ÷ 0.94928 = 9.049 s."""
    assert copying.line_seconds(1, 1000, 1500) == pytest.approx(9.05, abs=5e-3)


# -- several copies at once ------------------------------------------------------------------------


def fairly(loads: list[set[str]], rates: dict[str, float]) -> float:
    """Seconds until the last of several copies of one GiB is done, when what they share is shared so that
    no copy can have more without another that has no more getting less; followed from one end to the next.

    Source: Bertsekas & Gallager, Data Networks, section 6.5.2: max-min fair flow control (from memory).
    """
    left, now = [1.0] * len(loads), 0.0
    while any(one > 1e-12 for one in left):
        going, free, given = {at for at, one in enumerate(left) if one > 1e-12}, dict(rates), {}
        while going:
            users = {part: [at for at in going if part in loads[at]] for part in free}
            tight = min(
                (part for part in free if users[part]),
                key=lambda part: free[part] / len(users[part]),
            )
            share = free[tight] / len(users[tight])
            for at in users[tight]:
                given[at] = share
                for part in loads[at]:
                    free[part] -= share
            going -= set(users[tight])
        step = min(left[at] / rate for at, rate in given.items())
        now += step
        for at, rate in given.items():
            left[at] -= rate * step
    return now


def copied(lines: list[int], stores: list[int | None]):
    """Hosts on networks of these link rates, each with a datastore of its own of that throughput."""
    networks = [
        make(f.Network, name=f"n{at}", link_mbit_s=rate, mtu=1500) for at, rate in enumerate(lines)
    ]
    hosts = [
        make(f.Host, name=f"h{at}", network_id=network.id, memory_gib=64)
        for at, network in enumerate(networks)
    ]
    disks = [
        make(f.Datastore, name=f"d{at}", sharing="local", host_id=host.id, throughput_mb_s=rate)
        for at, (host, rate) in enumerate(zip(hosts, stores, strict=True))
        if rate
    ]
    image = make(f.Image, name="office", used_gib=1)
    return plan_of(*networks, *hosts, *disks, image).recovery.copy(image.id)


RATES = st.sampled_from([100, 1000, 2500, 10000])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(RATES, st.sampled_from([None, 80, 200, 1000])), min_size=2, max_size=6))
def test_copies_to_all_hosts_at_once(hosts):
    """Against a fair sharing followed step by step, and against the shortest time that any sharing
    allows (a linear programme). Source: Bertsekas & Gallager, Data Networks, section 6.5.2 (from memory)."""
    lines, stores = [line for line, _ in hosts], [store for _, store in hosts]
    rates = {f"line {at}": line * 1e6 / 8 * 1460 / 1538 / GIB for at, line in enumerate(lines)}
    rates |= {f"disks {at}": store * 1e6 / GIB for at, store in enumerate(stores) if store}
    loads = [
        {part for part in rates if part.split()[1] in ("0", str(at))} for at in range(1, len(hosts))
    ]
    found = copied(lines, stores)
    assert found.at_once_seconds == pytest.approx(fairly(loads, rates), rel=1e-6)
    assert found.in_turn_seconds == pytest.approx(
        sum(1 / min(rates[part] for part in load) for load in loads)
    )
    # variables: 1 ÷ time, which every copy's rate reaches
    users = {part: sum(part in load for load in loads) for part in rates}
    best = linprog([-1], A_ub=[[users[part]] for part in rates], b_ub=list(rates.values()))
    assert found.at_once_seconds == pytest.approx(1 / best.x[0], rel=1e-6)


# -- waves -----------------------------------------------------------------------------------------


class Machine:
    """A machine under way: its own work, and the disk operations it still waits for."""

    def __init__(self, env: simpy.Environment, host: int, operations: float):
        self.host, self.work, self.asks, self.done = host, 1.0, operations, env.event()


class Room:
    """Hosts on one datastore, in SimPy: so many at once on a host, slower the more there are on it; the
    datastore's operations go in even parts to all who still wait for some."""

    def __init__(self, counts: list[int], pace: Pace, rate: float | None):
        self.env, self.pace, self.rate = simpy.Environment(), pace, rate
        self.under_way: list[Machine] = []
        self.ends: list[float] = []
        self.news = self.env.event()
        for host, count in enumerate(counts):
            places = simpy.Resource(self.env, capacity=pace.at_once)
            for _ in range(count):
                self.env.process(self.machine(host, places))
        self.env.process(self.clockwork())
        self.env.run(until=self.env.process(self.closing(sum(counts))))

    def closing(self, count: int):
        while len(self.ends) < count:
            yield self.env.timeout(1.0)

    def machine(self, host: int, places: simpy.Resource):
        with places.request() as place:
            yield place
            own = Machine(self.env, host, self.pace.operations if self.rate else 0.0)
            self.under_way.append(own)
            self.news.succeed()
            self.news = self.env.event()
            yield own.done
            self.ends.append(self.env.now)

    def clockwork(self):
        while True:
            if not self.under_way:
                yield self.news
                continue
            on_host = [
                sum(other.host == one.host for other in self.under_way) for one in self.under_way
            ]
            speeds = [
                1 / (self.pace.seconds * (1 + self.pace.slowdown * (count - 1)))
                for count in on_host
            ]
            asking = sum(one.asks > 0 for one in self.under_way)
            served = self.rate / asking if asking else math.inf
            ends = [
                one.work / speed
                for one, speed in zip(self.under_way, speeds, strict=True)
                if one.work > 0
            ]
            ends += [one.asks / served for one in self.under_way if one.asks > 0]
            began, moving = self.env.now, list(self.under_way)
            yield self.env.timeout(min(ends)) | self.news
            for one, speed in zip(moving, speeds, strict=True):
                one.work = self.less(one.work, (self.env.now - began) * speed, 1.0)
                one.asks = self.less(
                    one.asks, (self.env.now - began) * served, self.pace.operations
                )
            for one in [one for one in moving if not one.work and not one.asks]:
                self.under_way.remove(one)
                one.done.succeed()
            yield self.env.timeout(0)

    def less(self, left: float, by: float, whole: float) -> float:
        rest = left - by if left > 0 else 0.0
        return rest if rest > 1e-9 * whole else 0.0


COUNTS = st.lists(st.integers(0, 14), min_size=1, max_size=4)


@settings(max_examples=120, deadline=None)
@given(
    COUNTS,
    st.integers(1, 6),
    st.sampled_from([1.0, 60.0, 150.0]),
    st.sampled_from([0.0, 0.15, 1.0]),
    st.sampled_from([None, 50.0, 400.0, 3000.0, 1e6]),
)
def test_waves_against_a_model_of_the_same_rules(counts, at_once, seconds, slowdown, rate):
    """Starts (no slowdown) and builds, with and without disks that hold them up. Source: the SimPy model above."""
    pace = Pace(at_once, seconds, slowdown, operations=20_000)
    ends = Room(counts, pace, rate).ends
    all_done, _ = waves.on_store(counts, pace, rate)
    assert all_done == pytest.approx(max(ends, default=0.0), rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(1, 40), min_size=1, max_size=5),
    st.integers(1, 6),
    st.sampled_from([None, 900.0]),
)
def test_the_first_wave_against_the_model(counts, at_once, rate):
    """Where every host begins with a full wave, the first machines of all are ready together. Source: the model."""
    full = [max(count, at_once) for count in counts]
    pace = Pace(at_once, 60.0, 0.15, operations=20_000)
    assert waves.on_store(full, pace, rate)[1] == pytest.approx(
        min(Room(full, pace, rate).ends), rel=1e-6
    )


def test_waves_worked_by_hand():
    """Source: worked by hand. 18 at 4 at once are five waves of 60 s; nine builds at 4 at once are two
    waves of 150 × 1.45 and one of 150; 20 starts that ask 20,000 each of 1,000 a second need 400 s."""
    assert waves.on_store([18], Pace(4, 60.0)) == (300.0, 60.0)
    assert waves.on_store([9], Pace(4, 150.0, 0.15))[0] == pytest.approx(2 * 217.5 + 150)
    assert waves.on_store([20], Pace(4, 60.0, 0.0, 20_000), 1000.0)[0] == pytest.approx(400)
