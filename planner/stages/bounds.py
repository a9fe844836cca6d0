"""Bounds of a measured value that follow from the plan: how many machines a key server must count, how long a
sign-in may take. The catalogue names them in ``low_from`` and ``high_from``."""

from __future__ import annotations

from collections.abc import Callable

from planner.engine.results import Results
from planner.record.facts import Image, Record

Bound = Callable[[Results, Record | None], float | None]
BOUNDS: dict[str, Bound] = {}
SERVER_SYSTEM = "server"  # how every publisher calls its server systems


def bound(function: Bound) -> Bound:
    BOUNDS[function.__name__.replace("_", "-")] = function
    return function


@bound
def activation_count(plan: Results, record: Record | None) -> float | None:
    """A key server activates desktop systems from one count on, and server systems from a smaller one."""
    if isinstance(record, Image):
        system = record.operating_system.casefold()
    else:
        system = ""
    if SERVER_SYSTEM in system.split():
        key = "server"
    else:
        key = "desktop"
    return plan.numbers[f"activation.{key}-count"]


@bound
def clock_seconds(plan: Results, record: Record | None) -> float | None:
    """How far one clock may be off its source, so that no two are apart by more than twice as much."""
    return plan.numbers["clock.proof-seconds"]


@bound
def sign_in_seconds(plan: Results, record: Record | None) -> float | None:
    return plan.numbers["seats.sign-in-seconds"]


@bound
def morning_seconds(plan: Results, record: Record | None) -> float | None:
    """At the busiest moment the wait for a desktop comes on top of the sign-in."""
    return plan.numbers["seats.sign-in-seconds"] + plan.numbers["seats.wait-target-seconds"]


@bound
def shutdown_minutes(plan: Results, record: Record | None) -> float | None:
    return plan.numbers["facility.ups-minutes"]
