"""Carving subnets: what to carve them from, and how large each should be."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from crispy_forms.layout import LayoutObject
from django import forms
from django.http import QueryDict

from planner.engine.addresses import carving, ipv4
from planner.plan import Plan
from planner.record import kinds
from planner.record.chapters import Field
from planner.record.choices import NetworkPurpose
from planner.record.facts import Network
from sites.forms.described import DescribedForm
from sites.forms.fields import form_field
from sites.forms.layout import Shaped
from sites.forms.numbers import whole_or_none

WITHIN = Field(
    "within",
    "Carve from",
    kinds.PREFIX,
    hint="The supernet that is yours to divide.",
    example="10.44.0.0/16",
)
GROWTH = Field(
    "growth",
    "Growth",
    kinds.PERCENT,
    unit="%",
    low=0,
    high=10,
    hint="How much more each should have room for.",
)
COUNT = Field("count", "Machines", kinds.WHOLE, low=0, high=16_777_216)
MORE = Field(
    "more",
    "Others",
    kinds.LONG,
    hint="Subnets that no network here stands for yet: one a line, a name and how many.",
    example="guests, 60",
)
MOST_MORE = 200
MOST_MACHINES = 99_999_999


@dataclass(frozen=True)
class Wanted:
    """One subnet wanted: ``network`` is None for one that is only tried out here."""

    name: str
    count: int
    network: Network | None


@dataclass(frozen=True)
class Box:
    """The line of one network in the form."""

    network: Network
    purpose: str
    bound: forms.BoundField


class CarveForm(DescribedForm):
    """A box for each network without a subnet. What the address does not name holds what follows from the plan."""

    def __init__(self, data: QueryDict, *, plan: Plan):
        self.networks = carving.without_subnet(plan.facts)
        described = (WITHIN, GROWTH, *map(count_of, self.networks), MORE)
        sent = {name: data.get(name, text) for name, text in _start(plan, self.networks).items()}
        super().__init__(sent, fields=described, facts=plan.facts, auto_id="carve-%s")

    def asked_fields(self) -> list[str]:
        return []  # the page is an address that only looks: nothing is kept

    def pieces(self) -> list[str | LayoutObject]:
        names = (f"n-{network.id}" for network in self.networks)
        return ["within", "growth", Shaped("addresses/_counts.html", *names), "more"]

    def boxes(self) -> list[Box]:
        return [
            Box(network, NetworkPurpose.words_of(network.purpose), self[f"n-{network.id}"])
            for network in self.networks
        ]

    def clean_more(self) -> list[Wanted]:
        found = []
        for line in filter(None, (line.strip() for line in self.cleaned_data["more"].splitlines())):
            name, _, count = line.replace("\t", ",").rpartition(",")
            machines = whole_or_none(count.strip())
            if not name.strip() or machines is None or machines > MOST_MACHINES:
                raise forms.ValidationError(
                    f"“{line[:60]}”: give a name, a comma and how many machines.", code="form"
                )
            found.append(Wanted(name.strip()[:200], machines, None))
        if len(found) > MOST_MORE:
            raise forms.ValidationError(f"Give at most {MOST_MORE} at once.", code="many")
        return found

    def supernet(self) -> ipv4.Block | None:
        read = ipv4.parse_prefix(self.cleaned_data["within"])
        if read:
            return read[1]
        return None

    def wanted(self) -> list[Wanted]:
        """Every subnet with a count, the networks first."""
        own = [(network, self.cleaned_data[f"n-{network.id}"]) for network in self.networks]
        return [Wanted(one.label, count, one) for one, count in own if count] + self.cleaned_data[
            "more"
        ]

    def growth(self) -> float:
        return self.cleaned_data["growth"] or 0.0


def count_of(network: Network) -> Field:
    """How many machines a network has."""
    label = f"Machines on {network.label}"
    return dataclasses.replace(COUNT, name=f"n-{network.id}", label=label)


def _start(plan: Plan, networks: list[Network]) -> dict[str, str]:
    """What follows from the plan."""
    counts = carving.machines_on(plan.facts, plan.leases)
    likely = carving.likely_supernet(plan.facts)
    growth = plan.numbers["addresses.growth-share"]
    return {
        "within": str(likely) if likely else "",
        "more": "",
        "growth": form_field(GROWTH, plan.facts, None).prepare_value(growth),
        **{f"n-{network.id}": str(counts.get(network.id, "")) for network in networks},
    }
