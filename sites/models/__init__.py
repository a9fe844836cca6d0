"""What a site remembers: one file a chapter; what every record has in base.py."""

from planner.record.facts import RECORDS
from sites.models.base import Removal, SiteRecord
from sites.models.brief import Contact
from sites.models.customers import Customer, HouseAssumption, Membership, Presence, Site
from sites.models.desktops import SeatGroup, Template
from sites.models.directory import Directory, Server
from sites.models.hosts import Datastore, Host
from sites.models.identity import AddressLetter, Invitation
from sites.models.images import Application, Image
from sites.models.keeping import HouseCounter, HouseMark, SaidHarmless, TakenForm
from sites.models.networks import Device, Network
from sites.models.papers import Built, Printed, Revision
from sites.models.people import Person
from sites.models.pilot import PilotLink, PilotResult
from sites.models.plan import Acceptance, Assumed, OwnFlow
from sites.models.service import Appliance, Credential, Protocol, Service
from sites.models.stages import Answer, OwnCheck, OwnStep, Proof, Signature, StepDone, StepPlan
from sites.models.work import HouseEstimate, HouseWork

_MODELS = {model.facts.kind: model for model in (Site, *SiteRecord.__subclasses__())}
# Records by the word of their kind, in the order of the chapters.
RECORD_MODELS: dict[str, type[SiteRecord]] = {kind: _MODELS[kind] for kind in RECORDS}

__all__ = [
    "RECORD_MODELS",
    "Acceptance",
    "AddressLetter",
    "Answer",
    "Appliance",
    "Application",
    "Assumed",
    "Built",
    "Contact",
    "Credential",
    "Customer",
    "Datastore",
    "Device",
    "Directory",
    "Host",
    "HouseAssumption",
    "HouseCounter",
    "HouseEstimate",
    "HouseMark",
    "HouseWork",
    "Image",
    "Invitation",
    "Membership",
    "Network",
    "OwnCheck",
    "OwnFlow",
    "OwnStep",
    "Person",
    "PilotLink",
    "PilotResult",
    "Presence",
    "Printed",
    "Proof",
    "Protocol",
    "Removal",
    "Revision",
    "SaidHarmless",
    "SeatGroup",
    "Server",
    "Service",
    "Signature",
    "Site",
    "SiteRecord",
    "StepDone",
    "StepPlan",
    "TakenForm",
    "Template",
]
