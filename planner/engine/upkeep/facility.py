"""Facility: what the hosts ask of a room: power, cooling, time on batteries, height in a rack, hands.

The facts have no field for the mains, the breakers or the cooling: those are assumptions, set for
the house or the site. Nothing here replaces the local electrical code or a licensed electrician.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers
from planner.engine.placement.capacity import counting_hosts, known, positive
from planner.engine.upkeep.circuits import spread
from planner.engine.upkeep.lifting import Limits, limits
from planner.record.facts import Host, Id, Ref, SiteFacts
from planner.record.units import show

BTU_AN_HOUR = (
    3600 / 1055.05585262
)  # of one watt: 3.412. Source: NIST SP 811, appendix B.8, Btu (International Table)
RACK_UNIT_MM = 44.45  # Source: EIA-310, IEC 60297 (as quoted, not opened)


@dataclass(frozen=True, slots=True)
class Lifting:
    """Who lifts a host into its rack: ``people`` is 1 or 2; ``None`` means that it is too much for two by hand.

    ``index`` is the lifting index of one person, ``None`` where the assumptions leave nothing to lift.
    """

    host_id: Id
    name: str
    weight_kg: float
    people: int | None
    index: float | None

    @property
    def words(self) -> str:
        words = {
            1: "one person, at the most",
            2: "at least two people",
            None: "a lift, or parts taken out first",
        }
        return words[self.people]


@dataclass(frozen=True, slots=True)
class HostLoad:
    """One counting host: watts it draws, amperes, heat in BTU/h, height in rack units and mm.

    ``share`` is its part of what one circuit may carry (1 is all of it). ``None`` where the facts do not say.
    """

    host_id: Id
    name: str
    rated_watts: float | None
    watts: float | None
    amperes: float | None
    heat_btu_h: float | None
    share: float | None
    rack_units: int | None
    height_mm: float | None


@dataclass(frozen=True, slots=True)
class Facility:
    """What a room must give. Totals are ``None`` while one counting host's figure is not known.

    ``at_least_watts`` and ``circuits`` are of the hosts that are known, so they bound the rest from
    below. ``circuits`` says which hosts could share one; ``too_large`` fit none. A host with two
    supplies goes on two circuits that each carry it alone: then ``circuits_for_two_supplies``.
    ``ups_minutes`` is an upper bound: no loss in the inverter, batteries new and full.
    """

    hosts: tuple[HostLoad, ...]
    lifting: tuple[Lifting, ...]
    lift_limits: Limits
    rated_watts: float | None
    watts: float | None
    at_least_watts: float
    amperes: float | None
    heat_btu_h: float | None
    cooling_kw: float | None
    volts: float | None
    breaker_amperes: float | None
    circuit_amperes: float | None
    circuit_watts: float | None
    circuits: tuple[tuple[str, ...], ...]
    circuits_needed: int | None
    hosts_a_circuit: int | None
    circuits_free: int | None
    too_large: tuple[str, ...]
    cooling_free_kw: float | None
    ups_wh: float | None
    ups_minutes: float | None
    rack_units: int | None
    at_least_rack_units: int
    rack_height_mm: float | None
    rack_units_free: int | None
    inlet: str
    missing: tuple[str, ...]
    missing_at: tuple[Ref, ...]
    cautions: tuple[str, ...]

    @property
    def circuits_for_two_supplies(self) -> int | None:
        if self.circuits_needed is None:
            return None
        return 2 * self.circuits_needed


# -- Formulas -------------------------------------------------------------------------------------


def amperes(watts: float, volts: float, power_factor: float = 1.0) -> float:
    """Amperes a single-phase load of ``watts`` draws: W / (V × power factor). Both must be positive."""
    return watts / (volts * power_factor)


def continuous_amperes(breaker_amperes: float, share: float = 0.8) -> float:
    """What a circuit may carry for three hours or more, in amperes.

    Source: NFPA 70 210.19(A), 210.20(A), as quoted in trade pages: conductors and breaker at least 125 % of a
    continuous load.
    """
    return breaker_amperes * share


def btu_an_hour(watts: float) -> float:
    """Heat in BTU/h of ``watts``: all electric power becomes heat. Source: NIST SP 811, appendix B.8."""
    return watts * BTU_AN_HOUR


def ups_minutes(watt_hours: float, watts: float) -> float:
    """The longest a battery of ``watt_hours`` can carry ``watts`` (positive), in minutes: energy / power.

    An upper bound: inverter, age, cold and a high load only take away from it.
    """
    return watt_hours / watts * 60


# -- The room -------------------------------------------------------------------------------------


def work_out(facts: SiteFacts, numbers: Numbers) -> Facility:
    """What the counting hosts ask of the room; spare hosts stand in a cupboard, but are lifted too."""
    mains = _Mains(numbers)
    hosts = tuple(mains.load(host) for host in counting_hosts(facts))
    draws = [one.watts for one in hosts]
    heights = [one.rack_units for one in hosts]
    at_least = math.fsum(watts for watts in draws if watts)
    if None in draws:
        watts = None
    else:
        watts = at_least
    circuits, too_large = mains.circuits(hosts)
    whole = mains.circuit_watts is not None and watts is not None and not too_large
    wh, units_free, cooling = (
        _counted(numbers, key) for key in ("ups-wh", "rack-units-free", "cooling-kw")
    )
    free = _counted(numbers, "circuits-free")
    lift_limits = limits(numbers)
    units_known = sum(height for height in heights if height)
    if None in heights:
        units = None
    else:
        units = units_known
    missing = [(one, "rated_watts", "rated power") for one in hosts if one.watts is None]
    missing += [(one, "rack_units", "rack units") for one in hosts if one.rack_units is None]
    return Facility(
        hosts=hosts,
        lifting=_lifting(facts, lift_limits),
        lift_limits=lift_limits,
        rated_watts=None if watts is None else math.fsum(one.rated_watts or 0 for one in hosts),
        watts=watts,
        at_least_watts=at_least,
        amperes=None if watts is None else mains.amperes(watts),
        heat_btu_h=None if watts is None else btu_an_hour(watts),
        cooling_kw=None if watts is None else watts / 1000,
        volts=mains.volts,
        breaker_amperes=mains.breaker,
        circuit_amperes=mains.circuit_amperes,
        circuit_watts=mains.circuit_watts,
        circuits=circuits,
        circuits_needed=len(circuits) if whole else None,
        hosts_a_circuit=mains.hosts_a_circuit(hosts),
        circuits_free=None if free is None else int(free),
        too_large=too_large,
        cooling_free_kw=cooling,
        ups_wh=wh,
        ups_minutes=ups_minutes(wh, watts) if wh and watts else None,
        rack_units=units,
        at_least_rack_units=units_known,
        rack_height_mm=None if units is None else units * RACK_UNIT_MM,
        rack_units_free=None if units_free is None else int(units_free),
        inlet=_inlet(numbers),
        missing=tuple(f"{one.name}: {words}" for one, _, words in missing),
        missing_at=tuple(Ref("host", one.host_id, field) for one, field, _ in missing),
        cautions=CAUTIONS,
    )


CAUTIONS = (
    "Mains power kills. The local electrical code and a licensed electrician decide what a circuit carries and who "
    "may connect it.",
    "Only the hosts are counted. Switches, storage, screens and whatever else hangs on a circuit come on top.",
    "A host with two supplies goes on two circuits, and each must carry it alone when the other fails.",
    "Local rules on lifting decide. Who lifts is worked out for a rack at the reach, height and way up of 8.11: a "
    "deeper reach, a higher place or a twist takes away from it, and so does whoever is not in good health.",
)


class _Mains:
    """The circuit the loads are held against; ``None`` where an assumption makes no sense."""

    def __init__(self, numbers: Numbers):
        self.volts = positive(numbers["facility.voltage"])
        self.breaker = positive(numbers["facility.circuit-amperes"])
        self.factor = positive(numbers["facility.power-factor"])
        self.drawn = positive(numbers["facility.drawn-share"])
        share = positive(numbers["facility.continuous-share"])
        self.circuit_amperes = (
            continuous_amperes(self.breaker, share) if self.breaker and share else None
        )
        self.circuit_watts = None
        if self.circuit_amperes and self.volts and self.factor:
            self.circuit_watts = positive(self.circuit_amperes * self.volts * self.factor)

    def amperes(self, watts: float) -> float | None:
        if self.volts and self.factor:
            return amperes(watts, self.volts, self.factor)
        return None

    def load(self, host: Host) -> HostLoad:
        rated, units = positive(host.rated_watts), positive(host.rack_units)
        if rated and self.drawn:
            watts = positive(rated * self.drawn)
        else:
            watts = None
        return HostLoad(
            host_id=host.id,
            name=host.label,
            rated_watts=rated,
            watts=watts,
            amperes=None if watts is None else self.amperes(watts),
            heat_btu_h=None if watts is None else btu_an_hour(watts),
            share=watts / self.circuit_watts if watts and self.circuit_watts else None,
            rack_units=None if units is None else int(units),
            height_mm=None if units is None else int(units) * RACK_UNIT_MM,
        )

    def circuits(
        self, hosts: tuple[HostLoad, ...]
    ) -> tuple[tuple[tuple[str, ...], ...], tuple[str, ...]]:
        """Which of the known hosts share a circuit, and those that none carries."""
        if self.circuit_watts is None:
            return (), ()
        loads = [one.watts or 0.0 for one in hosts]
        found = spread(loads, self.circuit_watts)
        placed = {number for circuit in found for number in circuit}
        over = tuple(
            one.name for number, one in enumerate(hosts) if one.watts and number not in placed
        )
        return tuple(tuple(hosts[number].name for number in circuit) for circuit in found), over

    def hosts_a_circuit(self, hosts: tuple[HostLoad, ...]) -> int | None:
        """How many of the largest known host one circuit carries."""
        largest = max((one.watts for one in hosts if one.watts), default=None)
        if largest and self.circuit_watts:
            return int(self.circuit_watts / largest * (1 + 1e-9))
        return None


def _counted(numbers: Numbers, key: str) -> float | None:
    """An assumption whose 0 means that nobody has counted."""
    return positive(numbers[f"facility.{key}"])


def _lifting(facts: SiteFacts, most: Limits) -> tuple[Lifting, ...]:
    weights = [(host, positive(host.weight_kg)) for host in facts.hosts]
    return tuple(
        Lifting(host.id, host.label, weight, most.people(weight), most.index(weight))
        for host, weight in weights
        if weight
    )


def _inlet(numbers: Numbers) -> str:
    least, most = (known(numbers[f"facility.inlet-{end}-c"]) for end in ("least", "most"))
    if least is None or most is None or least > most:
        return ""
    return f"air at the inlets between {show(least)} and {show(most)} °C"
