"""Parts of the book that are printed on their own: what each holds, and what is left out of the facts for it.

What a part must not say is taken out of the facts it is printed from, so that no chapter needs to
remember it. Findings keep the numbers they have in the whole book.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from planner.plan import Plan
from planner.record.choices import SeatKind
from planner.record.facts import RECORD_FIELDS, Built, Record, SiteFacts

WHOLE = "whole"
KEPT = ("placement", "surge", "stages", "day")  # rooms that are the whole plan's in every part
LOOK_UP = (
    "Look up the fingerprint. Open the site on screen and compare the code at the head of its page with the one above. "
    "If they are the same, this paper is the plan. If not, the plan has moved since this was printed: ask for a new "
    "one, or work only on what both agree on."
)
NUMBERS = (
    "Chapters and sections bear the same numbers here as on screen, so two people on the telephone can say “look at "
    "3.2”."
)
BUILT = (
    "Write what was really built into the column “Built”, answer each check in chapter 10 with one of its circles, "
    "and enter both on screen afterwards. Read the cautions before you touch anything."
)


@dataclass(frozen=True, slots=True)
class Part:
    """One way to print the book. ``holds`` says what is in it, ``use`` how it is used.

    ``notes`` are the chapters and sections whose findings are printed, ``None`` is all of them. Without
    ``people`` nobody's name is printed; without ``internal`` no proof, host or address of the inside is.
    """

    slug: str
    title: str
    holds: str
    use: tuple[str, ...] = (LOOK_UP, NUMBERS)
    notes: frozenset[str] | None = None
    people: bool = True
    internal: bool = True
    reduced: Callable[[SiteFacts], SiteFacts] | None = None


def for_network(facts: SiteFacts) -> SiteFacts:
    """Without contacts, credentials, notes and the names of those who said something."""
    kept = tuple(dataclasses.replace(one, by="", reason="") for one in facts.acceptances)
    groups = tuple(
        dataclasses.replace(one, name="one person") if one.seat_kind == SeatKind.PERSON else one
        for one in facts.seat_groups
    )
    return dataclasses.replace(
        _without_notes(facts),
        contacts=(),
        credentials=(),
        acceptances=kept,
        signatures=(),
        answers=(),
        seat_groups=tuple(dataclasses.replace(one, note="") for one in groups),
    )


def for_customer(facts: SiteFacts) -> SiteFacts:
    """Without credentials and notes."""
    return dataclasses.replace(_without_notes(facts), credentials=())


def _without_notes(facts: SiteFacts) -> SiteFacts:
    def plain(record: Record) -> Any:
        if record.note and not isinstance(record, Built):
            return dataclasses.replace(record, note="")
        return record

    lists = {name: getattr(facts, name) for name in RECORD_FIELDS}
    made: dict[str, Any] = {
        name: tuple(map(plain, one)) if isinstance(one, tuple) else plain(one)
        for name, one in lists.items()
    }
    return dataclasses.replace(facts, site=plain(facts.site), **made)


def reduced(plan: Plan, part: Part) -> Plan:
    """The plan that a part is printed from."""
    if part.reduced is None:
        return plan
    from planner.plan import Plan

    found = Plan(part.reduced(plan.facts))
    for room in KEPT:
        found.__dict__[room] = getattr(plan, room)
    found.__dict__["fingerprint"] = plan.fingerprint
    return found


PARTS: tuple[Part, ...] = (
    Part(
        WHOLE,
        "Build book",
        "Everything: chapters 0 to 11, run sheets, drawings, sources.",
        (LOOK_UP, NUMBERS, BUILT),
    ),
    Part(
        "run-sheets",
        "Run sheets",
        "For the work on site: cautions, whom to ring, where secrets are kept, the on-site day, the run sheets of all "
        "eight stages.",
        (
            LOOK_UP,
            NUMBERS,
            "Tick each step, answer each check with one of its circles, and enter both on screen "
            "afterwards. Read the cautions before you touch anything.",
        ),
        notes=frozenset(("1.4", "5.5", "10", "10.9", "10.10", "10.11")),
    ),
    Part(
        "network",
        "Network owner's part",
        "For whoever runs the switches and the firewall: networks, drawing of the site, address sheet, port sheet. "
        "No people, no credentials, no notes.",
        (
            LOOK_UP,
            NUMBERS,
            "Tick a port when somebody has tried it from one end to the other, and write what was "
            "really built into the column “Built”.",
        ),
        notes=frozenset(("2", "2.1", "2.2", "9", "9.3")),
        people=False,
        reduced=for_network,
    ),
    Part(
        "customer",
        "Customer's part",
        "For those who will work with it: what was agreed, seats, mornings, times to start again, how far the work is, "
        "acceptance tests, sign-off. No addresses, accounts or findings.",
        (
            LOOK_UP,
            NUMBERS,
            "Chapters that are missing here are about the inside of the installation.",
        ),
        notes=frozenset(),
        internal=False,
        reduced=for_customer,
    ),
)
BY_SLUG = {part.slug: part for part in PARTS}
