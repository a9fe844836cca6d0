"""Findings about activation: each raised once and once not."""

from __future__ import annotations

import pytest

from planner.record import facts as f
from tests.factories import make, raised
from tests.review.cases import Case, rules_of


def image(kind="key-server", **values):
    return make(f.Image, name="office", activation=kind, **values)


def used(most=10, kind="key-server", rule="kept", **values):
    """An image and a template made from it."""
    one = image(kind)
    return [
        one,
        make(f.Template, name="front desk", image_id=one.id, most=most, reset_rule=rule, **values),
    ]


def servers(count, *roles):
    return [make(f.Server, name=f"s-{number}", roles=roles) for number in range(1, count + 1)]


BARE = make(f.Network, name="desks")
NAMED = make(f.Network, name="desks", domain_suffix="desks.example.org")
APART = f.Directory(directory_kind="own-accounts")
JOINED = f.Directory(directory_kind="domain", domain="corp.example.org")

CASES = [
    Case("image-activation-unknown", [image("")], [image("none")], "activation", "office"),
    # Source: Microsoft, Plan for volume activation: a multiple activation key activates a set number of times
    Case(
        "image-multiple-key-rebuilt",
        used(10, "multiple-key", "nightly"),
        used(10, "multiple-key", "kept"),
        "activation",
        "Some 300 rebuilds in 30 days",
    ),
    Case(
        "image-multiple-key-count",
        used(10, "multiple-key", "kept"),
        used(10, "key-server", "kept"),
        "activation",
        "must have 10 activations left",
        trial=False,
    ),
    # Source: Microsoft, Key Management Services (KMS) activation planning: 25 clients, clients and servers together
    Case(
        "image-key-server-few",
        [*used(20), *servers(4)],
        [*used(20), *servers(5)],
        "activation",
        "desktops from 25 machines on; this site plans 20 Below 25 it activates no desktop. Even with the 4 servers",
    ),
    Case(
        "image-key-server-barely",
        [*used(20), *servers(6)],
        used(25),
        "activation",
        "5 of the 6 servers listed must ask",
    ),
    Case(
        "image-key-server-missing",
        [image(), *servers(1, "directory")],
        [image(), *servers(1, "directory", "keys")],
        "activation",
        "office",
    ),
    # Source: Microsoft, Key Management Services (KMS) activation planning: two beyond 50 clients
    Case(
        "image-key-server-alone",
        [*used(51), *servers(1, "keys")],
        [*used(50), *servers(1, "keys")],
        "activation",
        "s-1 alone activates 51 machines Beyond 50 a second",
        trial=False,
    ),
    Case(
        "key-server-not-found",
        [APART, BARE, *used(30, network_id=BARE.id)],
        [APART, JOINED, NAMED, *used(30, network_id=NAMED.id)],
        "domain_suffix",
        "_vlmcs._tcp could stand",
    ),
    # Source: Microsoft, Windows subscription activation: requirements
    Case(
        "image-subscription-own-accounts",
        [APART, image("subscription")],
        [JOINED, image("subscription")],
        "activation",
        "the desktops join no domain",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.key)
def test_raised_and_not_raised(case):
    case.check()


def test_every_rule_has_a_case():
    assert rules_of("activation") == {case.key for case in CASES}


def test_few_and_barely_are_never_told_together():
    for listed in range(9):
        records = [*used(20), *servers(listed)]
        few, barely = (
            len(raised(f"image-key-server-{key}", *records)) for key in ("few", "barely")
        )
        assert (few, barely) == ((1, 0) if listed < 5 else (0, 1))


def test_rebuilds_at_each_sign_out_follow_the_sign_ins():
    one, template = used(10, "multiple-key", "sign-out")
    seats = make(f.SeatGroup, template_id=template.id, people=20, sign_ins_a_day=2.0)
    (found,) = raised("image-multiple-key-rebuilt", one, template, seats)
    assert "Some 1,200 rebuilds in 30 days" in found.text  # 20 × 2 × 30
    assert found.also == (template.ref.at("reset_rule"),)
    (found,) = raised("image-multiple-key-rebuilt", one, template)
    assert found.text.startswith("Every rebuild takes one")


def test_desktops_of_all_images_count_together_at_the_key_server():
    """Source: Microsoft, Plan for volume activation: the key server counts computers, whatever image they are of."""
    assert raised("image-key-server-few", *used(20), *used(5)) == []
    (found,) = raised("image-key-server-few", *used(19), *used(5))
    assert len(found.also) == 1
    assert raised("image-key-server-few", *used(None)) == []
    others = f.Assumed(key="activation.other-systems", value=5)
    assert raised("image-key-server-few", *used(20), others) == []
    (found,) = raised("image-key-server-few", *used(19), others)
    assert "plans 19 and 5 others" in found.title
