"""Conditions: what must hold for a check or a step to be asked for at a site.

The catalogue names them in ``when``, words joined by hyphens: ``has-directory``. A condition of the
site looks at the whole plan; a condition of a record looks at the one record the entry is for. What
nobody knows yet counts as needing the check: only a known "no" takes one away.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from planner.record.facts import Appliance, Application, Host, Image, Network, Record, Template

if TYPE_CHECKING:
    from planner.plan import Plan

OF_SITE: dict[str, Callable[[Plan], bool]] = {}
WHERE: dict[str, str] = {"": "every site"}  # where a condition of the site holds, in plain words
OF_RECORD: dict[str, tuple[str, Callable[[Plan, Record], bool]]] = {}


def of_site(words: str) -> Callable:
    """Registers a condition of the site; ``words`` are the sites where it holds: "live sites"."""

    def register(function: Callable[[Plan], bool]) -> Callable[[Plan], bool]:
        name = function.__name__.replace("_", "-")
        OF_SITE[name], WHERE[name] = function, words
        return function

    return register


def of_record(kind: str) -> Callable:
    """Registers a condition of one kind of record."""

    def register(function: Callable) -> Callable:
        OF_RECORD[function.__name__.replace("_", "-")] = (kind, function)
        return function

    return register


# -- Of the site ---------------------------------------------------------------------------------


@of_site("live sites")
def is_live(plan: Plan) -> bool:
    return plan.facts.site.live


@of_site("sites with a directory")
def has_directory(plan: Plan) -> bool:
    return plan.facts.directory.directory_kind != "own-accounts"


@of_site("sites with accounts of the service itself")
def own_accounts(plan: Plan) -> bool:
    return plan.facts.directory.directory_kind == "own-accounts"


@of_site("sites with more than one host")
def many_hosts(plan: Plan) -> bool:
    return sum(host.state != "spare" for host in plan.facts.hosts) > 1


@of_site("sites with more than one appliance")
def many_appliances(plan: Plan) -> bool:
    return len(plan.facts.appliances) > 1


@of_site("sites with shared storage")
def shared_storage(plan: Plan) -> bool:
    return any(store.sharing == "shared" for store in plan.facts.datastores)


@of_site("sites with thin disks")
def thin_disks(plan: Plan) -> bool:
    return plan.facts.service.disk_provisioning == "thin"


@of_site("sites with thick disks")
def thick_disks(plan: Plan) -> bool:
    return plan.facts.service.disk_provisioning != "thin"


@of_site("sites with an issued certificate")
def issued_certificate(plan: Plan) -> bool:
    return plan.facts.service.certificate != "own"


@of_site("sites with the service's own certificate")
def own_certificate(plan: Plan) -> bool:
    return plan.facts.service.certificate == "own"


@of_site("sites whose service answers at an address of its own")
def service_own_address(plan: Plan) -> bool:
    """It answers at an address that is no appliance's: one that moves between several, or that nobody knows yet."""
    address, appliances = plan.facts.service.address, plan.facts.appliances
    return address not in {one.address for one in appliances} if address else len(appliances) > 1


@of_site("sites with access from outside")
def outside_access(plan: Plan) -> bool:
    return plan.facts.service.outside_access in ("vpn", "gateway")


@of_site("sites that activate by a key server")
def key_server(plan: Plan) -> bool:
    return any(image.activation == "key-server" for image in plan.facts.images)


@of_site("sites where people print")
def passes_printers(plan: Plan) -> bool:
    return _passes(plan, "printers") or any(
        "print" in server.roles for server in plan.facts.servers
    )


@of_site("sites where USB devices are passed on")
def passes_usb(plan: Plan) -> bool:
    return _passes(plan, "usb")


@of_site("sites where sound is passed on")
def passes_sound(plan: Plan) -> bool:
    return _passes(plan, "sound")


@of_site("sites where sound or USB devices are passed on")
def passes_sound_or_usb(plan: Plan) -> bool:
    return passes_sound(plan) or passes_usb(plan)


@of_site("sites that keep profiles in a place of their own")
def has_profiles(plan: Plan) -> bool:
    return any(template.profile_place for template in plan.facts.templates)


def _passes(plan: Plan, what: str) -> bool:
    return any(what in template.passes for template in plan.facts.templates)


# -- Of a record ---------------------------------------------------------------------------------


@of_record("host")
def host_works(plan: Plan, host: Host) -> bool:
    return host.state != "spare"


@of_record("host")
def host_to_buy(plan: Plan, host: Host) -> bool:
    return host.state == "to-buy"


@of_record("host")
def host_in_use(plan: Plan, host: Host) -> bool:
    """It carries something already, which this work could take down."""
    return host.state == "existing"


@of_record("host")
def host_to_lift(plan: Plan, host: Host) -> bool:
    """It will be carried, and it is heavier than one person lifts, or nobody knows its weight."""
    heavy = host.weight_kg is None or host.weight_kg > plan.numbers["host.lift-alone-kg"]
    return host.state != "existing" and heavy


@of_record("host")
def host_out_of_band(plan: Plan, host: Host) -> bool:
    return bool(host.out_of_band_address) and host.state != "spare"


@of_record("network")
def network_of_desktops(plan: Plan, network: Network) -> bool:
    return network.purpose == "desktops" or any(
        one.network_id == network.id for one in plan.facts.templates
    )


@of_record("network")
def network_tagged(plan: Plan, network: Network) -> bool:
    return network.vlan is not None


@of_record("network")
def network_hands_out(plan: Plan, network: Network) -> bool:
    return network.dhcp != "none"


@of_record("appliance")
def appliance_later(plan: Plan, appliance: Appliance) -> bool:
    """It joins the service that the first one made."""
    return plan.facts.appliances[0] is not appliance


@of_record("image")
def image_by_key_server(plan: Plan, image: Image) -> bool:
    return image.activation == "key-server"


@of_record("image")
def image_by_multiple_key(plan: Plan, image: Image) -> bool:
    return image.activation == "multiple-key"


@of_record("image")
def image_by_subscription(plan: Plan, image: Image) -> bool:
    return image.activation == "subscription"


@of_record("image")
def image_activation_open(plan: Plan, image: Image) -> bool:
    return not image.activation


@of_record("image")
def image_to_activate(plan: Plan, image: Image) -> bool:
    return image.activation != "none"


@of_record("application")
def application_licensed(plan: Plan, application: Application) -> bool:
    return application.licensed_by != "free"


@of_record("template")
def template_on_standby(plan: Plan, template: Template) -> bool:
    return template.standby != 0


@of_record("template")
def template_resets(plan: Plan, template: Template) -> bool:
    return template.reset_rule != "kept"


@of_record("template")
def template_kept(plan: Plan, template: Template) -> bool:
    return template.reset_rule == "kept"
