"""Recovery: copying, starting anew, carrying on without a host, replacing an image; and what is missing."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from planner.engine.placement.capacity import BEYOND
from planner.engine.recovery.outages import waits
from planner.plan import Plan
from planner.record import facts as f
from tests.engine.recovery_cases import (
    ODD,
    SIZED,
    appliance,
    desk,
    disks,
    host,
    image,
    network,
    number,
    with_,
)
from tests.factories import make, plan_of
from tests.shares import share

GIB = 2**30
SHARE = 1460 / 1538  # of a line at an MTU of 1500


# -- copying -----------------------------------------------------------------------------------------


def test_a_copy_to_every_other_host_over_the_sources_line():
    """40 GiB over 1 Gbit/s, three times: one after another or at once, the source's line is what is shared."""
    net = network()
    found = plan_of(net, *(host(net, f"h{n}") for n in range(4)), image()).recovery
    one = 40 * GIB * 8 / (1e9 * SHARE)
    assert found.copies[0].hosts == 3 and found.lines.longest * 40 == pytest.approx(one)
    assert found.copies[0].in_turn_seconds == pytest.approx(3 * one)
    assert found.copies[0].at_once_seconds == pytest.approx(3 * one)
    assert found.lines.binds == "the line of h0 on management (1,000 Mbit/s)"
    assert found.lines.at == net.ref.at("link_mbit_s")
    assert "h0: no datastore" in found.unchecked


def test_a_slow_host_holds_up_the_others_only_in_turn():
    fast, slow = network(link_mbit_s=10_000), network(name="annex", link_mbit_s=100)
    found = plan_of(fast, slow, host(fast), host(fast, "h2"), host(slow, "h3"), image()).recovery
    ten, tenth = 40 * GIB * 8 / (1e10 * SHARE), 40 * GIB * 8 / (1e8 * SHARE)
    assert found.copies[0].in_turn_seconds == pytest.approx(ten + tenth)
    assert found.copies[0].at_once_seconds == pytest.approx(tenth)
    assert found.lines.binds == found.lines.binds_in_turn == "the line of h3 on annex (100 Mbit/s)"


def test_the_smaller_packets_hold_between_networks_of_different_mtu():
    large, small = network(mtu=9000), network(name="annex", mtu=1500)
    alike = plan_of(large, host(large), host(large, "h2"), image()).recovery.copies[0]
    mixed = plan_of(large, small, host(large), host(small, "h2"), image()).recovery.copies[0]
    assert alike.at_once_seconds == pytest.approx(40 * GIB * 8 / (1e9 * 8960 / 9038))
    assert mixed.at_once_seconds == pytest.approx(40 * GIB * 8 / (1e9 * SHARE))


def test_a_datastore_binds_where_it_is_slower_than_the_line():
    net = network(link_mbit_s=10_000)
    first, second = host(net), host(net, "h2")
    records = [net, first, second, image(), disks(first, throughput_mb_s=500)]
    found = plan_of(*records, disks(second, name="d2", throughput_mb_s=200)).recovery
    assert found.copies[0].at_once_seconds == pytest.approx(40 * GIB / 200e6)
    assert found.lines.binds == "d2 (200 MB/s)"
    # a copy made where the image is reads and writes at the same place
    assert found.copies[0].saving_seconds == pytest.approx(2 * 40 * GIB / 500e6)
    assert found.copies[0].unchecked == ()


def test_a_throughput_nobody_knows_does_not_bind_and_is_named():
    net = network()
    first, second = host(net), host(net, "h2")
    found = plan_of(
        net, first, second, image(), disks(first), disks(second, name="d2")
    ).recovery.copies[0]
    assert found.at_once_seconds == pytest.approx(40 * GIB * 8 / (1e9 * SHARE))
    assert found.saving_seconds is None
    assert found.unchecked == ("d1: throughput", "d2: throughput") and found.missing == ()


def test_the_image_is_on_the_host_of_the_first_appliance():
    net, slow = network(), network(name="annex", link_mbit_s=100)
    hosts = [host(net), host(slow, "h2"), host(net, "h3")]
    found = plan_of(net, slow, *hosts, appliance(hosts[1]), image()).recovery
    assert found.lines.source_id == hosts[1].id
    assert found.copies[0].at_once_seconds == pytest.approx(2 * 40 * GIB * 8 / (1e8 * SHARE))


def test_two_hosts_on_one_shared_datastore_copy_within_it():
    net = network(link_mbit_s=100)
    found = plan_of(net, host(net), host(net, "h2"), disks(throughput_mb_s=400), image()).recovery
    assert found.copies[0].at_once_seconds == pytest.approx(
        2 * 40 * GIB / 400e6
    )  # read and written there
    storage = network(name="storage", purpose="storage", mtu=9000)
    found = plan_of(
        net, storage, host(net), host(net, "h2"), disks(throughput_mb_s=400), image()
    ).recovery
    assert found.copies[0].at_once_seconds == pytest.approx(40 * GIB * 8 / (1e9 * 8960 / 9038))
    found = plan_of(net, host(net), host(net, "h2"), disks(), image()).recovery
    assert found.copies[0].missing == ("d1: throughput",)


def test_a_single_host_has_nothing_to_copy_to():
    found = plan_of(host(), image()).recovery
    assert (found.copies[0].hosts, found.copies[0].at_once_seconds, found.copies[0].missing) == (
        0,
        0.0,
        (),
    )
    spare = plan_of(host(), host(name="h2", state="spare"), image()).recovery
    assert spare.lines.targets == 0


@pytest.mark.parametrize(
    ("on", "values", "named"),
    [
        ({"link_mbit_s": None}, {}, "management: link rate"),
        ({"mtu": 40}, {}, "management: MTU"),
        ({}, {"network_id": None}, "h1: its network"),
        ({}, {"network_id": 999_999}, "h1: its network"),
    ],
)
def test_what_is_missing_for_a_copy_is_named(on, values, named):
    net = network(**on)
    found = plan_of(net, host(net, **values), host(net, "h2"), image()).recovery
    assert found.copies[0].at_once_seconds is None and found.copying_seconds is None
    assert named in found.copies[0].missing and named in found.missing


def test_what_is_copied_is_what_is_used():
    net = network()
    hosts = [net, host(net), host(net, "h2")]
    whole = plan_of(*hosts, image(used_gib=None)).recovery.copies[0]
    assert whole.gib == 80 and any("whole disk" in line for line in whole.unchecked)
    nothing = plan_of(*hosts, image(used_gib=None, disk_gib=None)).recovery.copies[0]
    assert nothing.at_once_seconds is None and nothing.missing == ("office: used disk",)


def test_an_mtu_nobody_wrote_down_is_the_usual_one_and_timestamps_can_be_counted():
    net = network(mtu=None)
    records = [net, host(net), host(net, "h2"), image()]
    assert plan_of(*records).recovery.copies[0].in_turn_seconds == pytest.approx(
        40 * GIB * 8 / (1e9 * SHARE)
    )
    stamped = plan_of(*records, number("line.option-bytes", 12)).recovery.copies[0]
    assert stamped.in_turn_seconds == pytest.approx(40 * GIB * 8 / (1e9 * 1448 / 1538))


def test_a_rate_that_is_a_slip_gives_no_time():
    net = network(link_mbit_s=1e-9)
    found = plan_of(net, host(net), host(net, "h2"), image()).recovery.copies[0]
    assert found.in_turn_seconds is None and "slip" in found.missing[0]


# -- a cold start ----------------------------------------------------------------------------------


def test_everything_starts_hosts_then_appliances_then_desktops():
    """18 desktops on each of two hosts, four at a time: five waves. 300 + 300 + 5 × 60."""
    first, second = host(), host(name="h2")
    found = plan_of(first, second, appliance(first), desk(most=36)).recovery.cold_start
    assert (found.hosts_seconds, found.appliances_seconds, found.desktops_seconds) == (
        300,
        300,
        300,
    )
    assert (found.seconds, found.first_seconds, found.desktops, found.store_id) == (
        900,
        660,
        36,
        None,
    )


def test_appliances_on_one_host_wait_for_each_other():
    own = host()
    crowd = [appliance(own, f"b{n}") for n in range(5)]
    assert plan_of(own, *crowd, desk(most=1)).recovery.cold_start.appliances_seconds == 600
    adrift = [appliance(None, f"b{n}") for n in range(5)]
    assert plan_of(own, *adrift, desk(most=1)).recovery.cold_start.appliances_seconds == 300


def test_disks_that_are_too_slow_for_the_starts_set_the_pace():
    """Two disks of 150 at RAID 1 with 16 % writes give 300 ÷ 1.16; eight starts that ask 20,000 each."""
    own = host()
    d = disks(own, disk_operations=150)
    found = plan_of(own, d, appliance(own), desk(most=8)).recovery.cold_start
    assert found.desktops_seconds == pytest.approx(8 * 20_000 / (300 / (0.84 + 0.16 * 2)))
    assert found.store_id == d.id
    assert (
        plan_of(
            own, disks(own, disk_operations=15_000), appliance(own), desk(most=8)
        ).recovery.cold_start.seconds
        == 720
    )


def test_hosts_on_one_shared_datastore_slow_each_other_down():
    shared = disks(disk_operations=1000)
    alone = plan_of(host(), shared, appliance(), desk(most=4)).recovery.cold_start
    both = plan_of(host(), host(name="h2"), shared, appliance(), desk(most=23)).recovery.cold_start
    rate = 2000 / (0.84 + 0.16 * 2)
    assert alone.desktops_seconds == 60
    assert both.desktops_seconds == pytest.approx(
        2 * max(60, 160_000 / rate) + max(60, 7 * 20_000 / rate)
    )
    assert both.store_id == shared.id


def test_guests_of_the_hosts_start_after_them_and_before_the_appliances():
    own, d = host(), make(f.Datastore, sharing="local", raid="10", disks=4, disk_gb=960.0)
    guest = make(f.Server, name="dc-1", roles=("directory",), stands="guest")
    machine = make(f.Server, name="dc-2", roles=("directory",), stands="own")
    found = plan_of(own, d, appliance(own), desk(most=8), guest, machine).recovery.cold_start
    without = plan_of(own, d, appliance(own), desk(most=8), machine).recovery.cold_start
    assert (found.servers_seconds, without.servers_seconds) == (300, 0)
    assert found.seconds == without.seconds + 300
    assert found.order == (
        "switches, firewall and shared storage",
        "dc-2",
        "the hosts",
        "dc-1 on the hosts",
        "the appliances, then the desktops",
    )


def test_what_is_missing_for_a_cold_start_is_named():
    own = host()
    assert "no appliance is named" in plan_of(own, desk(most=2)).recovery.cold_start.missing
    found = plan_of(own, appliance(own), desk(most=None)).recovery.cold_start
    assert found.seconds is None and found.missing == ("office: most",)
    d = disks(own)
    found = plan_of(own, d, appliance(own), desk(most=2)).recovery.cold_start
    assert found.seconds == 660 and found.unchecked == ("d1: disk operations",)


def test_desktops_that_do_not_fit_do_not_start():
    own = host()  # 94 GiB less the appliance's 4 carry 21 of 4.125
    assert plan_of(own, appliance(own), desk(most=500)).recovery.cold_start.desktops == 21


# -- failover --------------------------------------------------------------------------------------


def seats(template, people, share=1.0):
    return make(
        f.SeatGroup, name="Reception", template_id=template.id, people=people, share_at_once=share
    )


def test_people_of_a_lost_host_take_the_standby_and_wait_for_the_rest():
    """20 desktops, 16 in use, 4 on standby; ten of them on each host. 8 people; 2 find one, 6 wait for two waves."""
    first, second = host(), host(name="h2")
    t = desk(most=20, standby=4)
    found = plan_of(
        first, second, t, seats(t, 16), appliance(first), appliance(second, "b2")
    ).recovery
    on_first = plan_of(first, second, t).placement.host(first.id).count
    assert on_first == 10
    down = found.failovers[0]
    assert (down.people, down.ready, down.built, down.without) == (8, 2, 6, 0)
    assert down.seconds == pytest.approx(120 + 150 * 1.45 + 150 * 1.15)
    assert found.worst_failover.seconds == down.seconds


def test_seats_nobody_counted_are_all_but_the_standby():
    first, second = host(), host(name="h2")
    down = plan_of(first, second, desk(most=20, standby=4)).recovery.failovers[0]
    assert (down.people, down.ready, down.built) == (8, 2, 6)


def test_who_does_not_fit_on_the_others_goes_without():
    """94 GiB carry 22 desktops of 4.125; of 40 in use 22 have one, and 18 are not built."""
    first, second = host(), host(name="h2")
    plan = plan_of(first, second, desk(most=40, standby=0))
    for down in plan.recovery.failovers:
        assert down.without == 18 == plan.placement.down(down.host_id).left_out
        assert down.people == down.without + down.built == plan.placement.host(down.host_id).count


def test_the_others_share_what_is_to_be_built():
    hosts = [host(name=f"h{n}") for n in range(5)]
    down = plan_of(*hosts, desk(most=45, standby=0)).recovery.failovers[0]
    # nine desktops lost, four hosts: three build two together, one builds three
    assert down.built == 9 and down.seconds == pytest.approx(120 + 150 * 1.3)


def test_a_service_that_was_on_the_lost_host_alone_is_gone():
    first, second = host(), host(name="h2")
    found = plan_of(first, second, appliance(first), desk(most=10)).recovery
    gone, there = found.failovers
    assert gone.service_gone and gone.seconds is None and gone.missing == ()
    assert not there.service_gone and there.seconds is not None
    assert found.worst_failover is there


def test_kept_desktops_on_a_lost_hosts_own_disks_are_away():
    first, second = host(), host(name="h2")
    kept = desk(most=10, reset_rule="kept")
    local = plan_of(first, second, disks(first), disks(second), kept).recovery.failovers
    assert sum(down.kept_away for down in local) == 10
    assert all(
        down.kept_away == 0 for down in plan_of(first, second, disks(), kept).recovery.failovers
    )


def test_one_host_fails_over_to_nothing():
    found = plan_of(host(), desk(most=4), appliance()).recovery
    assert found.failovers == () and found.worst_failover is None


# -- building anew ---------------------------------------------------------------------------------


def test_an_image_is_replaced_on_every_desktop_made_from_it():
    """20 + 16 desktops on two hosts: 18 on each are four waves of four and one of two."""
    i, other = image(), image(name="lab")
    found = plan_of(
        host(),
        host(name="h2"),
        i,
        other,
        desk(most=20, image_id=i.id),
        desk(most=16, image_id=i.id, reset_rule="kept"),
    ).recovery
    swap, none = found.swaps
    assert (swap.desktops, swap.kept, none.desktops, none.seconds) == (36, 16, 0, 0.0)
    assert swap.seconds == pytest.approx(4 * 150 * 1.45 + 150 * 1.15)


def test_the_nightly_reset_builds_what_the_rule_says():
    found = plan_of(
        host(), desk(most=8, reset_rule="nightly"), desk(most=8, reset_rule="sign-out")
    ).recovery.nightly
    assert found.desktops == 8 and found.seconds == pytest.approx(2 * 150 * 1.45)
    assert plan_of(host(), desk(most=8, reset_rule="weekly")).recovery.nightly is None


def test_the_sites_own_numbers_are_used():
    own = (
        number("host.builds-at-once", 2),
        number("host.build-slowdown", 0),
        number("desktop.build-seconds", 60),
    )
    found = plan_of(host(), desk(most=8, reset_rule="nightly"), *own).recovery
    assert found.nightly.seconds == 240
    assert found.desktop_seconds == 120  # three on one host, two at a time


# -- the stages' waits -----------------------------------------------------------------------------


def test_waits_are_minutes_by_name_and_by_image():
    net = network()
    first, second = host(net), host(net, "h2")
    small, large = image(used_gib=10), image(name="lab")
    plan = plan_of(
        net,
        first,
        second,
        small,
        large,
        disks(first, throughput_mb_s=500),
        appliance(first),
        desk(most=4, image_id=small.id),
    )
    found = waits(plan.recovery)
    minutes = 40 * GIB * 8 / (1e9 * SHARE) / 60
    assert found["image-to-hosts"] == pytest.approx(minutes)
    assert found[f"image-to-hosts@image-{small.id}"] == pytest.approx(minutes / 4)
    assert found[f"image-copy@image-{large.id}"] == pytest.approx(2 * 40 * GIB / 500e6 / 60)
    assert found["desktops-start"] == pytest.approx(150 * 1.15 / 60)
    assert found["cold-start"] == 11 and found["failover"] == pytest.approx((120 + 150 * 1.15) / 60)


def test_waits_nobody_can_tell():
    assert set(waits(plan_of().recovery).values()) == {None}


# -- whatever the facts -----------------------------------------------------------------------------


@settings(max_examples=share(25, of=70), deadline=None, suppress_health_check=list(HealthCheck))
@given(with_(ODD) | with_(SIZED))
def test_nothing_is_ever_raised_and_every_time_is_one_or_has_a_reason(odd):
    plan = Plan(odd)
    found = plan.recovery
    rooms = [*found.swaps, found.cold_start, *([found.nightly] if found.nightly else [])]
    rooms += [down for down in found.failovers if not down.service_gone]
    for room in rooms:
        assert (room.seconds is None) == bool(room.missing)
        assert room.seconds is None or 0 <= room.seconds <= BEYOND
    for copy in found.copies:
        assert (copy.at_once_seconds is None) == bool(copy.missing)
        if copy.at_once_seconds is not None and copy.in_turn_seconds is not None:
            assert 0 <= copy.at_once_seconds <= copy.in_turn_seconds * (1 + 1e-9)
    for down in found.failovers:
        assert down.people == down.ready + down.built + down.without
    assert all(minutes is None or minutes >= 0 for minutes in waits(found).values())
    for step in plan.stages.steps.values():
        assert 0 < step.minutes[0] <= step.minutes[1] <= step.minutes[2]
