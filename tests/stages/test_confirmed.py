"""Which lines of the port sheet somebody has seen pass, by the answers of the checks."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from planner import stages
from planner.catalogue import files as catalogue
from planner.plan import Plan
from planner.record import facts as f
from planner.record.choices import AnswerState
from planner.stages.confirmed import WHOLE_SHEET, Confirmation
from tests.engine.test_flows import small_site
from tests.engine.test_flows_decided import outside_site
from tests.factories import site_facts
from tests.papers.demo_facts import SITES, demo

MONDAY = dt.datetime(2026, 3, 2, 9, tzinfo=dt.UTC)


def answer(check: str, state: str = "proven", *, hours: int = 0) -> f.Answer:
    return f.Answer(
        check=check, state=state, by="A. Marsh", at=MONDAY + dt.timedelta(hours=hours), proof="seen"
    )


def confirmed(
    *records, answers: tuple[f.Answer, ...] = ()
) -> dict[str, list[tuple[str, Confirmation]]]:
    """The confirmations of each rule, each with its port."""
    plan = Plan(site_facts(*(records or small_site()), answers=answers))
    found: dict[str, list[tuple[str, Confirmation]]] = {}
    for flow, one in zip(plan.flows.flows, plan.confirmed, strict=True):
        found.setdefault(flow.rule, []).append((f"{flow.ports}/{flow.transport}", one))
    return found


def states(found: dict[str, list[tuple[str, Confirmation]]], rule: str) -> dict[str, str]:
    return {port: one.state for port, one in found[rule]}


def test_the_catalogue_names_checks_that_are_there():
    checks = stages.read().checks
    for key, entry in catalogue.load("ports")["rules"].items():
        for proof in entry["proofs"]:
            name, _, only = proof.partition(":")
            assert name in checks and name != WHOLE_SHEET, (key, proof)
            assert only in ("", "tcp", "udp", "443/tcp"), (key, proof)
    assert WHOLE_SHEET in checks


def test_nothing_is_confirmed_before_anybody_answered():
    assert {one.state for found in confirmed().values() for _, one in found} == {"open"}


def test_the_whole_sheet_proves_every_line():
    found = confirmed(answers=(answer(WHOLE_SHEET),))
    assert {one.state for rule in found.values() for _, one in rule} == {"proven"}
    assert {check.key for rule in found.values() for _, one in rule for check in one.checks} == {
        WHOLE_SHEET
    }


@pytest.mark.parametrize(
    ("state", "expected"), [("trust", "trust"), ("excused", "excused"), ("failed", "open")]
)
def test_what_is_not_proven_is_not_called_proven(state, expected):
    """Where the whole sheet failed nobody knows which line it was, so no line is called failed for it."""
    found = confirmed(answers=(answer(WHOLE_SHEET, state),))
    assert {one.state for rule in found.values() for _, one in rule} == {expected}


def test_a_check_of_one_record_proves_its_lines_alone():
    found = confirmed(answers=(answer("display-port-answers@image-1"), answer("key-server-found")))
    assert states(found, "display") == {
        "3389/tcp": "proven",
        "3389/udp": "open",
    }  # a picture came by TCP
    assert states(found, "activation") == {"1688/tcp": "proven"}
    assert states(found, "agent") == {"8443/tcp": "open", "9000-9010/udp": "open"}


def test_everybody_at_an_end_must_be_covered():
    first, second = answer("host-reachable@host-1"), answer("host-reachable@host-2")
    assert set(states(confirmed(answers=(first,)), "administer-hosts").values()) == {"open"}
    both = states(confirmed(answers=(first, second)), "administer-hosts")
    assert both == {"443/tcp": "proven", "22/tcp": "open"}  # its page was opened, nothing else
    on_trust = states(
        confirmed(answers=(first, dataclasses.replace(second, state="trust"))), "administer-hosts"
    )
    assert on_trust["443/tcp"] == "trust"
    failed = confirmed(answers=(first, dataclasses.replace(second, state="failed")))[
        "administer-hosts"
    ][0][1]
    assert failed.state == "failed" and [check.key for check in failed.checks] == [
        "host-reachable@host-2"
    ]


def test_desktops_proven_do_not_prove_the_appliances():
    """Desktops and appliances ask the same DNS servers in one line; a desktop's look-up shows nothing of the other."""
    found = confirmed(answers=(answer("desktop-dns@network-2"),))
    assert set(states(found, "dns").values()) == {"open"}
    alone = [one for one in small_site() if not isinstance(one, f.Appliance)]
    assert states(confirmed(*alone, answers=(answer("desktop-dns@network-2"),)), "dns") == {
        "53/udp": "proven",
        "53/tcp": "open",
    }


def test_of_two_looks_the_newest_counts():
    sheet, key = answer(WHOLE_SHEET), answer("key-server-found", "failed", hours=1)
    assert states(confirmed(answers=(sheet, key)), "activation") == {"1688/tcp": "failed"}
    again = answer(WHOLE_SHEET, hours=2)
    assert states(confirmed(answers=(again, key)), "activation") == {"1688/tcp": "proven"}
    trust = answer("key-server-found", "trust", hours=3)
    assert states(confirmed(answers=(sheet, trust)), "activation") == {
        "1688/tcp": "proven"
    }  # a look beats a word


def test_own_flows_are_proven_by_the_whole_sheet_alone():
    own = f.OwnFlow(
        id=7, name="records", from_network_id=2, to_network_id=3, transport="tcp", ports="5432"
    )
    found = confirmed(*small_site(), own, answers=(answer(WHOLE_SHEET),))
    assert states(found, "own") == {"5432/tcp": "proven"}


def test_the_way_in_from_outside():
    found = confirmed(*outside_site(), answers=(answer("outside-sign-in-works"),))
    assert set(states(found, "outside").values()) == {"proven"}
    assert states(found, "outside-display") == {"3389/tcp": "proven", "3389/udp": "open"}


def test_a_desktop_whose_image_nobody_knows_is_not_proven():
    bare = f.Template(id=2, name="workshop", network_id=2)
    found = confirmed(*small_site(), bare, answers=(answer("agent-ports-open@image-1"),))
    assert set(states(found, "agent").values()) == {"open"}
    found = confirmed(answers=(answer("agent-ports-open@image-1"),))
    assert set(states(found, "agent").values()) == {"proven"}


@pytest.mark.parametrize("name", SITES)
def test_every_line_of_the_demo_has_one(name):
    facts, kinds = demo(name), ("proven", "trust", "excused", "failed")
    given = (answer(key, kinds[at % 4]) for at, key in enumerate(Plan(facts).stages.checks))
    plan = Plan(dataclasses.replace(facts, answers=tuple(given)))
    assert len(plan.confirmed) == len(plan.flows.flows)
    for one in plan.confirmed:
        assert AnswerState.holds(one.state) and bool(one.checks) is (one.state != "open")
