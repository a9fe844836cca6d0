"""Words: values that the catalogue's texts use and that no single field holds.

Each takes the facts (and the record it is of) and gives plain words, or "" when nobody knows.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from typing import TypeVar, cast

from planner.engine.flows.port_sheet import Flows
from planner.record import units
from planner.record.choices import ContactRole, HostState, ServerRole, Weekday
from planner.record.facts import (
    Host,
    Image,
    Network,
    Protocol,
    Record,
    Service,
    SiteFacts,
    Template,
)

OfSite = Callable[[SiteFacts], str]
OfFlows = Callable[[Flows], str]
OfRecord = Callable[[SiteFacts, Record], str]
Bearer = TypeVar("Bearer", bound=Record)
LONGEST_SCOPE = 1500  # letters; an answer keeps what it was given for
LISTED = 6  # so many are told one by one in a sentence, of more the rest is counted
OF_SITE: dict[str, OfSite] = {}
OF_FLOWS: dict[str, OfFlows] = {}
OF_RECORD: dict[tuple[str, str], OfRecord] = {}


def of_site(function: OfSite) -> OfSite:
    OF_SITE[function.__name__] = function
    return function


def of_flows(function: OfFlows) -> OfFlows:
    OF_FLOWS[function.__name__] = function
    return function


def of_record(
    kind: str,
) -> Callable[[Callable[[SiteFacts, Bearer], str]], Callable[[SiteFacts, Bearer], str]]:
    def register(
        function: Callable[[SiteFacts, Bearer], str],
    ) -> Callable[[SiteFacts, Bearer], str]:
        # It is given records of its kind alone.
        OF_RECORD[(kind, function.__name__)] = cast("OfRecord", function)
        return function

    return register


def joined(pieces: Iterable[str]) -> str:
    return ", ".join(piece for piece in pieces if piece)


def listed(pieces: Iterable[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``, and of more than six ``a, b, c, d, e, f and 6 more``.

    Where a piece is itself several words so joined, ``;`` keeps them apart: ``records; letters and tables``.
    """
    found = [piece for piece in pieces if piece]
    if len(found) > LISTED:
        found = [*found[:LISTED], f"{len(found) - LISTED:,} more"]
    if any(" and " in piece or ", " in piece for piece in found):
        return "; ".join(found)
    return " and ".join(filter(None, (joined(found[:-1]), *found[-1:])))


# -- Of the site ---------------------------------------------------------------------------------


def _contacts(facts: SiteFacts, role: ContactRole) -> str:
    found = [contact for contact in facts.contacts if contact.role == role]
    return listed(f"{one.label} ({one.phone})" if one.phone else one.label for one in found)


def _servers(facts: SiteFacts, role: ServerRole) -> str:
    found = [server for server in facts.servers if role in server.roles]
    return listed(f"{one.label} ({one.address})" if one.address else one.label for one in found)


@of_site
def scope(facts: SiteFacts) -> str:
    """What is in it, and what is not, as typed; of very long texts the beginning and how long they are."""
    site = facts.site
    parts = (site.scope.strip(), site.out_of_scope.strip())
    if not any(parts):
        return ""
    said = f"in it: {parts[0] or 'nothing said'}; not in it: {parts[1] or 'nothing said'}"
    code = hashlib.sha256(said.encode()).hexdigest()[:8]
    if len(said) <= LONGEST_SCOPE:
        return said
    return f"{said[:LONGEST_SCOPE]}… ({code})"


@of_site
def decision_makers(facts: SiteFacts) -> str:
    return _contacts(facts, ContactRole.DECISION)


@of_site
def key_holders(facts: SiteFacts) -> str:
    return _contacts(facts, ContactRole.KEYS)


@of_site
def directory_administrators(facts: SiteFacts) -> str:
    return _contacts(facts, ContactRole.DIRECTORY)


@of_site
def network_administrators(facts: SiteFacts) -> str:
    return _contacts(facts, ContactRole.NETWORK)


@of_site
def suppliers(facts: SiteFacts) -> str:
    return _contacts(facts, ContactRole.SUPPLIER)


@of_site
def pilot_users(facts: SiteFacts) -> str:
    return _contacts(facts, ContactRole.PILOT)


@of_site
def directory_servers(facts: SiteFacts) -> str:
    return _servers(facts, ServerRole.DIRECTORY)


@of_site
def key_servers(facts: SiteFacts) -> str:
    return _servers(facts, ServerRole.KEYS)


@of_site
def working_hosts(facts: SiteFacts) -> str:
    """The hosts that carry desktops: all but the spare ones."""
    return listed(host.label for host in _working(facts))


def _working(facts: SiteFacts) -> list[Host]:
    return [host for host in facts.hosts if host.state != HostState.SPARE]


@of_site
def hosts_power(facts: SiteFacts) -> str:
    """The rated power of the working hosts together; "" while one of them is not known."""
    watts = [host.rated_watts for host in _working(facts)]
    known = [one for one in watts if one is not None]
    if known and len(known) == len(watts):
        return f"{units.show(sum(known), 0)} W"
    return ""


@of_site
def working_hours(facts: SiteFacts) -> str:
    site = facts.site
    if site.work_starts is None or site.work_ends is None:
        return ""
    hours = f"{site.work_starts:%H:%M} to {site.work_ends:%H:%M}"
    return joined([hours, _days(site.work_days)])


def _days(numbers: Iterable[str]) -> str:
    """``Mon to Fri``; ``Mon, Wed and Fri`` when they do not follow each other."""
    found = sorted({day for day in numbers if Weekday.holds(day)})
    if len(found) > 2 and int(found[-1]) - int(found[0]) == len(found) - 1:
        return f"{Weekday.words_of(found[0])} to {Weekday.words_of(found[-1])}"
    return listed(Weekday.words_of(day) for day in found)


@of_site
def display_ports(facts: SiteFacts) -> str:
    """``RDP 3389/tcp 3389/udp``: every display protocol with its ports."""

    def ports(one: Protocol) -> str:
        pairs = ((one.tcp_port, "tcp"), (one.udp_port, "udp"))
        return " ".join(
            [one.label, *(f"{port}/{transport}" for port, transport in pairs if port is not None)]
        )

    return listed(ports(one) for one in facts.protocols)


@of_site
def most_in_all(facts: SiteFacts) -> str:
    """How many desktops may run at once, over all templates."""
    known = [template.most for template in facts.templates if template.most is not None]
    if known:
        return units.show(sum(known), 0)
    return ""


@of_flows
def port_lines(flows: Flows) -> str:
    return flows.in_short


# -- Of a record ---------------------------------------------------------------------------------


@of_record("service")
def page(facts: SiteFacts, service: Service) -> str:
    """Where people open the service."""
    if service.entry_name:
        return f"https://{service.entry_name}"
    return ""


@of_record("network")
def dhcp_range(facts: SiteFacts, network: Network) -> str:
    if network.dhcp_first and network.dhcp_last:
        return f"{network.dhcp_first} to {network.dhcp_last}"
    return ""


@of_record("image")
def source(facts: SiteFacts, image: Image) -> str:
    """What the image's machine is made from."""
    return image.source_machine.strip() or "its publisher's medium"


@of_record("image")
def applications(facts: SiteFacts, image: Image) -> str:
    return listed(one.label for one in facts.applications if one.image_id == image.id)


@of_record("image")
def wishes(facts: SiteFacts, image: Image) -> str:
    """What is to be removed or added, without the full stop that the sentence around it has already."""
    return image.remove_or_add.strip().rstrip(".")


@of_record("image")
def prefixes(facts: SiteFacts, image: Image) -> str:
    """The name prefixes of the templates that start desktops from it."""
    return listed(
        dict.fromkeys(one.name_prefix for one in facts.templates if one.image_id == image.id)
    )


@of_record("image")
def profile_places(facts: SiteFacts, image: Image) -> str:
    return listed(
        dict.fromkeys(one.profile_place for one in facts.templates if one.image_id == image.id)
    )


@of_record("template")
def first_name(facts: SiteFacts, template: Template) -> str:
    """The computer name of the template's first desktop: prefix and number 1."""
    if _named(template):
        return f"{template.name_prefix}{1:0{template.name_digits}d}"
    return ""


def _named(template: Template) -> bool:
    return (
        bool(template.name_prefix)
        and template.name_digits is not None
        and 0 < template.name_digits < 64
    )
