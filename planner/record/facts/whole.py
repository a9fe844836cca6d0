"""Everything one site's plan says, in one."""

from __future__ import annotations

import dataclasses
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
    contacts: tuple[Contact, ...] = ()
    networks: tuple[Network, ...] = ()
    devices: tuple[Device, ...] = ()
    hosts: tuple[Host, ...] = ()
    datastores: tuple[Datastore, ...] = ()
    directory: Directory = field(default_factory=Directory)
    servers: tuple[Server, ...] = ()
    service: Service = field(default_factory=Service)
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
        if id is not None:
            found = self.index.get((kind, id))
        else:
            found = None
        if found:
            return found.label
        return ""


def _held() -> dict[str, type]:
    """What each field of a site's facts holds, by its name: a list's entries, or the one record."""
    found: dict[str, type] = {}
    for name, hint in typing.get_type_hints(SiteFacts).items():
        if typing.get_origin(hint) is tuple:
            held = typing.get_args(hint)[0]
        else:
            held = hint
        if isinstance(held, type) and dataclasses.is_dataclass(held):
            found[name] = held
    return found


def _of_site() -> dict[str, type[Record]]:
    """The fields that hold records of the site, in the order of the chapters."""
    return {
        name: held
        for name, held in _held().items()
        if issubclass(held, Record) and not held.of_house
    }


# Everything there is to know about kinds of records follows from the classes and from SiteFacts.
RECORDS: dict[str, type[Record]] = {held.kind: held for held in _of_site().values()}
RECORD_FIELDS = tuple(name for name in _of_site() if name != "site")
SINGLES = tuple(
    held.kind
    for name, held in _of_site().items()
    if typing.get_origin(typing.get_type_hints(SiteFacts)[name]) is not tuple
)
LISTS = {held.kind: name for name, held in _of_site().items() if held.kind not in SINGLES}
KIND_WORDS = {kind: held.called or kind for kind, held in RECORDS.items()}

# What people said about the plan is not the plan: it does not move the fingerprint. Neither does the work the
# house asks for at every site. A neighbour is another site's plan.
NOT_PLANNED = (
    "today",
    *(name for name, held in _held().items() if not getattr(held, "planned", True)),
)
