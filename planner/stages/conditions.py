"""Conditions: what must hold for a check or a step to be asked for at a site.

The catalogue names them in ``when``, words joined by hyphens: ``has-directory``. A condition of the
site looks at the whole plan; a condition of a record looks at the one record the entry is for. What
nobody knows yet counts as needing the check: only a known "no" takes one away.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

from planner.engine.results import Results
from planner.record.choices import (
    Activation,
    Authority,
    Certificate,
    Dhcp,
    DirectoryKind,
    HostState,
    Licensing,
    NetworkPurpose,
    OutsideAccess,
    Passage,
    Provisioning,
    Renewal,
    ResetRule,
    ServerRole,
    Sharing,
)
from planner.record.facts import Appliance, Application, Host, Image, Network, Record, Template

Bearer = TypeVar("Bearer", bound=Record)
OfSite = Callable[[Results], bool]
OfRecord = Callable[[Results, Record], bool]
OF_SITE: dict[str, OfSite] = {}
WHERE: dict[str, str] = {"": "every site"}  # where a condition of the site holds, in plain words
OF_RECORD: dict[str, tuple[str, OfRecord]] = {}


def of_site(words: str) -> Callable[[OfSite], OfSite]:
    """Registers a condition of the site; ``words`` are the sites where it holds: "live sites"."""

    def register(function: OfSite) -> OfSite:
        name = function.__name__.replace("_", "-")
        OF_SITE[name], WHERE[name] = function, words
        return function

    return register


def of_record(
    kind: str,
) -> Callable[[Callable[[Results, Bearer], bool]], Callable[[Results, Bearer], bool]]:
    """Registers a condition of one kind of record."""

    def register(function: Callable[[Results, Bearer], bool]) -> Callable[[Results, Bearer], bool]:
        # It is given records of its kind alone.
        OF_RECORD[function.__name__.replace("_", "-")] = (kind, cast("OfRecord", function))
        return function

    return register


# -- Of the site ---------------------------------------------------------------------------------


@of_site("live sites")
def is_live(plan: Results) -> bool:
    return plan.facts.site.live


@of_site("sites with a directory")
def has_directory(plan: Results) -> bool:
    return plan.facts.directory.directory_kind != DirectoryKind.OWN_ACCOUNTS


@of_site("sites with accounts of the service itself")
def own_accounts(plan: Results) -> bool:
    return plan.facts.directory.directory_kind == DirectoryKind.OWN_ACCOUNTS


@of_site("sites with more than one host")
def many_hosts(plan: Results) -> bool:
    return sum(host.state != HostState.SPARE for host in plan.facts.hosts) > 1


@of_site("sites with more than one appliance")
def many_appliances(plan: Results) -> bool:
    return len(plan.facts.appliances) > 1


@of_site("sites with shared storage")
def shared_storage(plan: Results) -> bool:
    return any(store.sharing == Sharing.SHARED for store in plan.facts.datastores)


@of_site("sites with thin disks")
def thin_disks(plan: Results) -> bool:
    return plan.facts.service.disk_provisioning == Provisioning.THIN


@of_site("sites with thick disks")
def thick_disks(plan: Results) -> bool:
    return plan.facts.service.disk_provisioning != Provisioning.THIN


@of_site("sites with an issued certificate")
def issued_certificate(plan: Results) -> bool:
    return plan.facts.service.certificate != Certificate.OWN


@of_site("sites with the service's own certificate")
def own_certificate(plan: Results) -> bool:
    return plan.facts.service.certificate == Certificate.OWN


@of_site("sites whose certificate renews itself")
def certificate_renews(plan: Results) -> bool:
    """A machine renews it, or nobody says who does; what a private authority issues is renewed as its people wish."""
    service = plan.facts.service
    if service.certificate == Certificate.OWN or service.certificate_renewal == Renewal.HAND:
        return False
    by_itself = service.certificate_renewal == Renewal.MACHINE
    return by_itself or service.certificate_authority != Authority.PRIVATE


@of_site("sites with a gateway for people outside")
def outside_gateway(plan: Results) -> bool:
    """People outside type the same name, and it leads them to the gateway; through a VPN it leads them inside."""
    return plan.facts.service.outside_access == OutsideAccess.GATEWAY


@of_site("sites whose service answers at an address of its own")
def service_own_address(plan: Results) -> bool:
    """It answers at an address that is no appliance's: one that moves between several, or that nobody knows yet."""
    address, appliances = plan.facts.service.address, plan.facts.appliances
    if address:
        return address not in {one.address for one in appliances}
    return len(appliances) > 1


@of_site("sites with access from outside")
def outside_access(plan: Results) -> bool:
    return plan.facts.service.outside_access in (OutsideAccess.VPN, OutsideAccess.GATEWAY)


@of_site("sites that activate by a key server")
def key_server(plan: Results) -> bool:
    return any(image.activation == Activation.KEY_SERVER for image in plan.facts.images)


@of_site("sites where people print")
def passes_printers(plan: Results) -> bool:
    return _passes(plan, Passage.PRINTERS) or any(
        ServerRole.PRINT in server.roles for server in plan.facts.servers
    )


@of_site("sites where USB devices are passed on")
def passes_usb(plan: Results) -> bool:
    return _passes(plan, Passage.USB)


@of_site("sites where sound is passed on")
def passes_sound(plan: Results) -> bool:
    return _passes(plan, Passage.SOUND)


@of_site("sites where sound or USB devices are passed on")
def passes_sound_or_usb(plan: Results) -> bool:
    return passes_sound(plan) or passes_usb(plan)


@of_site("sites that keep profiles in a place of their own")
def has_profiles(plan: Results) -> bool:
    return any(template.profile_place for template in plan.facts.templates)


def _passes(plan: Results, what: Passage) -> bool:
    return any(what in template.passes for template in plan.facts.templates)


# -- Of a record ---------------------------------------------------------------------------------


@of_record("host")
def host_works(plan: Results, host: Host) -> bool:
    return host.state != HostState.SPARE


@of_record("host")
def host_to_buy(plan: Results, host: Host) -> bool:
    return host.state == HostState.TO_BUY


@of_record("host")
def host_in_use(plan: Results, host: Host) -> bool:
    """It carries something already, which this work could take down."""
    return host.state == HostState.EXISTING


@of_record("host")
def host_to_lift(plan: Results, host: Host) -> bool:
    """It will be carried, and it is heavier than one person lifts into a rack, or nobody knows its weight."""
    heavy = host.weight_kg is None or host.weight_kg > plan.facility.lift_limits.alone_kg
    return host.state != HostState.EXISTING and heavy


@of_record("host")
def host_out_of_band(plan: Results, host: Host) -> bool:
    return bool(host.out_of_band_address) and host.state != HostState.SPARE


@of_record("network")
def network_of_desktops(plan: Results, network: Network) -> bool:
    return network.purpose == NetworkPurpose.DESKTOPS or any(
        one.network_id == network.id for one in plan.facts.templates
    )


@of_record("network")
def network_tagged(plan: Results, network: Network) -> bool:
    return network.vlan is not None


@of_record("network")
def network_hands_out(plan: Results, network: Network) -> bool:
    return network.dhcp != Dhcp.NONE


@of_record("appliance")
def appliance_later(plan: Results, appliance: Appliance) -> bool:
    """It joins the service that the first one made."""
    return plan.facts.appliances[0] is not appliance


@of_record("image")
def image_by_key_server(plan: Results, image: Image) -> bool:
    return image.activation == Activation.KEY_SERVER


@of_record("image")
def image_by_multiple_key(plan: Results, image: Image) -> bool:
    return image.activation == Activation.MULTIPLE_KEY


@of_record("image")
def image_by_subscription(plan: Results, image: Image) -> bool:
    return image.activation == Activation.SUBSCRIPTION


@of_record("image")
def image_activation_open(plan: Results, image: Image) -> bool:
    return not image.activation


@of_record("image")
def image_to_activate(plan: Results, image: Image) -> bool:
    return image.activation != Activation.NONE


@of_record("image")
def image_from_machine(plan: Results, image: Image) -> bool:
    """It is copied from a machine in use; while nobody names one, it is built from the publisher's medium."""
    return bool(image.source_machine.strip())


@of_record("image")
def image_from_medium(plan: Results, image: Image) -> bool:
    return not image.source_machine.strip()


@of_record("application")
def application_licensed(plan: Results, application: Application) -> bool:
    return application.licensed_by != Licensing.FREE


@of_record("template")
def template_on_standby(plan: Results, template: Template) -> bool:
    return template.standby != 0


@of_record("template")
def template_resets(plan: Results, template: Template) -> bool:
    return template.reset_rule != ResetRule.KEPT


@of_record("template")
def template_kept(plan: Results, template: Template) -> bool:
    return template.reset_rule == ResetRule.KEPT
