"""Findings about the desktop service: its name, its address, its certificate, its appliances."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator

from planner.engine.upkeep import certificates
from planner.record import chapters, units
from planner.record.choices import (
    AddressOrigin,
    Authority,
    Certificate,
    HostState,
    NetworkPurpose,
    OutsideAccess,
    Provisioning,
    Renewal,
)
from planner.record.facts import Appliance, Host
from planner.review import credentials  # noqa: F401  (its rules are of this chapter too)
from planner.review.base import Hit, rule
from planner.stages.staged import Staged


def _unless(plan: Staged, field: str) -> Iterator[Hit]:
    """A hit on the service's field when nobody filled it."""
    service = plan.facts.service
    if getattr(service, field) in (None, "", ()):
        yield Hit(service.ref.at(field))


# -- Name and address ----------------------------------------------------------------------------


@rule("service-name-missing")
def name_missing(plan: Staged) -> Iterator[Hit]:
    yield from _unless(plan, "name")


@rule("entry-name-missing")
def entry_name_missing(plan: Staged) -> Iterator[Hit]:
    yield from _unless(plan, "entry_name")


@rule("service-address-missing")
def address_missing(plan: Staged) -> Iterator[Hit]:
    yield from _unless(plan, "address")


@rule("service-address-origin-unknown")
def address_origin_unknown(plan: Staged) -> Iterator[Hit]:
    if plan.facts.service.address:
        yield from _unless(plan, "address_origin")


@rule("service-address-dynamic")
def address_dynamic(plan: Staged) -> Iterator[Hit]:
    service = plan.facts.service
    if service.address_origin == AddressOrigin.DYNAMIC:
        yield Hit(
            service.ref.at("address_origin"),
            also=(service.ref.at("address"),),
            service=service.label,
        )


@rule("outside-access-unknown")
def outside_access_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _unless(plan, "outside_access")


@rule("outside-access-none-but-remote")
def none_but_remote(plan: Staged) -> Iterator[Hit]:
    """People come over a remote link, and nobody planned a way in for them."""
    facts = plan.facts
    remote = {
        network.id: network
        for network in facts.networks
        if network.purpose == NetworkPurpose.REMOTE
    }
    if facts.service.outside_access == OutsideAccess.NONE:
        for group in facts.seat_groups:
            if group.network_id in remote:
                at, network = facts.service.ref.at("outside_access"), remote[group.network_id]
                also = (group.ref.at("network_id"),)
                yield Hit(
                    at, also=also, twin=group.ref.anchor, group=group.label, network=network.label
                )


# -- Secrets, disks, backup ----------------------------------------------------------------------


@rule("initial-secret-unchanged")
def initial_secret_unchanged(plan: Staged) -> Iterator[Hit]:
    service = plan.facts.service
    if service.initial_secret_changed is False:
        yield Hit(service.ref.at("initial_secret_changed"))


@rule("initial-secret-unknown")
def initial_secret_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _unless(plan, "initial_secret_changed")


@rule("thin-disks-unwatched")
def thin_disks_unwatched(plan: Staged) -> Iterator[Hit]:
    service = plan.facts.service
    if service.disk_provisioning == Provisioning.THIN and not service.space_watcher.strip():
        yield Hit(service.ref.at("space_watcher"), also=(service.ref.at("disk_provisioning"),))


@rule("service-backup-unknown")
def backup_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _unless(plan, "backup_place")


# -- Certificate ---------------------------------------------------------------------------------


@rule("certificate-unknown")
def certificate_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _unless(plan, "certificate")


@rule("certificate-own")
def certificate_own(plan: Staged) -> Iterator[Hit]:
    service = plan.facts.service
    if service.certificate == Certificate.OWN:
        yield Hit(service.ref.at("certificate"))


@rule("certificate-names-missing")
def certificate_names_missing(plan: Staged) -> Iterator[Hit]:
    if plan.facts.service.certificate == Certificate.ISSUED:
        yield from _unless(plan, "certificate_names")


@rule("certificate-not-covering")
def certificate_not_covering(plan: Staged) -> Iterator[Hit]:
    service = plan.facts.service
    names = service.certificate_names
    if names and service.entry_name and not certificates.covering(names, service.entry_name):
        at, also = service.ref.at("certificate_names"), (service.ref.at("entry_name"),)
        yield Hit(at, also=also, entry=service.entry_name, names=", ".join(names))


@rule("certificate-expiry-unknown")
def certificate_expiry_unknown(plan: Staged) -> Iterator[Hit]:
    if plan.facts.service.certificate == Certificate.ISSUED:
        yield from _unless(plan, "certificate_expires")


def _days_left(plan: Staged) -> int | None:
    """Days the certificate outlasts go-live, or today where go-live is over or not known."""
    facts = plan.facts
    day = max(facts.today, facts.site.go_live_date or facts.today)
    return certificates.days_beyond(facts.service.certificate_expires, day)


@rule("certificate-ends-before")
def certificate_ends_before(plan: Staged) -> Iterator[Hit]:
    facts, left, expires = plan.facts, _days_left(plan), plan.facts.service.certificate_expires
    if expires and left is not None and left < 0:
        if expires < facts.today:
            when = "today"
        else:
            when = "go-live"
        yield Hit(
            facts.service.ref.at("certificate_expires"),
            expires=chapters.show_date(expires),
            when=when,
        )


@rule("certificate-ends-soon")
def certificate_ends_soon(plan: Staged) -> Iterator[Hit]:
    facts, left, expires = plan.facts, _days_left(plan), plan.facts.service.certificate_expires
    wanted = _days_wanted(plan)
    if expires and left is not None and 0 <= left < wanted:
        if (facts.site.go_live_date or facts.today) > facts.today:
            when = "go-live"
        else:
            when = "today"
        at, day = facts.service.ref.at("certificate_expires"), chapters.show_date(expires)
        yield Hit(at, expires=day, days=left, when=when, wanted=units.show(wanted))


def _days_wanted(plan: Staged) -> float:
    """Days the certificate should outlast go-live; one that renews itself always has a third of its days left."""
    wanted = plan.numbers["certificate.days-after-go-live"]
    longest = certificates.longest_days(plan.facts.today)
    by_itself = plan.facts.service.certificate_renewal == Renewal.MACHINE
    if by_itself and longest:
        return min(wanted, longest / 3)
    return wanted


@rule("certificate-authority-unknown")
def certificate_authority_unknown(plan: Staged) -> Iterator[Hit]:
    if plan.facts.service.certificate == Certificate.ISSUED:
        yield from _unless(plan, "certificate_authority")


@rule("certificate-longer-than-issued")
def certificate_longer_than_issued(plan: Staged) -> Iterator[Hit]:
    """Of an unknown day of issue the best is believed: any day until the service goes live."""
    facts, service = plan.facts, plan.facts.service
    expires, issued = service.certificate_expires, service.certificate_issued
    if service.certificate_authority != Authority.PUBLIC or expires is None:
        return
    last = issued or max(facts.today, facts.site.go_live_date or facts.today)
    longest = certificates.longest_days(last)
    latest = certificates.latest_end(last)
    if issued and longest:
        latest = issued + dt.timedelta(days=longest)
    if latest is None or longest is None or expires <= latest:
        return
    if issued:
        when = "issued on"
    else:
        when = "issued until"
    yield Hit(
        service.ref.at("certificate_expires"),
        also=tuple(service.ref.at(one) for one in ("certificate_issued", "certificate_authority")),
        expires=chapters.show_date(expires),
        latest=chapters.show_date(latest),
        issued=f"{when} {chapters.show_date(last)}",
        longest=longest,
    )


@rule("certificate-renewal-unknown")
def certificate_renewal_unknown(plan: Staged) -> Iterator[Hit]:
    service = plan.facts.service
    if (
        service.certificate == Certificate.ISSUED
        and service.certificate_authority != Authority.PRIVATE
    ):
        yield from _unless(plan, "certificate_renewal")


@rule("certificate-renewed-by-hand")
def certificate_renewed_by_hand(plan: Staged) -> Iterator[Hit]:
    service = plan.facts.service
    by_hand = service.certificate_renewal == Renewal.HAND
    if service.certificate_authority != Authority.PUBLIC or not by_hand:
        return
    longest = certificates.longest_days(plan.facts.today)
    if longest:
        yield Hit(
            service.ref.at("certificate_renewal"),
            also=(service.ref.at("certificate_authority"),),
            longest=longest,
            times=math.ceil(365 / longest),
        )


# -- Appliances ----------------------------------------------------------------------------------


def _working(plan: Staged) -> list[Host]:
    return [host for host in plan.facts.hosts if host.state != HostState.SPARE]


@rule("no-appliance")
def no_appliance(plan: Staged) -> Iterator[Hit]:
    if not plan.facts.appliances:
        yield Hit(plan.facts.service.ref)


@rule("one-appliance")
def one_appliance(plan: Staged) -> Iterator[Hit]:
    hosts = len(_working(plan))
    if len(plan.facts.appliances) == 1 and hosts > 1:
        appliance = plan.facts.appliances[0]
        yield Hit(appliance.ref, appliance=appliance.label, hosts=hosts)


def _each_without(plan: Staged, *fields: str) -> Iterator[Hit]:
    for appliance in plan.facts.appliances:
        missing = [field for field in fields if getattr(appliance, field) in (None, "")]
        if missing:
            yield Hit(appliance.ref.at(missing[0]), appliance=appliance.label)


@rule("appliance-no-host")
def appliance_no_host(plan: Staged) -> Iterator[Hit]:
    yield from _each_without(plan, "host_id")


@rule("appliance-no-memory")
def appliance_no_memory(plan: Staged) -> Iterator[Hit]:
    yield from _each_without(plan, "memory_gib")


@rule("appliance-no-disk")
def appliance_no_disk(plan: Staged) -> Iterator[Hit]:
    yield from _each_without(plan, "disk_gib")


@rule("appliance-no-address")
def appliance_no_address(plan: Staged) -> Iterator[Hit]:
    yield from _each_without(plan, "address")


@rule("appliances-on-one-host")
def appliances_on_one_host(plan: Staged) -> Iterator[Hit]:
    first: dict[int, Appliance] = {}
    for appliance in plan.facts.appliances:
        if appliance.host_id is None:
            continue
        if appliance.host_id in first:
            other, host = first[appliance.host_id], plan.facts.named("host", appliance.host_id)
            at, also = appliance.ref.at("host_id"), (other.ref.at("host_id"),)
            yield Hit(at, also=also, appliance=appliance.label, other=other.label, host=host)
        else:
            first[appliance.host_id] = appliance


@rule("appliance-on-spare")
def appliance_on_spare(plan: Staged) -> Iterator[Hit]:
    spare = {host.id: host for host in plan.facts.hosts if host.state == HostState.SPARE}
    for appliance in plan.facts.appliances:
        if appliance.host_id in spare:
            host = spare[appliance.host_id]
            at, also = appliance.ref.at("host_id"), (host.ref.at("state"),)
            yield Hit(at, also=also, appliance=appliance.label, host=host.label)


# -- Ports ---------------------------------------------------------------------------------------


@rule("no-display-protocol")
def no_display_protocol(plan: Staged) -> Iterator[Hit]:
    if not plan.facts.protocols:
        yield Hit(plan.facts.service.ref)


@rule("protocol-no-port")
def protocol_no_port(plan: Staged) -> Iterator[Hit]:
    for protocol in plan.facts.protocols:
        if protocol.tcp_port is None and protocol.udp_port is None:
            yield Hit(protocol.ref.at("tcp_port"), protocol=protocol.label)


@rule("agent-ports-unknown")
def agent_ports_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _unless(plan, "agent_ports")
