"""The link people come by, worked by hand; against brute force: tests/references."""

from __future__ import annotations

import pytest

from planner.engine.people.line import load_kbit_s
from planner.record import facts as f
from tests.factories import make, plan_of

LINE = {"id": 1, "name": "branch", "purpose": "remote", "link_mbit_s": 20.0, "mtu": 1500}


def seats(**values):
    return make(
        f.SeatGroup,
        **{
            "name": "Branch",
            "network_id": 1,
            "people": 60,
            "share_at_once": 0.7,
            "kbit_s": 300.0,
            **values,
        },
    )


def line(*records, **values):
    return plan_of(f.Network(**{**LINE, **values}), *records).line


def test_one_group_takes_its_high_number_of_sessions():
    """60 people at 70 %: 50 at once at most in 99 of 100 times; 50 × 300 kbit/s = 15 Mbit/s of 20, of which 14
    are for sessions: room for 14 ÷ 0.3 = 46. Source: the 50 by scipy (tests/references); else worked by hand."""
    found = line(seats()).of(1)
    assert (found.sessions, found.needs_mbit_s, found.at_least_mbit_s) == (50, 15.0, 15.0)
    assert (found.usable_mbit_s, found.room_for, found.missing) == (14.0, 46, ())
    assert found.far and found.binds == "rate"


def test_the_delay_is_there_and_back_and_the_time_to_send_a_picture():
    """32 KiB are 262,144 bits; of each 1538 bytes on the wire 1460 are the picture's: 262,144 ÷ 20,000,000 ×
    1538 ÷ 1460 = 13.81 ms, and 40 ms there and back. Source: worked by hand; IEEE 802.3, RFC 791, RFC 9293."""
    found = line(seats(people=1)).of(1)
    assert found.update_ms == pytest.approx(13.8074, abs=1e-4)
    assert found.delay_ms == pytest.approx(53.8074, abs=1e-4)
    assert found.binds == "delay"  # 0.36 of the time against 0.02 of the rate
    near = line(seats(people=1), purpose="clients").of(1)
    assert near.delay_ms == pytest.approx(14.8074, abs=1e-4) and not near.far


def test_a_network_nobody_comes_from_is_not_weighed():
    found = line(seats(network_id=None))
    assert found.by_network == () and found.of(1) is None and found.of(None) is None


def test_what_is_missing_is_named_and_the_rest_is_weighed_all_the_same():
    group = seats(name="Second", kbit_s=None)
    found = line(seats(), group, link_mbit_s=None).of(1)
    assert found.missing == ("the kbit/s of Second", "the link rate of branch")
    assert found.missing_at == (group.ref.at("kbit_s"), f.Ref("network", 1, "link_mbit_s"))
    assert (found.needs_mbit_s, found.at_least_mbit_s) == (None, 15.0)
    assert found.sessions == 95  # 120 people at 70 %. Source: scipy.stats.binom.isf
    assert (found.room_for, found.delay_ms, found.binds) == (None, None, "")


def test_an_mtu_that_cannot_be_is_missing():
    found = line(seats(), mtu=12).of(1)
    assert found.update_ms is None and "the MTU of branch" in found.missing
    assert line(seats(), mtu=None).of(1).update_ms == line(seats()).of(1).update_ms  # the usual one


def test_groups_of_unlike_rates_do_not_all_peak_at_once():
    """Everybody there: 10 × 100 + 5 × 250 exactly. Source: worked by hand."""
    assert load_kbit_s([(10, 1.0, 100.0), (5, 1.0, 250.0)], 0.01) == pytest.approx(2250)
    apart = load_kbit_s([(60, 0.7, 300.0)], 0.01) + load_kbit_s([(60, 0.7, 900.0)], 0.01)
    assert load_kbit_s([(60, 0.7, 300.0), (60, 0.7, 900.0)], 0.01) < apart
    assert load_kbit_s([(60, 0.7, 0.0)], 0.01) == 0
    assert load_kbit_s([], 0.01) == 0
    assert load_kbit_s([(60, 7.0, 300.0)], 0.01) is None
