"""Findings about how long things take: each raised once and once not."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import HealthCheck, given, settings

from planner.plan import Plan
from planner.record import facts as f
from planner.record.units import show_seconds
from planner.review import recovery
from planner.review.base import RULES, entries
from tests.engine.recovery_cases import ODD, SIZED, desk, disks, host, image, network, number, with_
from tests.factories import make, raised

DAY = {"work_starts": dt.time(7, 30), "work_ends": dt.time(17)}  # 9.5 hours, and a night of 14.5


def site(**values):
    return f.Site(id=1, name="Mill Street", purpose="live", **{**DAY, **values})


def two(net=None, **values):
    """Two hosts on a network, and what they need to start."""
    net = net or network()
    first, second = host(net), host(net, "h2", **values)
    return [net, first, second, make(f.Appliance, name="b1", host_id=first.id, memory_gib=4)]


def networks(**values):
    return [network(mtu=9000), network(name="annex", **values)]


def apart(nets):
    return [*nets, host(nets[0]), host(nets[1], "h2")]


def with_image(most, records=None, **values):
    own = image()
    return [own, *(records or two()), desk(most=most, image_id=own.id, **values)]


def kept(on_own_disks):
    first, second = host(), host(name="h2")
    stores = [disks(first), disks(second, name="d2")] if on_own_disks else [disks()]
    return [first, second, *stores, desk(most=4, reset_rule="kept")]


def builds(seconds):
    """So long each, four at once on a host, none slowing the others."""
    return number("desktop.build-seconds", seconds), number("host.build-slowdown", 0)


# what raises it, what does not, where, and words of its title or text
CASES = {
    "hosts-line-unknown": (
        lambda: two(network(link_mbit_s=None)),
        lambda: two(),
        "link_mbit_s",
        "copied over it to h1 and h2",
    ),
    "hosts-mtu-differ": (
        lambda: apart(networks(mtu=1500)),
        lambda: apart(networks(mtu=9000)),
        "mtu",
        "9,000 on management, 1,500 on annex",
    ),
    "storage-line-slow": (
        # 1 Gbit/s at 94.93 % carries 118.7 MB/s
        lambda: [network(purpose="storage"), disks(throughput_mb_s=240)],
        lambda: [network(purpose="storage"), disks(throughput_mb_s=230)],
        "link_mbit_s",
        "management carries 119 MB/s; d1 could give 240",
    ),
    "images-copy-too-long": (
        lambda: [site(), *two(network(link_mbit_s=2500)), image(used_gib=10_000)],
        lambda: [site(), *two(network(link_mbit_s=2500)), image(used_gib=9_000)],
        "used_gib",
        "takes 10.1 h; the working day has 9.5 h",
    ),
    "cold-start-too-long": (
        # 300 + 300 + 5 waves of 600 is an hour: not longer than one
        lambda: [*two(), desk(most=40), number("desktop.start-seconds", 601)],
        lambda: [*two(), desk(most=40), number("desktop.start-seconds", 600)],
        "",
        "everything is back in 60.1 min, not in 60 min",
    ),
    "failover-too-long": (
        # 120 + 2 waves of 840 is half an hour
        lambda: [*two(), desk(most=16, standby=0), *builds(900)],
        lambda: [*two(), desk(most=16, standby=0), *builds(840)],
        "",
        "With h2 down, the last person works again after 32 min, not 30 min",
    ),
    "kept-desktops-on-one-host": (
        lambda: kept(True),
        lambda: kept(False),
        "reset_rule",
        "its desktops on d1 and d2 are out of reach",
    ),
    "image-swap-too-long": (
        # 21 on a host are six waves of two and a half hours, 20 are five
        lambda: [site(), *with_image(42), *builds(9000)],
        lambda: [site(), *with_image(40), *builds(9000)],
        "",
        "Replacing office on every desktop takes 15 h; the night has 14.5 h",
    ),
    "nightly-reset-too-long": (
        lambda: [site(), *two(), desk(most=42, reset_rule="nightly"), *builds(9000)],
        lambda: [site(), *two(), desk(most=42, reset_rule="weekly"), *builds(9000)],
        "reset_rule",
        "The nightly reset of office takes 15 h",
    ),
}


@pytest.mark.parametrize("key", CASES)
def test_raised_and_not_raised(key):
    bad, good, field, words = CASES[key]
    found = raised(key, *bad())
    assert len(found) == 1 and found[0].at.field == field
    assert words in f"{found[0].title} {found[0].text}"
    assert raised(key, *good()) == []


def test_every_rule_has_a_case():
    assert {
        key for key, rule in RULES.items() if rule.__module__ == "planner.review.recovery"
    } == CASES.keys()


def test_a_line_another_finding_asks_for_is_not_asked_for_twice():
    net = network(link_mbit_s=None, purpose="desktops")
    assert raised("hosts-line-unknown", *two(net)) == []
    assert len(raised("link-rate-unknown", *two(net))) == 1
    lone = network(link_mbit_s=None)
    assert raised("hosts-line-unknown", lone, host(lone)) == []  # there is nothing to copy to


def test_the_images_are_shown_with_what_binds_them():
    records = [
        site(),
        *two(network(link_mbit_s=1000)),
        image(used_gib=100),
        image(name="lab", used_gib=4000),
    ]
    (found,) = raised("images-copy-too-long", *records)
    assert found.at.id == records[-1].id and "lab the most of it" in found.text
    assert "the line of h1 on management (1,000 Mbit/s) sets the pace" in found.text
    assert found.also == (records[1].ref.at("link_mbit_s"),)
    assert (
        raised("images-copy-too-long", *records[1:], f.Site(id=1, purpose="live")) == []
    )  # no hours, no day


def test_slow_disks_are_where_a_slow_start_is_shown():
    net, first, second, appliance = two()
    store = disks(disk_operations=75)
    (found,) = raised("cold-start-too-long", net, first, second, appliance, store, desk(most=40))
    assert found.at == store.ref.at("disk_operations")
    assert "The disk operations of d1 set the pace." in found.text


def test_times_that_nobody_can_tell_raise_nothing():
    for key in CASES.keys() - {
        "hosts-line-unknown",
        "hosts-mtu-differ",
        "kept-desktops-on-one-host",
    }:
        assert raised(key, site(), host(memory_gib=None), host(), image(), desk(most=40)) == []


@pytest.mark.parametrize(
    ("first", "last", "day"),
    [("07:30", "17:00", 9.5), ("22:00", "06:00", 8), ("00:00", "23:59", 23 + 59 / 60)],
)
def test_the_working_day_and_the_night(first, last, day):
    hours = {"work_starts": dt.time.fromisoformat(first), "work_ends": dt.time.fromisoformat(last)}
    own = f.Site(id=1, **hours)
    assert recovery.working_day(own) == pytest.approx(day * 3600)
    assert recovery.night(own) == pytest.approx((24 - day) * 3600)


def test_hours_that_are_no_day():
    for hours in (
        {},
        {"work_starts": dt.time(8)},
        {"work_starts": dt.time(8), "work_ends": dt.time(8)},
    ):
        assert (
            recovery.working_day(f.Site(id=1, **hours)) is None
            and recovery.night(f.Site(id=1, **hours)) is None
        )


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(49.2, "49 s"), (90, "1.5 min"), (990, "16.5 min"), (7200, "2 h"), (52_500, "14.6 h")],
)
def test_lengths_of_time_in_words(seconds, words):
    assert show_seconds(seconds) == words


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(with_(ODD) | with_(SIZED))
def test_no_finding_of_this_group_ever_fails(odd):
    plan = Plan(odd)
    for key in CASES:
        for hit in RULES[key](plan):
            for words in (entries()[key].title, entries()[key].text):
                assert isinstance(words.format(**hit.words), str)
