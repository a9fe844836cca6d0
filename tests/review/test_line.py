"""Findings about the line people come by: each raised once and once not."""

from __future__ import annotations

import dataclasses

import pytest

from planner.record import facts as f
from tests.factories import make, raised
from tests.review.cases import Case, rules_of

LINE = f.Network(id=1, name="branch", purpose="remote", link_mbit_s=20.0, mtu=1500)
HOUSE = dataclasses.replace(LINE, purpose="clients")


def line(mbit_s, purpose="remote"):
    return dataclasses.replace(LINE, link_mbit_s=mbit_s, purpose=purpose)


def seats(people=60, kbit_s=300.0, **values):
    return make(
        f.SeatGroup,
        **{
            "name": "Branch",
            "network_id": 1,
            "people": people,
            "share_at_once": 0.7,
            "kbit_s": kbit_s,
            **values,
        },
    )


# 60 people at 70 %: 50 sessions of 300 kbit/s, 15 Mbit/s (the 50: Source: scipy.stats.binom.isf); 30 % stay free,
# so that 21.43 Mbit/s are wanted; 32 KiB take 276.1 ms over 1 Mbit/s and 13.8 over 20, and 40 ms there and back
CASES = [
    Case(
        "line-too-narrow",
        [line(14.9), seats()],
        [line(15.0), seats()],
        "link_mbit_s",
        "need 15 Mbit/s, the link carries 14.9 Branch come by it, up to 50 sessions at once; it has room for 34.",
    ),
    Case(
        "line-no-headroom",
        [line(15.0), seats()],
        [line(21.5), seats()],
        "link_mbit_s",
        "need 15 of 15 Mbit/s and leave too little free",
    ),
    Case(
        "line-too-slow",
        [line(1.0), seats(1)],
        [line(20.0), seats(1)],
        "link_mbit_s",
        "shows after 316.1 ms, 150 are wanted 40 ms there and back, and 276.1 ms to send a picture of 32 KiB",
    ),
    Case(
        "line-rate-unknown",
        [line(None), seats()],
        [line(None, "clients"), seats()],
        "link_mbit_s",
        "Branch come by it. Their sessions ask 15 Mbit/s.",
    ),
    Case(
        "seats-rate-unknown",
        [LINE, seats(kbit_s=None)],
        [HOUSE, seats(kbit_s=None)],
        "kbit_s",
        "They come by branch",
    ),
    Case(
        "seats-network-unknown",
        [LINE, seats(network_id=None)],
        [LINE, seats()],
        "network_id",
        "Branch",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.key)
def test_raised_and_not_raised(case):
    case.check()


def test_every_rule_has_a_case():
    assert rules_of("line") == {case.key for case in CASES}


def test_too_narrow_is_told_before_everything_is_filled_in():
    known, unknown = seats(), seats(name="Second", people=None)
    (found,) = raised("line-too-narrow", line(10.0), known, unknown)
    assert "need 15 Mbit/s" in found.title and "Branch and Second come by it." in found.text
    assert found.also == (known.ref.at("kbit_s"), unknown.ref.at("kbit_s"))


def test_narrow_and_no_headroom_are_never_told_together():
    for tenths in range(100, 260, 3):
        records = [line(tenths / 10), seats()]
        narrow, little = (
            len(raised(key, *records)) for key in ("line-too-narrow", "line-no-headroom")
        )
        assert (narrow, little) == (
            (1, 0) if tenths < 150 else (0, 1) if tenths * 0.7 < 150 else (0, 0)
        )


def test_the_distance_is_an_assumption():
    far = f.Assumed(key="sessions.far-round-trip-ms", value=180)
    (found,) = raised("line-too-slow", LINE, seats(1), far)
    assert "180 ms there and back" in found.text
    assert raised("line-too-slow", HOUSE, seats(1), far) == []
