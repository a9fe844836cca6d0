"""The check that tries the whole port sheet is answered for the lines as they are, and opens again when they move."""

from __future__ import annotations

import dataclasses
import re

import pytest

from planner.papers.sheets.ports import port_sheet
from planner.plan import Plan
from planner.record import facts as f
from planner.record.facts import SiteFacts
from tests.factories import TODAY, make
from tests.stages.examples import bare, clinic


def value_of(facts: SiteFacts) -> str:
    return Plan(facts).stages.checks["flows-open"].value


def proven(facts: SiteFacts) -> SiteFacts:
    """The site with the check answered for the port sheet as it is."""
    return dataclasses.replace(
        facts, answers=(f.Answer(check="flows-open", state="proven", value=value_of(facts)),)
    )


def state(facts: SiteFacts) -> str:
    return Plan(facts).stages.checks["flows-open"].state


def changed(facts: SiteFacts, records: str, /, **values) -> SiteFacts:
    """The site with the first record of a list changed, or its one service."""
    held = getattr(facts, records)
    if isinstance(held, tuple):
        return dataclasses.replace(
            facts, **{records: (dataclasses.replace(held[0], **values), *held[1:])}
        )
    return dataclasses.replace(facts, **{records: dataclasses.replace(held, **values)})


def test_the_value_counts_the_lines_and_bears_a_code():
    plan = Plan(clinic())
    assert re.fullmatch(
        rf"{len(plan.flows.flows)} lines, code [0-9A-HJKMNP-TV-Z]{{4}}", value_of(clinic())
    )
    check = plan.stages.checks["flows-open"]
    assert (check.value_name, check.ref, check.chapter) == ("port sheet", None, 9)
    assert port_sheet(plan).title.endswith(
        check.value
    )  # the paper names the state that the check is about


OWN = make(
    f.OwnFlow, name="Door system", from_what="door", to_what="clock", transport="tcp", ports="8000"
)
MOVES = {
    "a flow more": lambda facts: dataclasses.replace(facts, flows=(OWN,)),
    "another port": lambda facts: changed(facts, "service", agent_ports=("8444/tcp",)),
    "another address": lambda facts: changed(facts, "hosts", address="10.44.0.99"),
    "another subnet": lambda facts: changed(facts, "networks", cidr="10.44.8.0/24"),
    "no firewall between": lambda facts: changed(
        facts, "networks", reaches=(facts.networks[1].id,)
    ),
    "a host less": lambda facts: dataclasses.replace(facts, hosts=facts.hosts[1:]),
}
STAYS = {
    "a contact's name": lambda facts: changed(facts, "contacts", name="Somebody else"),
    "an appliance's name": lambda facts: changed(facts, "appliances", name="another-name"),
    "a note": lambda facts: changed(facts, "hosts", note="Behind the door."),
    "the order of the hosts": lambda facts: dataclasses.replace(facts, hosts=facts.hosts[::-1]),
    "another day": lambda facts: dataclasses.replace(
        facts, today=TODAY.replace(year=TODAY.year + 1)
    ),
}


@pytest.mark.parametrize("name", MOVES)
def test_it_opens_again_when_a_line_moves(name):
    facts = proven(clinic())
    assert state(facts) == "proven"
    moved = Plan(MOVES[name](facts)).stages.checks["flows-open"]
    assert (moved.state, moved.moved) == ("open", True)
    assert moved.value in moved.moved_words


@pytest.mark.parametrize("name", STAYS)
def test_it_stays_answered_when_no_line_moves(name):
    facts = proven(clinic())
    assert STAYS[name](facts) != facts
    assert state(STAYS[name](facts)) == "proven"


def test_an_own_flow_that_only_gives_another_reason_moves_nothing():
    facts = proven(dataclasses.replace(clinic(), flows=(OWN,)))
    assert state(changed(facts, "flows", name="The door system's clock")) == "proven"
    assert state(changed(facts, "flows", ports="8001")) == "open"


def test_a_name_tells_ends_apart_while_nobody_knows_an_address():
    facts = bare()
    assert value_of(changed(facts, "hosts", name="one")) != value_of(
        changed(facts, "hosts", name="two")
    )
