"""Everything one site's plan says, in one."""

from __future__ import annotations

import functools
import typing
from dataclasses import dataclass, field

from planner.record.facts.base import Day, Id, Record, Ref
from planner.record.facts.records import (
    Appliance,
    Application,
    Contact,
    Credential,
    Datastore,
    Device,
    Directory,
    Host,
    Image,
    Network,
    OwnFlow,
    Protocol,
    SeatGroup,
    Server,
    Service,
    Site,
    Template,
)
from planner.record.facts.said import Acceptance, Answer, Assumed, Built, Neighbour, Signature
from planner.record.facts.work import Estimate, HouseCheck, HouseStep, OwnCheck, OwnStep, StepPlan


@dataclass(frozen=True, kw_only=True)
class SiteFacts:
    """Everything one site's plan says. ``today`` is the day the plan is looked at: no clock inside."""

    customer: str = ""
    customer_code: str = ""
    today: Day
    site: Site
    directory: Directory = field(default_factory=Directory)
    service: Service = field(default_factory=Service)
    contacts: tuple[Contact, ...] = ()
    networks: tuple[Network, ...] = ()
    devices: tuple[Device, ...] = ()
    hosts: tuple[Host, ...] = ()
    datastores: tuple[Datastore, ...] = ()
    servers: tuple[Server, ...] = ()
    appliances: tuple[Appliance, ...] = ()
    protocols: tuple[Protocol, ...] = ()
    credentials: tuple[Credential, ...] = ()
    images: tuple[Image, ...] = ()
    applications: tuple[Application, ...] = ()
    templates: tuple[Template, ...] = ()
    seat_groups: tuple[SeatGroup, ...] = ()
    flows: tuple[OwnFlow, ...] = ()
    own_steps: tuple[OwnStep, ...] = ()
    own_checks: tuple[OwnCheck, ...] = ()
    step_plans: tuple[StepPlan, ...] = ()
    built: tuple[Built, ...] = ()
    house_steps: tuple[HouseStep, ...] = ()
    house_checks: tuple[HouseCheck, ...] = ()
    estimates: tuple[Estimate, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    answers: tuple[Answer, ...] = ()
    signatures: tuple[Signature, ...] = ()
    acceptances: tuple[Acceptance, ...] = ()
    neighbours: tuple[Neighbour, ...] = ()

    def records(self) -> typing.Iterator[Record]:
        """Every record of the plan, chapter by chapter."""
        yield self.site
        for name in RECORD_FIELDS:
            value = getattr(self, name)
            if isinstance(value, tuple):
                yield from value
            else:
                yield value

    @functools.cached_property
    def index(self) -> dict[tuple[str, Id], Record]:
        """Every record by kind and id."""
        return {(record.kind, record.id): record for record in self.records()}

    def find(self, ref: Ref) -> Record | None:
        """The record a :class:`Ref` points at, or ``None``."""
        return self.index.get((ref.kind, ref.id))

    def named(self, kind: str, id: Id | None) -> str:
        """The label of a record, or "" when there is none."""
        found = self.index.get((kind, id)) if id is not None else None
        return found.label if found else ""


RECORD_FIELDS = (
    "contacts",
    "networks",
    "devices",
    "hosts",
    "datastores",
    "directory",
    "servers",
    "service",
    "appliances",
    "protocols",
    "credentials",
    "images",
    "applications",
    "templates",
    "seat_groups",
    "flows",
    "own_steps",
    "own_checks",
    "step_plans",
    "built",
)

RECORDS: dict[str, type[Record]] = {
    kind.kind: kind
    for kind in (
        Site,
        Contact,
        Network,
        Device,
        Host,
        Datastore,
        Directory,
        Server,
        Service,
        Appliance,
        Protocol,
        Credential,
        Image,
        Application,
        Template,
        SeatGroup,
        OwnFlow,
        OwnStep,
        OwnCheck,
        StepPlan,
        Built,
    )
}

# What people said about the plan is not the plan: it does not move the fingerprint. Neither does the work the
# house asks for at every site. A neighbour is another site's plan.
NOT_PLANNED = (
    "today",
    "answers",
    "signatures",
    "acceptances",
    "built",
    "own_steps",
    "own_checks",
    "step_plans",
    "house_steps",
    "house_checks",
    "estimates",
    "neighbours",
)
