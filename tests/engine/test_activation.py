"""Activation and licences, worked by hand; against a key server kept event by event: tests/references."""

from __future__ import annotations

import pytest

from planner.catalogue.files import load
from planner.engine.people.activation import RECORD
from planner.record import facts as f
from tests.factories import make, plan_of


def planned(most=20, kind="key-server", rule="nightly", **values):
    """An image and a template made from it."""
    image = make(f.Image, name="office", activation=kind)
    return [
        image,
        make(
            f.Template, name="front desk", image_id=image.id, most=most, reset_rule=rule, **values
        ),
    ]


def servers(count, *roles):
    return [make(f.Server, name=f"s-{number}", roles=roles) for number in range(count)]


def activation(*records, **values):
    return plan_of(*records, **values).activation


# Source: Microsoft, Key Management Services (KMS) activation planning: clients from a count of 25, servers from 5;
# Volume Activation Planning Guide: both kinds count together
@pytest.mark.parametrize(
    ("desktops", "listed", "alone", "together", "for_servers"),
    [
        (24, 0, False, False, True),
        (25, 0, True, True, True),
        (20, 5, False, True, True),
        (20, 4, False, False, True),
        (4, 0, False, False, False),
        (0, 5, False, False, True),
    ],
)
def test_what_a_key_server_counts(desktops, listed, alone, together, for_servers):
    found = activation(*planned(desktops), *servers(listed)).key_server
    assert (found.count, found.count_with_servers) == (desktops, desktops + listed)
    assert (found.activates, found.activates_with_servers, found.activates_servers) == (
        alone,
        together,
        for_servers,
    )


def test_others_that_ask_it_are_an_assumption():
    found = activation(*planned(20), f.Assumed(key="activation.other-systems", value=5)).key_server
    assert (found.count, found.activates) == (25, True)


def test_desktops_of_all_its_images_count_and_no_others():
    found = activation(
        *planned(20), *planned(6), *planned(50, "subscription"), *servers(2, "keys")
    ).key_server
    assert (found.desktops, len(found.image_ids), len(found.server_ids)) == (26, 2, 2)
    assert activation(*planned(50, "none")).key_server is None


def test_the_publishers_days():
    """Source: Microsoft, Key Management Services (KMS) activation planning: 30 days counted, 180 valid, renewed
    every 7; Volume Activation Planning Guide: asked again after 2 hours; TCP 1688."""
    found = activation(*planned()).key_server
    assert (found.window_days, found.valid_days, found.renew_days, found.retry_hours) == (
        30,
        180,
        7,
        2,
    )
    assert load("ports")["ports"]["key-server"]["port"] == "1688"


def test_where_desktops_look_for_the_record():
    """Source: Microsoft, Volume Activation Planning Guide: _vlmcs._tcp in the machine's own DNS domain."""
    network = make(f.Network, name="desktops", domain_suffix="Branch.Example.")
    joined = f.Directory(directory_kind="domain", domain="corp.example")
    apart = f.Directory(directory_kind="own-accounts", domain="corp.example")
    records = planned(network_id=network.id)
    assert activation(*records, network, joined).key_server.records == ("_vlmcs._tcp.corp.example",)
    assert activation(*records, network, apart).key_server.records == (f"{RECORD}.branch.example",)
    bare = make(f.Network, name="bare")
    found = activation(*planned(network_id=bare.id), bare, apart).key_server
    assert (found.records, found.without_domain) == ((), (bare.id,))


def test_nothing_is_guessed_where_most_is_not_known():
    found = activation(*planned(20), *planned(None)).key_server
    assert (found.count, found.activates, found.missing) == (
        None,
        None,
        ("the most of front desk",),
    )
    alone = activation(make(f.Image, name="office", activation="key-server")).key_server
    assert alone.activates is None and alone.missing


@pytest.mark.parametrize(
    ("rule", "a_month"),
    # 10 desktops: 30 nights; 30 ÷ 7 weeks; 20 people signing in twice on each of 30 days. Source: worked by hand
    [("kept", 0.0), ("nightly", 300.0), ("weekly", 300 / 7), ("sign-out", 1200.0), ("", None)],
)
def test_what_rebuilding_takes_from_a_multiple_activation_key(rule, a_month):
    image, template = planned(10, "multiple-key", rule)
    group = make(f.SeatGroup, template_id=template.id, people=20, sign_ins_a_day=2.0)
    (found,) = activation(image, template, group).images
    assert found.activations_a_month == (None if a_month is None else pytest.approx(a_month))
    assert found.desktops == 10 and bool(found.rebuilt) is (
        rule in ("nightly", "weekly", "sign-out")
    )
    (other,) = activation(*planned(10, "key-server", "nightly")).images
    assert other.activations_a_month == 0


def licence(basis, *groups, held=10, hosts=0, most=10):
    image, template = planned(most)
    seats = [
        make(f.SeatGroup, name="desk", template_id=template.id, people=people, share_at_once=share)
        for people, share in groups
    ]
    application = make(
        f.Application, name="records", image_id=image.id, licensed_by=basis, licences_held=held
    )
    machines = [make(f.Host, name=f"h{n}") for n in range(hosts)]
    plan = plan_of(
        image,
        template,
        application,
        *seats,
        *machines,
        make(f.Host, name="cupboard", state="spare"),
    )
    return plan.activation.licence(application.id)


@pytest.mark.parametrize(
    ("basis", "needed"),
    # at once: 12 people at a half and 5 at 0.3: P(more than 12) = 0.62 %, P(more than 11) = 2.3 %, by numpy.convolve
    # of scipy.stats.binom; the rest counted by hand
    [("people", 17), ("at-once", 12), ("devices", 10), ("hosts", 2), ("free", 0)],
)
def test_licences_by_basis(basis, needed):
    found = licence(basis, (12, 0.5), (5, 0.3), hosts=2, held=5)
    assert (found.needed, found.held, found.short, found.missing) == (
        needed,
        5,
        max(0, needed - 5),
        (),
    )


def test_licences_that_cannot_be_counted_say_why():
    assert licence("at-once", (12, None)).missing == ("the share at once of desk",)
    assert licence("people", (None, 0.5)).missing == ("the people of desk",)
    assert licence("people").missing == ("who uses front desk",)
    assert licence("devices", most=None).missing == ("the most of front desk",)
    assert licence("hosts").missing == ("a host",)
    assert licence("").missing == ("how records is licensed",)
    assert licence("people", (12, 0.5), held=None).missing == ("how many records are held",)
    assert licence("people", (12, 0.5), held=None).short is None
    alone = make(f.Application, name="records", licensed_by="people", licences_held=1)
    found = activation(alone).licence(alone.id)
    assert found.missing == ("a template with records",) and found.needed is None
    assert activation().licence(99) is None
