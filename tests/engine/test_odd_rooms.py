"""Whatever the facts and the assumptions are, the room, the clocks and the lifecycles are worked out and worded."""

from __future__ import annotations

import dataclasses

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.catalogue.assumptions import listed
from planner.engine.upkeep.facility import CAUTIONS
from planner.engine.upkeep.lifecycles import listed as rows
from planner.plan import Plan
from planner.record import facts as f
from planner.review.base import RULES, entries
from tests.shares import share
from tests.stages.odd import REAL, facts

GROUPS = ("facility", "clocks", "lifecycles")
KEYS = [
    key
    for key in listed()
    if key.startswith(("facility.", "clock.", "host.lift", "lifting.", "image.support"))
]
ASSUMED = st.lists(st.builds(f.Assumed, key=st.sampled_from(KEYS), value=REAL), max_size=8).map(
    tuple
)
SYSTEMS = st.lists(st.sampled_from([row.label for row in rows()]), max_size=3)


@settings(max_examples=share(40, of=100), deadline=None, suppress_health_check=list(HealthCheck))
@given(facts(["x"]), ASSUMED, SYSTEMS)
def test_nothing_is_ever_raised(odd, assumed, systems):
    images = tuple(
        f.Image(id=number, operating_system=system) for number, system in enumerate(systems)
    )
    plan = Plan(dataclasses.replace(odd, assumed=assumed, images=(*odd.images, *images)))
    room, clocks, lives = plan.facility, plan.clocks, plan.lifecycles
    assert room.cautions == CAUTIONS
    assert {name for circuit in room.circuits for name in circuit} <= {
        host.name for host in room.hosts
    }
    assert all(not (taker.roots and taker.loop) for taker in clocks.takers)
    assert {taker.label for taker in clocks.apart} <= {taker.label for taker in clocks.takers}
    assert len(lives.images) == len(plan.facts.images)
    for key, function in RULES.items():
        if function.__module__.rpartition(".")[2] in GROUPS:
            entry = entries()[key]
            for hit in function(plan):
                for words in (entry.title, entry.text, entry.mend if hit.mend else ""):
                    assert isinstance(words.format(**hit.words), str)
