"""Placement: what fits where, with each host down, and what is said when something is not known."""

from __future__ import annotations

import dataclasses
import datetime as dt
import time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.engine.placement import packing
from planner.engine.placement.packing import bounds
from planner.record import facts as f
from planner.review import base
from tests.factories import make, plan_of
from tests.shares import share

# a host offers all its memory and a desktop asks its own alone: whole numbers for working by hand
PLAIN = tuple(
    f.Assumed(key=key, value=0)
    for key in (
        "host.hypervisor-memory-gib",
        "host.hypervisor-memory-share",
        "desktop.memory-overhead-gib",
    )
)


def host(name="h1", memory=30, cores=9, **values):
    return make(f.Host, name=name, memory_gib=memory, sockets=1, cores_per_socket=cores, **values)


def desk(memory, most, name="office", **values):
    return make(
        f.Template, **{"name": name, "memory_gib": memory, "vcpu": 1, "most": most, **values}
    )


def place(*records, **values):
    return plan_of(*records, *PLAIN, **values).placement


def test_five_desktops_of_12_do_not_fit_two_hosts_with_30_free_each():
    """The totals say they would: 60 of 60. Source: the design's worked example; two go on each host, 24 of 30."""
    found = place(host(), host("h2"), desk(12, 5))
    assert (found.needs_gib, found.offers_gib) == (60, 60)
    assert (found.fits, found.left_out, found.proved) == (False, 1, True)
    assert place(host(), host("h2"), desk(12, 4)).fits is True


def test_what_a_host_offers_by_the_catalogues_numbers():
    """96 GiB less 2 and 4 % (3.84) less 8: 82.16; (2 × 8 − 1) cores × 6 = 90. Common practice, no source."""
    h = make(f.Host, name="h1", memory_gib=96, sockets=2, cores_per_socket=8)
    (load,) = plan_of(
        h, make(f.Appliance, name="b1", host_id=h.id, memory_gib=8), desk(4, 19)
    ).placement.hosts
    assert (load.own_gib, load.appliance_gib, load.offers_vcpu) == (pytest.approx(5.84), 8, 90)
    assert load.offers_gib == pytest.approx(82.16)
    assert load.used_gib == pytest.approx(19 * 4.125) and load.used_vcpu == 19 and load.count == 19


def test_a_spare_host_does_not_count_and_one_to_buy_does():
    spare, to_buy = host("h2", state="spare"), host("h3", state="to-buy")
    assert place(host(), spare, desk(12, 4)).left_out == 2
    found = place(host(), to_buy, desk(12, 4))
    assert found.fits and [load.name for load in found.hosts] == ["h1", "h3"]


def test_an_appliance_takes_memory_of_its_host_alone_and_goes_down_with_it():
    first, second = host(), host("h2")
    found = place(
        first, second, make(f.Appliance, name="b1", host_id=first.id, memory_gib=10), desk(10, 3)
    )
    assert [load.offers_gib for load in found.hosts] == [20, 30]
    assert found.fits
    assert (found.down(first.id).fits, found.down(second.id).left_out) == (True, 1)


def test_with_each_host_down():
    small, large = host(memory=24), host("h2", memory=48)
    found = place(small, large, desk(12, 5))
    assert found.fits
    assert [(down.name, down.fits, down.left_out) for down in found.without] == [
        ("h1", False, 1),
        ("h2", False, 3),
    ]
    assert found.down(large.id).short_gib == 36 and found.down(large.id).short_vcpu == 3
    assert [(load.name, load.count) for load in found.down(small.id).loads] == [("h2", 4)]


def test_hosts_that_are_alike_share_one_answer_and_each_gets_its_own_loads():
    hosts = [host(f"h{number}", memory=40 + number % 2) for number in range(6)]
    found = place(*hosts, desk(9, 15), desk(4, 10, "lean"))
    assert all(down.fits for down in found.without)
    for down, lost in zip(found.without, hosts, strict=True):
        assert [load.host_id for load in down.loads] == [h.id for h in hosts if h is not lost]
        assert sum(load.count for load in down.loads) == 25
        assert all(
            load.used_gib <= load.offers_gib and load.used_vcpu <= load.offers_vcpu
            for load in down.loads
        )


def test_what_binds_first():
    # 8 vCPU a host; memory for 10 desktops of 3; disk for 4 of 5 GiB growth and 3 GiB swap
    cores = f.Assumed(key="host.vcpu-per-core", value=1)
    by_cores = plan_of(host(), desk(3, 6), cores, *PLAIN).placement
    assert [load.binds for load in by_cores.hosts] == ["vcpu"] and by_cores.binds == "vcpu"
    assert [load.binds for load in place(host(), desk(3, 6)).hosts] == ["memory"]
    h = host(cores=3)
    room = make(
        f.Datastore,
        name="d",
        sharing="local",
        host_id=h.id,
        raid="1",
        disks=2,
        disk_gb=50,
        others_gib=0,
    )
    by_disk = place(h, room, desk(3, 4, growth_gib=5))
    assert [load.binds for load in by_disk.hosts] == ["disk"] and by_disk.fits
    assert place(h, room, desk(3, 5, growth_gib=5)).left_out == 1  # 0.8 × 46.6 = 37.3: four of 8


def test_a_shared_datastore_is_shared():
    """Room for nine desktops of 8 GiB in all: 0.8 × 93.1 = 74.5, whichever host they are on, and with one down."""
    shared = make(
        f.Datastore, name="d", sharing="shared", raid="1", disks=2, disk_gb=100, others_gib=0
    )
    found = place(host(), host("h2"), host("h3"), shared, desk(3, 10, growth_gib=5))
    assert (found.left_out, [down.left_out for down in found.without]) == (1, [1, 1, 1])
    assert [load.store_id for load in found.hosts] == [shared.id] * 3
    assert sum(load.used_disk for load in found.hosts) == 72


def test_how_many_more_of_each():
    found = place(host(), host("h2"), desk(12, 3), desk(5, 2, "lean"))
    # 24 and 30, or 29 and 22 …: one more of 12 makes four, which leaves 6 on each for the two of 5
    template, lean = found.more
    assert found.more[template] == 1
    # three of 12 and n of 5: 24 + 5 and 12 + 15 hold four of 5, so two more
    assert found.more[lean] == 2
    assert found.more_proved


def test_templates_that_ask_the_same_are_told_apart_in_the_answer():
    """By name, whatever the order of their rows: the last by name goes without."""
    second, first = desk(10, 3, "office"), desk(10, 2, "desk")
    found = place(host(), first, second)
    (load,) = found.hosts
    assert load.desktops == {first.id: 2, second.id: 1}
    assert found.left == {second.id: 2} and found.left_out == 2
    assert set(found.more) == {first.id, second.id}


def test_desktops_are_spread_rather_than_heaped():
    found = place(host(memory=64), host("h2", memory=64), desk(4, 16))
    assert [load.count for load in found.hosts] == [8, 8]


@pytest.mark.parametrize(
    ("records", "named"),
    [
        (lambda: [host(memory=None), desk(4, 2)], "h1: memory"),
        (lambda: [host(cores=None), desk(4, 2)], "h1: sockets and cores"),
        (lambda: [host(), desk(None, 2)], "office: memory"),
        (lambda: [host(), desk(4, None)], "office: most"),
        (lambda: [host(), desk(4, 2, vcpu=None)], "office: vCPU"),
        (lambda: [desk(4, 2)], "no host that counts is named"),
        (lambda: [host(state="spare"), desk(4, 2)], "no host that counts is named"),
        (lambda: [host()], "no desktop template is named"),
    ],
)
def test_what_is_missing_is_named_and_nothing_is_guessed(records, named):
    found = place(*records())
    assert found.fits is None and found.missing == (named,)
    assert (found.without, found.more, found.left_out) == ((), {}, 0)


def test_an_appliance_whose_memory_nobody_knows():
    h = host()
    found = place(h, make(f.Appliance, name="b1", host_id=h.id), desk(4, 2))
    assert found.fits is None and found.missing == ("b1: memory",)
    assert found.hosts[0].offers_gib is None and found.hosts[0].offers_vcpu == 48


def test_a_template_at_nought_misses_nothing():
    found = place(host(), desk(4, 2), desk(None, 0, "later", vcpu=None))
    assert found.fits is True and found.missing == ()


def test_what_was_not_checked_is_said():
    found = place(host(), desk(4, 2), make(f.Appliance, name="b1", memory_gib=8))
    assert found.unchecked == (
        "disk: growth of office",
        "disk: h1, no datastore",
        "memory: b1 stands on no host",
    )
    assert found.fits is True


# -- Properties -----------------------------------------------------------------------------------

sites = st.tuples(
    st.lists(st.tuples(st.integers(8, 64), st.integers(2, 6)), min_size=1, max_size=5),
    st.lists(
        st.tuples(st.integers(1, 20), st.integers(1, 4), st.integers(0, 12)), min_size=1, max_size=5
    ),
)


@settings(deadline=None, max_examples=share(75, of=150))
@given(sites)
def test_every_placement_keeps_every_limit(site):
    """Nothing is over full, nothing is placed twice, and who is left out is accounted for."""
    hosts = [host(f"h{n}", memory, cores) for n, (memory, cores) in enumerate(site[0])]
    templates = [
        desk(memory, most, f"t{n}", vcpu=vcpu) for n, (memory, vcpu, most) in enumerate(site[1])
    ]
    found = place(*hosts, *templates)
    for answer, loads in ((found, found.hosts), *((down, down.loads) for down in found.without)):
        assert answer.left_at_least <= answer.left_out == sum(answer.left.values())
        for template in templates:
            placed = sum(load.desktops.get(template.id, 0) for load in loads)
            assert placed + answer.left.get(template.id, 0) == template.most
        for load in loads:
            by_id = {template.id: template for template in templates}
            assert (
                load.used_gib
                == sum(by_id[id].memory_gib * n for id, n in load.desktops.items())
                <= load.offers_gib
            )
            assert (
                load.used_vcpu
                == sum(by_id[id].vcpu * n for id, n in load.desktops.items())
                <= load.offers_vcpu
            )
    assert all(down.left_out >= found.left_at_least for down in found.without)


@given(st.integers(0, 300), st.lists(st.tuples(st.integers(1, 60), st.integers(0, 9)), max_size=5))
def test_the_reachable_sum_against_plain_counting(capacity, asks):
    sums = {0}
    for size, count in asks:
        sums = {total + size * n for total in sums for n in range(count + 1)}
    want = max(total for total in sums if total <= capacity)
    assert not asks or bounds.reachable(capacity, tuple(asks), packing.Work()) == want


odd_numbers = st.sampled_from(
    [None, 0, 1, 4, 7.5, -3, 1e9, 1e30, float("inf"), float("-inf"), float("nan"), 10**18]
)
odd_texts = st.sampled_from(
    [
        "",
        "x",
        "local",
        "shared",
        "kept",
        "nightly",
        "10",
        "5",
        "spare",
        "{0}",
        "keys",
        "\ud800",
        "Europe",
    ]
)
odd_ids = st.sampled_from([None, 1, 2, 999])
odd_days = st.sampled_from([None, dt.date.min, dt.date(2026, 3, 2), dt.date.max])
OURS = ("hosts", "datastores", "capacity", "desktops", "seats", "images", "applications")


def odd(kind: type[f.Record]):
    """Records with anything in every field."""
    fields = {}
    for one in dataclasses.fields(kind):
        words = str(one.type)
        if one.name == "id":
            fields["id"] = st.integers(1, 3)
        elif "Id" in words and "tuple" not in words:
            fields[one.name] = odd_ids
        elif "int" in words or "float" in words:
            fields[one.name] = odd_numbers
        elif words == "str":
            fields[one.name] = odd_texts
        elif "Day" in words:
            fields[one.name] = odd_days
        elif "tuple[str" in words:
            fields[one.name] = st.lists(odd_texts, max_size=2).map(tuple)
    return st.builds(kind, **fields)


def few(kind: type[f.Record]):
    return st.lists(odd(kind), max_size=3).map(tuple)


@settings(deadline=None, max_examples=share(100, of=300), suppress_health_check=list(HealthCheck))
@given(
    st.builds(
        f.SiteFacts,
        today=odd_days.filter(bool),
        site=odd(f.Site),
        directory=odd(f.Directory),
        hosts=few(f.Host),
        datastores=few(f.Datastore),
        appliances=few(f.Appliance),
        images=few(f.Image),
        templates=few(f.Template),
        applications=few(f.Application),
        seat_groups=few(f.SeatGroup),
    )
)
def test_whatever_the_facts_nothing_raises(facts):
    from planner.plan import Plan

    plan = Plan(facts)
    assert len(plan.storage.stores) == len(facts.datastores)
    for down in plan.placement.without:
        assert len(down.loads) == len(plan.placement.hosts) - 1 or len(
            {h.id for h in facts.hosts}
        ) < len(facts.hosts)
    assert plan.placement.more is not None
    for key, rule in base.RULES.items():
        if rule.__module__.removeprefix("planner.review.") in OURS:
            for hit in rule(plan):
                base._finding(base.entries()[key], "remark", hit, {})


@pytest.mark.parametrize(
    ("hosts", "templates", "most"),
    [(300, 300, 50), (2000, 3, 10**6), (3, 2000, 7), (40, 40, 10**9), (600, 1, 3)],
)
def test_absurd_sites_take_bounded_time(hosts, templates, most):
    """Not a measure of speed: a guard against work that grows without end."""
    records = [host(f"h{n}", 64 + n, 8 + n % 7) for n in range(hosts)]
    records += [
        desk(1 + n % 17 + n / 1024, most, f"t{n}", vcpu=1 + n % 3) for n in range(templates)
    ]
    start = time.monotonic()
    found = place(*records)
    assert found.left_out == sum(found.left.values())
    assert len(found.without) == hosts
    assert time.monotonic() - start < 30


def test_twins_that_share_an_id_are_still_two_hosts():
    """Such facts cannot come from the database; a file from elsewhere may hold them."""
    twin = make(f.Host, sockets=2, cores_per_socket=8, memory_gib=64)
    desk = make(f.Template, memory_gib=4, vcpu=2, most=9)
    plan = plan_of(twin, twin, desk)
    assert [len(down.loads) for down in plan.placement.without] == [1, 1]
