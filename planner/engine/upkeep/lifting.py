"""Lifting a machine into its place in a rack: how much for one, for two, or for nobody's hands.

Not the weight of a box held close: the revised NIOSH lifting equation takes away from the load constant for the reach,
the height, the way up, the twist and the grip. It speaks of one person with two hands; of two people it says
nothing, so that two are each worked out by themselves, beside the machine, and then share as HSE says.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers

LEAST_REACH_CM = 25.0  # nearer than this the body is in the way
MOST_REACH_CM = 63.0
BEST_HEIGHT_CM = 75.0  # knuckles of somebody who stands
MOST_HEIGHT_CM = 175.0
LEAST_WAY_CM = 25.0
MOST_WAY_CM = 175.0
MOST_TWIST = 135.0


@dataclass(frozen=True, slots=True)
class Limits:
    """The most that one person, and two, lift into a rack here, in kg."""

    alone_kg: float
    two_kg: float

    def people(self, weight_kg: float) -> int | None:
        """1, 2, or ``None``: not by hand."""
        if weight_kg <= self.alone_kg:
            return 1
        if weight_kg <= self.two_kg:
            return 2
        return None

    def index(self, weight_kg: float) -> float | None:
        """The lifting index of one person: the weight by the limit; above 1 the risk grows."""
        if self.alone_kg:
            return weight_kg / self.alone_kg
        return None


def recommended_kg(
    load_constant_kg: float,
    reach_cm: float,
    height_cm: float,
    way_cm: float,
    twist_degrees: float = 0.0,
    grip: float = 1.0,
) -> float:
    """The recommended weight limit: load constant times the multipliers of reach, height, way, twist and grip.

    The multiplier of frequency is 1: one lift in five minutes or fewer, for less than an hour. Outside the
    equation's bounds nothing is recommended, which is 0.

    Source: NIOSH Publication No. 94-110 (revised 9/2021), Applications Manual for the Revised NIOSH Lifting Equation,
    sections 1.3.1 to 1.3.6.
    """
    reach, way = max(reach_cm, LEAST_REACH_CM), max(way_cm, LEAST_WAY_CM)
    if reach > MOST_REACH_CM or way > MOST_WAY_CM or not 0 <= height_cm <= MOST_HEIGHT_CM:
        return 0.0
    if not 0 <= twist_degrees <= MOST_TWIST:
        return 0.0
    of_reach = LEAST_REACH_CM / reach
    of_height = 1 - 0.003 * abs(height_cm - BEST_HEIGHT_CM)
    of_way = 0.82 + 4.5 / way
    of_twist = 1 - 0.0032 * twist_degrees
    return load_constant_kg * of_reach * of_height * of_way * of_twist * grip


def limits(numbers: Numbers) -> Limits:
    """The limits at this site's racks. Two manage two thirds of what each manages (HSE L23)."""
    alone = _at_reach(numbers, "lifting.reach-cm")
    each = _at_reach(numbers, "lifting.reach-of-two-cm")
    return Limits(alone, 2 * max(alone, each) * numbers["facility.lift-two-share"])


def _at_reach(numbers: Numbers, reach: str) -> float:
    return recommended_kg(
        numbers["host.lift-alone-kg"],
        numbers[reach],
        numbers["lifting.height-cm"],
        numbers["lifting.way-cm"],
        numbers["lifting.twist-degrees"],
        numbers["lifting.grip"],
    )
