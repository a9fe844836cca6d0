"""Facts: everything one site's plan says, as frozen dataclasses.

They are the one input of the engine, the review, the stages and the papers. They know no
database and no request. ``sites.loading.read_site`` makes them from rows; a revision keeps them
as JSON (:func:`to_json`, :func:`from_json`).

Conventions
- An unknown number, date or choice of yes or no is ``None``; an unknown text or choice is ``""``.
- A reference to another record is that record's ``id``, in a field that ends in ``_id``; it is
  ``None`` when unknown or when the record it named has been removed.
- Units stand in the field's name: ``_gib`` (2**30 bytes), ``_gb`` (10**9 bytes, raw drives as
  sold), ``_mbit_s`` (10**6 bits a second), ``_kbit_s``, ``_minutes``, ``_watts``, ``_kg``.
- A choice is kept as its text, which equals the member of the enumeration that its annotation names; what a foreign
  document brought may be no member at all.
- Addresses and prefixes are texts that are known to parse; names are as typed.
"""

from __future__ import annotations

from planner.record.facts.base import Day, Id, Record, Ref, ref_of
from planner.record.facts.plain import fingerprint, from_json, to_json
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
from planner.record.facts.whole import (
    KIND_WORDS,
    LISTS,
    NOT_PLANNED,
    RECORD_FIELDS,
    RECORDS,
    SINGLES,
    SiteFacts,
)
from planner.record.facts.work import Estimate, HouseCheck, HouseStep, OwnCheck, OwnStep, StepPlan

__all__ = [
    "KIND_WORDS",
    "LISTS",
    "NOT_PLANNED",
    "RECORDS",
    "RECORD_FIELDS",
    "SINGLES",
    "Acceptance",
    "Answer",
    "Appliance",
    "Application",
    "Assumed",
    "Built",
    "Contact",
    "Credential",
    "Datastore",
    "Day",
    "Device",
    "Directory",
    "Estimate",
    "Host",
    "HouseCheck",
    "HouseStep",
    "Id",
    "Image",
    "Neighbour",
    "Network",
    "OwnCheck",
    "OwnFlow",
    "OwnStep",
    "Protocol",
    "Record",
    "Ref",
    "SeatGroup",
    "Server",
    "Service",
    "Signature",
    "Site",
    "SiteFacts",
    "StepPlan",
    "Template",
    "fingerprint",
    "from_json",
    "ref_of",
    "to_json",
]
