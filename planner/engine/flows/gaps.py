"""Gaps: what nobody has written down, so that a line of the port sheet cannot be said whole."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from dataclasses import dataclass

from planner.engine.flows.ends import UNKNOWN, Ends, Group, Holder
from planner.engine.flows.port_sheet import Flow
from planner.record.choices import NetworkPurpose
from planner.record.facts import Id, Protocol, Ref, SiteFacts, Template

MOST = 12  # gaps told of one flow


@dataclass(frozen=True, slots=True)
class Gap:
    """One thing that is missing, in words. ``at`` is the record or the field where a person would write it;
    where a record is still to be added, ``section`` (a section's slug) is where."""

    words: str
    at: Ref | None = None
    section: str = ""


# Who is not known at all, by what such holders are called together: where they would be written down.
NOBODY = {
    Group.PEOPLE: ("which people use it", "seats"),
    Group.APPLIANCES: ("the appliances", "appliances"),
    Group.HOSTS: ("the hosts", "hosts"),
    Group.ADMINISTRATORS: ("which network administrators sit on", "networks"),
    Group.DNS_SERVERS: ("a server that answers for DNS", "servers"),
    Group.DIRECTORY_SERVERS: ("a server that answers for the directory", "servers"),
    Group.TIME_SERVERS: ("a server that answers for the time", "servers"),
    Group.DHCP_SERVERS: ("a server that answers for DHCP", "servers"),
    Group.KEY_SERVERS: ("a server that answers for activation keys", "servers"),
}
OF_THE_SERVICE = {
    Group.ENTRY: "entry_name",
    Group.GATEWAY: "outside_device_id",
    Group.VPN: "outside_device_id",
}
PORTS_OF_SERVICE = {  # from the supplier's papers, for no standard says
    "appliances": ("the ports between appliances", "appliance_ports"),
    "host-copies": ("the ports by which hosts give each other images", "copy_ports"),
    "service-backup": ("by which port the backup goes", "backup_place"),
}
SERVICE_WORDS = {
    Group.ENTRY: "the entry name",
    Group.GATEWAY: "which device is the gateway",
    Group.VPN: "which device is the VPN's end",
}


class Gaps:
    """The gaps of one site's flows."""

    def __init__(self, facts: SiteFacts):
        self.facts = facts

    def of(self, flow: Flow) -> tuple[Gap, ...]:
        """What is missing to say a flow whole, each thing once."""
        found: dict[Gap, None] = {}
        for end in (flow.source, flow.target):
            for holder in end.holders:
                gap = self._of_holder(holder, flow)
                if gap is not None:
                    found[gap] = None
                if len(found) >= MOST:
                    return tuple(found)
        return tuple(dict.fromkeys([*found, *self._of_ports(flow)]))[:MOST]

    # -- who, and where ---------------------------------------------------------------------------

    def _of_holder(self, holder: Holder, flow: Flow) -> Gap | None:
        """The first thing that is missing of one holder: who it is, its network, its addresses."""
        if holder.outside:
            return None
        if holder.name == UNKNOWN:
            return self._nobody(holder, flow)
        if holder.network_id is None:
            return self._nowhere(holder, flow)
        if not holder.address:
            return self._no_address(holder)
        return None

    def _nobody(self, holder: Holder, flow: Flow) -> Gap:
        if holder.group in OF_THE_SERVICE:
            return Gap(
                SERVICE_WORDS[holder.group], self.facts.service.ref.at(OF_THE_SERVICE[holder.group])
            )
        if flow.record is not None:
            if holder in flow.source.holders:
                side = "from"
            else:
                side = "to"
            return Gap(
                f"where “{flow.why or 'this flow'}” goes {side}",
                flow.record.at(f"{side}_network_id"),
            )
        words, section = NOBODY.get(holder.group, (holder.group or "who it is", "servers"))
        return Gap(words, section=section)

    def _nowhere(self, holder: Holder, flow: Flow) -> Gap:
        if holder.group == Group.PROFILES:
            return Gap(f"which server of 4.2 “{holder.name}” is on", section="servers")
        if holder.group in (Group.DATASTORES, Group.HOSTS) and flow.name == "storage":
            return Gap("the storage network", section="networks")
        if holder.address:
            if holder.address == holder.name:
                what = holder.address
            else:
                what = f"{holder.address} ({holder.name})"
            return Gap(f"the network that {what} lies in", section="networks")
        if holder.ref is None:
            if flow.record is not None:
                if holder in flow.source.holders:
                    side = "from"
                else:
                    side = "to"
                return Gap(f"the network of “{holder.name}”", flow.record.at(f"{side}_network_id"))
            return Gap(
                f"“{holder.name}”: neither a server nor a device of the plan", section="servers"
            )
        if holder.ref.kind == "host" and holder.group == Group.OUT_OF_BAND:
            return Gap(
                f"the out-of-band address of {holder.name}", holder.ref.at("out_of_band_address")
            )
        return Gap(f"the network of {holder.name}", holder.ref.at("network_id"))

    def _no_address(self, holder: Holder) -> Gap:
        if holder.group == Group.RELAY:
            return Gap(f"the {holder.name}", Ref("network", holder.network_id or 0, "gateway"))
        if holder.ref is not None and holder.ref.kind in (
            "host",
            "appliance",
            "server",
            "device",
            "service",
        ):
            return Gap(f"the address of {holder.name}", holder.ref.at("address"))
        network = self.facts.named("network", holder.network_id)
        return Gap(f"the subnet of {network}", Ref("network", holder.network_id or 0, "cidr"))

    # -- which ports ------------------------------------------------------------------------------

    def _of_ports(self, flow: Flow) -> Iterator[Gap]:
        if flow.rule == "storage-undecided":
            for holder in flow.target.holders:
                if holder.ref is not None:
                    yield Gap(
                        f"how hosts reach {holder.name}: iSCSI or NFS", holder.ref.at("reached_by")
                    )
        if flow.transport and flow.ports != UNKNOWN:
            return
        service = self.facts.service.ref
        if flow.rule == "agent":
            yield Gap("the ports of the desktop agent", service.at("agent_ports"))
        elif flow.rule in PORTS_OF_SERVICE:
            words, field = PORTS_OF_SERVICE[flow.rule]
            yield Gap(words, service.at(field))
        elif flow.rule == "outside":
            yield Gap("the ports that answer to the outside", service.at("outside_ports"))
        elif flow.record is not None:
            if flow.transport:
                field = "ports"
            else:
                field = "transport"
            yield Gap(f"the port of “{flow.why or 'this flow'}”", flow.record.at(field))
        else:
            yield from self._of_protocols(flow)

    def _of_protocols(self, flow: Flow) -> Iterator[Gap]:
        for holder in flow.target.holders:
            if holder.ref and holder.ref.kind == "template":
                template = self._templates.get(holder.ref.id)
            else:
                template = None
            if template is None:
                continue
            protocol = self._protocols.get(template.protocol_id)
            if protocol is None and len(self.facts.protocols) == 1:
                protocol = self.facts.protocols[0]
            if protocol is None:
                yield Gap(
                    f"the display protocol of {template.label}", template.ref.at("protocol_id")
                )
            else:
                yield Gap(f"the ports of {protocol.label}", protocol.ref.at("tcp_port"))

    @functools.cached_property
    def _templates(self) -> dict[Id, Template]:
        return {template.id: template for template in self.facts.templates}

    @functools.cached_property
    def _protocols(self) -> dict[Id | None, Protocol]:
        return {protocol.id: protocol for protocol in self.facts.protocols}


def undecided(facts: SiteFacts) -> Iterator[Gap]:
    """What nobody said yet and what would bring, or spare, lines of the sheet."""
    service = facts.service
    if Ends(facts).in_a_domain and facts.directory.ldaps is None:
        yield Gap(
            "whether the directory is asked over TLS too (636, 3269)",
            facts.directory.ref.at("ldaps"),
        )
    if not service.outside_access and (facts.seat_groups or facts.appliances):
        yield Gap("whether people come from outside", service.ref.at("outside_access"))
    for image in facts.images:
        if not image.activation:
            yield Gap(
                f"how {image.label} is activated (a key server needs 1688)",
                image.ref.at("activation"),
            )
    for network in facts.networks:
        if network.purpose == NetworkPurpose.DESKTOPS and not network.dhcp:
            yield Gap(f"whether {network.label} has DHCP (67, 68)", network.ref.at("dhcp"))
