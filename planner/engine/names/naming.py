"""Naming: the computer names that templates will give, and who else has them.

A computer name is a prefix and a number with a fixed count of digits, from 1 to the template's most
(common practice, no source). A template may run 100,000 desktops, so names are ranges here, never lists.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from planner.engine.names import distinguished_name, dns_names
from planner.engine.names.distinguished_name import Part
from planner.record.facts import (
    Appliance,
    Device,
    Host,
    Id,
    Record,
    Ref,
    Server,
    SiteFacts,
    Template,
)

Check = Callable[[str], tuple[dns_names.NameFault, ...]]
DIGITS_MOST = 15  # more make no computer name at all


@dataclass(frozen=True, slots=True)
class ComputerNames:
    """One template's names. ``first`` and ``last`` are None when prefix or digits are not known; while
    most is not known, ``last`` is the last that the digits allow.

    ``count`` is how many it will give: its most, or what the digits allow if that is less; None
    when most is not known. ``capacity`` is what the digits allow. ``digits_needed`` is how many
    digits its most asks for. ``faults`` are those of :func:`dns_names.computer_name_faults`.
    """

    template_id: Id
    label: str
    prefix: str
    digits: int | None
    most: int | None
    first: str | None = None
    last: str | None = None
    count: int | None = None
    capacity: int | None = None
    digits_needed: int | None = None
    faults: tuple[dns_names.NameFault, ...] = ()

    @property
    def enough_digits(self) -> bool | None:
        if self.most is None or self.capacity is None:
            return None
        return self.most <= self.capacity

    def name(self, number: int) -> str:
        return f"{self.prefix}{number:0{self.digits or 1}d}"


@dataclass(frozen=True, slots=True)
class NameClash:
    """A template's names that another has too: ``count`` of them, from ``name`` on.

    ``template_id`` is the template that should change, ``other`` the other template or the record.
    """

    template_id: Id
    other: Ref
    other_label: str
    name: str
    count: int


@dataclass(frozen=True, slots=True)
class SameName:
    """One name that several machines bear, in the order of the chapters."""

    name: str
    records: tuple[Record, ...]


@dataclass(frozen=True, slots=True)
class Problem:
    """A name that is not allowed where it stands: the field, the name, its faults (see ``dns_names``)."""

    at: Ref
    label: str
    name: str
    faults: tuple[dns_names.NameFault, ...]


@dataclass(frozen=True)
class Naming:
    """Names of one site: a range a template, clashes, and names that cannot be.

    ``ou`` is the desktops' organisational unit taken apart (RFC 4514), None when it is not known or
    not a distinguished name.
    """

    names: tuple[ComputerNames, ...] = ()
    clashes: tuple[NameClash, ...] = ()
    same: tuple[SameName, ...] = ()
    problems: tuple[Problem, ...] = ()
    ou: tuple[Part, ...] | None = None

    @functools.cached_property
    def _by_template(self) -> dict[Id, ComputerNames]:
        return {one.template_id: one for one in self.names}

    def of(self, template_id: Id | None) -> ComputerNames | None:
        """One template's names, None when there is no such template."""
        if template_id is not None:
            return self._by_template.get(template_id)
        return None


def work_out(facts: SiteFacts) -> Naming:
    """Every name of a site. Never raises; time grows with the records, not with the desktops."""
    names = tuple(map(computer_names, facts.templates))
    directory = facts.directory
    return Naming(
        names=names,
        clashes=tuple(_clashes(names, facts)),
        same=tuple(_same(facts)),
        problems=tuple(_problems(facts)),
        ou=distinguished_name.parse(directory.desktop_ou) if directory.desktop_ou else None,
    )


def computer_names(template: Template) -> ComputerNames:
    """The range of one template's computer names."""
    if template.most is not None and template.most >= 0:
        most = template.most
    else:
        most = None
    digits = template.name_digits
    names = ComputerNames(
        template_id=template.id,
        label=template.label,
        prefix=template.name_prefix,
        digits=digits,
        most=most,
        digits_needed=len(str(most)) if most else None,
    )
    if not template.name_prefix or digits is None or not 1 <= digits <= DIGITS_MOST:
        return names
    capacity = 10**digits - 1
    if most is None:
        count = None
    else:
        count = min(most, capacity)
    first, last = names.name(1), names.name(capacity if count is None else max(count, 1))
    faults = dns_names.computer_name_faults(first)
    return dataclasses.replace(
        names, capacity=capacity, count=count, first=first, last=last, faults=faults
    )


def _ranges(names: tuple[ComputerNames, ...]) -> dict[tuple[str, int], list[ComputerNames]]:
    """Templates by prefix (names know no case) and digits."""
    found: dict[tuple[str, int], list[ComputerNames]] = {}
    for one in names:
        if one.first is not None and one.digits and one.count != 0:
            found.setdefault((one.prefix.lower(), one.digits), []).append(one)
    return found


def _top(one: ComputerNames) -> int:
    """The highest number a template surely gives: its most; 1 while nobody knows it."""
    return one.count or 1


def _clashes(names: tuple[ComputerNames, ...], facts: SiteFacts) -> Iterator[NameClash]:
    ranges = _ranges(names)
    widest = {key: max(owners, key=_top) for key, owners in ranges.items()}
    for owners in ranges.values():
        first = owners[0]
        for other in owners[1:]:
            yield _template_clash(other, first, other.name(1), min(_top(other), _top(first)))
    for (prefix, digits), inner in widest.items():
        for shorter, more_digits, number in _cut(prefix, digits):
            outer = widest.get((shorter, more_digits))
            if outer:
                yield from _within(inner, outer, number * 10**digits)
    for record in _named(facts):
        name = _host_part(record.name)
        for prefix, digits, number in _cut(name, 0):
            one = widest.get((prefix, digits))
            if one and 1 <= number <= _top(one):
                yield NameClash(one.template_id, record.ref.at("name"), record.label, name, 1)


def _cut(text: str, digits: int) -> Iterator[tuple[str, int, int]]:
    """Every way to cut digits off the end of ``text``: what is left, digits in all, the number cut off."""
    for length in range(1, DIGITS_MOST - digits + 1):
        if length < len(text):
            tail = text[len(text) - length :]
        else:
            tail = ""
        if not (tail.isascii() and tail.isdigit()):
            return
        yield text[:-length], length + digits, int(tail)


def _within(inner: ComputerNames, outer: ComputerNames, base: int) -> Iterator[NameClash]:
    """``inner``'s numbers 1 … top read as ``outer``'s: base + 1 … base + top."""
    low, high = base + 1, min(base + _top(inner), _top(outer))
    if low <= high:
        yield _template_clash(inner, outer, outer.name(low), high - low + 1)


def _template_clash(one: ComputerNames, other: ComputerNames, name: str, count: int) -> NameClash:
    return NameClash(
        one.template_id, Ref("template", other.template_id, "name_prefix"), other.label, name, count
    )


def _named(facts: SiteFacts) -> Iterator[Host | Server | Appliance | Device]:
    """The machines that have a name on the network."""
    records: tuple[Host | Server | Appliance | Device, ...]
    for records in (facts.hosts, facts.servers, facts.appliances, facts.devices):
        yield from (record for record in records if record.name)


def _host_part(name: str) -> str:
    """The machine's own name, without a domain: ``mill-h1`` of ``mill-h1.corp.example``."""
    return name.strip().lower().partition(".")[0]


def _same(facts: SiteFacts) -> Iterator[SameName]:
    bearers: dict[str, list[Record]] = {}
    for record in _named(facts):
        bearers.setdefault(record.name.strip().lower(), []).append(record)
    for name, records in bearers.items():
        if name and len(records) > 1:
            yield SameName(name, tuple(records))


def _problems(facts: SiteFacts) -> Iterator[Problem]:
    directory, service = facts.directory, facts.service
    machines: tuple[Record, ...] = (*facts.hosts, *facts.servers, *facts.appliances)
    fields = [(machine, "name") for machine in machines]
    fields += [(host, "management_name") for host in facts.hosts]
    fields += [(service, "entry_name")]
    checks: list[tuple[Record, str, Check]] = [
        (record, field, dns_names.host_name_faults) for record, field in fields
    ]
    checks += [
        (directory, "domain", dns_names.domain_faults),
        (directory, "netbios", dns_names.netbios_faults),
    ]
    for record, field, check in checks:
        name = getattr(record, field)
        if name:
            faults = check(name)
        else:
            faults = ()
        if faults:
            yield Problem(record.ref.at(field), record.label, name, faults)
