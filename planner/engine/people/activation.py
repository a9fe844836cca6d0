"""Activation and licences: will the desktops be activated, and are the licences held enough.

A *key server* counts the machines that asked it within 30 days and activates desktop systems only
once it has counted 25 of any kind; server systems once it has counted 5. An activation holds 180
days, is renewed every 7, and a machine that was refused asks again every 2 hours.

A *multiple-activation key* activates a set number of times and takes one for every machine, so that
desktops that are rebuilt use it up. A *subscription* comes with the person who signs in.

Source: Microsoft, Key Management Services (KMS) activation planning (25, 5, 30 days, 180 days, 7 days,
TCP 1688) and Volume Activation Planning Guide (both kinds count together, 2 hours, DNS record).
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Annotated

from planner.catalogue.assumptions import Numbers
from planner.engine.addresses import leases
from planner.engine.people.concurrency import lacking
from planner.engine.people.seats import groups_of, licences_needed, templates_of
from planner.engine.placement.capacity import counting_hosts, known
from planner.record import choices
from planner.record.choices import REBUILT, DirectoryKind, Licensing, ServerRole
from planner.record.facts import Application, Id, Image, Ref, SeatGroup, SiteFacts, Template

RECORD = "_vlmcs._tcp"  # the service record desktops look up; Source: Microsoft, Volume Activation Planning Guide
MONTH = 30  # days


@dataclass(frozen=True, slots=True)
class ImageActivation:
    """How one image's desktops are activated. ``desktops`` that may run, ``rebuilds_a_month`` in 30
    days of the templates in ``rebuilt``; None: not known. ``kind`` is the image's choice, or ""."""

    image_id: Id
    name: str
    kind: Annotated[str, choices.Activation]
    template_ids: tuple[Id, ...]
    rebuilt: tuple[Id, ...]
    desktops: int | None
    rebuilds_a_month: float | None

    @property
    def activations_a_month(self) -> float | None:
        """What rebuilding takes from a multiple-activation key in 30 days; 0 with any other kind."""
        if self.kind == choices.Activation.MULTIPLE_KEY:
            return self.rebuilds_a_month
        return 0.0


@dataclass(frozen=True, slots=True)
class KeyServer:
    """What the key server will count, over all images it activates.

    ``desktops`` that may run, ``others`` that ask it beside them (an assumption), ``servers`` listed
    at the site, which count too if they ask the same key server. ``wanted`` and ``wanted_servers``
    are the counts at which desktop and server systems are activated. ``domains`` are where desktops
    look for the service record; ``without_domain`` are networks of desktops that have none.

    A machine is counted for ``window_days`` after it asked; an activation holds ``valid_days`` and is
    renewed every ``renew_days``; who was refused asks again after ``retry_hours``.
    """

    image_ids: tuple[Id, ...]
    server_ids: tuple[Id, ...]
    desktops: int | None
    others: int
    servers: int
    wanted: int
    wanted_servers: int
    domains: tuple[str, ...]
    without_domain: tuple[Id, ...]
    window_days: float
    valid_days: float
    renew_days: float
    retry_hours: float
    missing: tuple[str, ...] = ()

    @property
    def count(self) -> int | None:
        """What it counts for sure, once every desktop has run within the last 30 days."""
        if self.desktops is None:
            return None
        return self.desktops + self.others

    @property
    def count_with_servers(self) -> int | None:
        if self.count is None:
            return None
        return self.count + self.servers

    @property
    def activates(self) -> bool | None:
        """Whether desktops are activated, servers left out of the count."""
        if self.count is None:
            return None
        return self.count >= self.wanted

    @property
    def activates_with_servers(self) -> bool | None:
        count = self.count_with_servers
        if count is None:
            return None
        return count >= self.wanted

    @property
    def activates_servers(self) -> bool | None:
        count = self.count_with_servers
        if count is None:
            return None
        return count >= self.wanted_servers

    @property
    def records(self) -> tuple[str, ...]:
        """The service records that must stand in the DNS."""
        return tuple(f"{RECORD}.{domain}" for domain in self.domains)


@dataclass(frozen=True, slots=True)
class LicenceNeed:
    """Licences of one application: ``held`` against ``needed`` on its ``basis``; None: not known.

    ``short`` is how many are missing, ``rebuilt`` the templates whose desktops are new ones again and
    again, which matters where devices are counted.
    """

    application_id: Id
    name: str
    basis: str
    held: int | None
    needed: int | None
    rebuilt: tuple[Id, ...] = ()
    missing: tuple[str, ...] = ()
    missing_at: tuple[Ref, ...] = ()

    @property
    def short(self) -> int | None:
        if self.held is None or self.needed is None:
            return None
        return max(0, self.needed - self.held)


@dataclass(frozen=True)
class Activation:
    """``key_server`` is None when no image asks for one; images and licences stand in the facts' order."""

    key_server: KeyServer | None
    images: tuple[ImageActivation, ...] = ()
    licences: tuple[LicenceNeed, ...] = ()

    @functools.cached_property
    def _licences(self) -> dict[Id, LicenceNeed]:
        return {need.application_id: need for need in self.licences}

    def licence(self, application_id: Id) -> LicenceNeed | None:
        return self._licences.get(application_id)


def work_out(facts: SiteFacts, numbers: Numbers) -> Activation:
    """Activation of every image and licences of every application. Raises nothing."""
    templates: dict[Id | None, list[Template]] = {}
    for template in facts.templates:
        templates.setdefault(template.image_id, []).append(template)
    groups: dict[Id | None, list[SeatGroup]] = {}
    for group in facts.seat_groups:
        groups.setdefault(group.template_id, []).append(group)
    images = tuple(_image(image, templates.get(image.id, []), groups) for image in facts.images)
    return Activation(
        _key_server(
            facts,
            numbers,
            [image for image in images if image.kind == choices.Activation.KEY_SERVER],
        ),
        images,
        tuple(
            _licence(facts, application, numbers["seats.risk"])
            for application in facts.applications
        ),
    )


def _image(
    image: Image, templates: list[Template], groups: dict[Id | None, list[SeatGroup]]
) -> ImageActivation:
    most = [known(template.most) for template in templates]
    a_day = [leases.rebuilds_a_day(template, groups.get(template.id, [])) for template in templates]
    return ImageActivation(
        image_id=image.id,
        name=image.label,
        kind=image.activation,
        template_ids=tuple(template.id for template in templates),
        rebuilt=_rebuilt(templates),
        desktops=None if None in most else int(sum(count or 0 for count in most)),
        rebuilds_a_month=None if None in a_day else MONTH * sum(one or 0.0 for one in a_day),
    )


def _rebuilt(templates: list[Template]) -> tuple[Id, ...]:
    return tuple(template.id for template in templates if template.reset_rule in REBUILT)


def _key_server(
    facts: SiteFacts, numbers: Numbers, images: list[ImageActivation]
) -> KeyServer | None:
    if not images:
        return None
    bearing = {id for image in images for id in image.template_ids}
    templates = [template for template in facts.templates if template.id in bearing]
    domains, without = _domains(facts, {template.network_id for template in templates})
    return KeyServer(
        image_ids=tuple(image.image_id for image in images),
        server_ids=tuple(server.id for server in facts.servers if ServerRole.KEYS in server.roles),
        desktops=None
        if not templates or any(i.desktops is None for i in images)
        else sum(image.desktops or 0 for image in images),
        others=int(known(numbers["activation.other-systems"]) or 0),
        servers=len(facts.servers),
        wanted=int(known(numbers["activation.desktop-count"]) or 0),
        wanted_servers=int(known(numbers["activation.server-count"]) or 0),
        domains=domains,
        without_domain=without,
        window_days=numbers["activation.window-days"],
        valid_days=numbers["activation.valid-days"],
        renew_days=numbers["activation.renew-days"],
        retry_hours=numbers["activation.retry-hours"],
        missing=tuple(f"the most of {t.label}" for t in templates if known(t.most) is None)
        + (() if templates else ("a template of an image it activates",)),
    )


def _domains(
    facts: SiteFacts, network_ids: set[Id | None]
) -> tuple[tuple[str, ...], tuple[Id, ...]]:
    """Where desktops look for the record: the directory's domain if they join one, else what their
    network gives them; and the networks that give none."""
    domain = facts.directory.domain.strip().strip(".").lower()
    if domain and facts.directory.directory_kind != DirectoryKind.OWN_ACCOUNTS:
        return (domain,), ()
    networks = [network for network in facts.networks if network.id in network_ids]
    suffixes = {
        network.id: network.domain_suffix.strip().strip(".").lower() for network in networks
    }
    return tuple(dict.fromkeys(filter(None, suffixes.values()))), tuple(
        id for id, name in suffixes.items() if not name
    )


def _licence(facts: SiteFacts, application: Application, risk: float) -> LicenceNeed:
    templates, groups, basis = (
        templates_of(facts, application),
        groups_of(facts, application),
        application.licensed_by,
    )
    missing: list[tuple[str, Ref]] = []
    if not Licensing.holds(basis):
        missing.append((f"how {application.label} is licensed", application.ref.at("licensed_by")))
    elif basis != Licensing.FREE and not templates:
        missing.append((f"a template with {application.label}", application.ref.at("image_id")))
    elif basis in (Licensing.PEOPLE, Licensing.AT_ONCE) and not groups:
        missing += [(f"who uses {template.label}", template.ref) for template in templates]
    elif basis == Licensing.HOSTS and not counting_hosts(facts):
        missing.append(("a host", application.ref))
    if basis in (Licensing.PEOPLE, Licensing.AT_ONCE):
        missing += [
            one for one in lacking(groups) if basis == Licensing.AT_ONCE or one[1].field == "people"
        ]
    if basis == Licensing.DEVICES:
        missing += [
            (f"the most of {t.label}", t.ref.at("most")) for t in templates if known(t.most) is None
        ]
    held = known(application.licences_held)
    if held is None and basis != Licensing.FREE:
        missing.append(
            (f"how many {application.label} are held", application.ref.at("licences_held"))
        )
    return LicenceNeed(
        application_id=application.id,
        name=application.label,
        basis=basis if Licensing.holds(basis) else "",
        held=None if held is None else int(held),
        needed=licences_needed(facts, application, risk),
        rebuilt=_rebuilt(templates),
        missing=tuple(words for words, _ in missing),
        missing_at=tuple(at for _, at in missing),
    )
