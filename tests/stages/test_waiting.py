"""Waiting times of the engine in the steps of a run sheet."""

from __future__ import annotations

import pytest

from planner.catalogue.files import CatalogueError
from planner.engine.recovery.outages import waits
from planner.record import facts as f
from planner.stages import read, reading
from planner.stages.entries import WAITS
from tests.engine.recovery_cases import desk, host, image, network, number
from tests.factories import make, plan_of

NET = network()
H1, H2 = host(NET), host(NET, "h2")
OFFICE, LAB = image(), image(name="lab", used_gib=None, disk_gib=None)
BROKER = make(f.Appliance, name="b1", host_id=H1.id, memory_gib=4)
SITE = [NET, H1, H2, OFFICE, LAB, BROKER]


def steps(*records):
    return plan_of(*records).stages.steps


def test_a_copy_takes_what_the_line_needs_and_what_hands_need_beside_it():
    """40 GiB over 1 Gbit/s are 6.03 minutes; hands need 2, 5 or 15; a copy likely takes 1.25 times as long, at
    the longest twice."""
    step = steps(*SITE, desk(most=4))[f"copy-to-hosts@image-{OFFICE.id}"]
    wait = 40 * 2**30 * 8 / (1e9 * 1460 / 1538) / 60
    assert step.wait_minutes == pytest.approx(wait) and wait == pytest.approx(6.03, abs=5e-3)
    assert step.minutes == pytest.approx((2 + wait, 5 + 1.25 * wait, 15 + 2 * wait))


def test_a_time_nobody_can_tell_leaves_the_catalogues():
    step = steps(*SITE, desk(most=4))[f"copy-to-hosts@image-{LAB.id}"]
    assert step.wait == "image-to-hosts" and step.wait_minutes is None
    assert step.minutes == read().steps["copy-to-hosts"].minutes


def test_waits_of_the_site_serve_every_record():
    template = desk(most=4)
    found = steps(*SITE, template)
    assert found[f"start-first-desktops@template-{template.id}"].wait_minutes == pytest.approx(
        150 * 1.15 / 60
    )
    plan = plan_of(*SITE, template)
    assert found["take-host-down"].wait_minutes == waits(plan.recovery)["failover"]


def test_the_sites_own_factors_are_used():
    own = number("stages.wait-likely", 3), number("stages.wait-longest", 2)
    shortest, likely, longest = steps(*SITE, desk(most=4), *own)[
        f"copy-to-hosts@image-{OFFICE.id}"
    ].minutes
    wait = shortest - 2
    assert (likely, longest) == pytest.approx(
        (5 + 3 * wait, 15 + 3 * wait)
    )  # never longest below likely


def test_a_step_that_waits_for_nothing_has_the_catalogues_minutes():
    for step in steps(*SITE, desk(most=4)).values():
        if not step.wait:
            assert step.wait_minutes is None
            assert step.minutes == read().steps[step.key.partition("@")[0]].minutes


def test_every_wait_of_the_catalogue_is_one_the_engine_gives():
    named = {step.wait for step in read().steps.values()} - {""}
    assert named <= set(WAITS) == {key for key in waits(plan_of().recovery) if "@" not in key}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"hands": [1, 2, 3]}, "hands"),
        ({"wait": "failover"}, "hands"),
        ({"wait": "failover", "hands": [3, 2, 1]}, "hands"),
        ({"wait": "failover", "hands": [1, 2]}, "hands"),
        ({"wait": "a-bus", "hands": [1, 2, 3]}, "a-bus"),
    ],
)
def test_hands_stand_beside_a_wait_and_only_there(changes, words):
    step = {
        "stage": 7,
        "chapter": 8,
        "title": "a",
        "do": "b",
        "expect": "c",
        "otherwise": "d",
        "back": "e",
        "minutes": [1, 2, 3],
        "attended": True,
    }
    assert reading._entry(reading.StepEntry, "steps", "a-step", dict(step))
    with pytest.raises(CatalogueError, match=words):
        reading._entry(reading.StepEntry, "steps", "a-step", {**step, **changes})


def test_checks_and_gates_alone_do_not_work_out_the_times():
    plan = plan_of(*SITE, desk(most=4))
    assert plan.stages.total > 0
    assert "recovery" not in vars(plan)
    assert plan.stages.steps and "recovery" in vars(plan)
