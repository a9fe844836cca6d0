"""Findings about names: of computers, machines, the domain, the service. Leases register here too."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypedDict

from planner.engine.names import distinguished_name, dns_names
from planner.engine.names.dns_names import NameFault
from planner.engine.names.naming import ComputerNames, NameClash, Problem
from planner.record import units
from planner.record.choices import DirectoryKind
from planner.record.facts import Ref
from planner.review import leases  # noqa: F401  (importing a module registers its rules)
from planner.review.base import Hit, Mend, rule
from planner.review.words import and_list
from planner.stages.staged import Staged


def template_ref(names: ComputerNames, field: str = "") -> Ref:
    return Ref("template", names.template_id, field)


class Widths(TypedDict):
    """What findings about a template's computer names say of them."""

    template: str
    prefix: str
    first: str
    last: str
    length: str
    longest: str


def widths(names: ComputerNames) -> Widths:
    return {
        "template": names.label,
        "prefix": names.prefix,
        "first": names.first or "",
        "last": names.last or "",
        "length": str(len(names.first or "")),
        "longest": str(dns_names.COMPUTER_LONGEST),
    }


def digits_mend(names: ComputerNames) -> tuple[Mend | None, str]:
    """As many digits as the template's most asks for, if prefix and digits then fit a computer name."""
    needed = names.digits_needed
    if (
        needed is None
        or needed == names.digits
        or len(names.prefix) + needed > dns_names.COMPUTER_LONGEST
    ):
        return None, ""
    return Mend(template_ref(names), (("name_digits", str(needed)),)), str(needed)


@rule("computer-names-unknown")
def names_unknown(plan: Staged) -> Iterator[Hit]:
    for names in plan.naming.names:
        if names.first is not None:
            continue
        missing = [
            words
            for words, value in (("prefix", names.prefix), ("digits", names.digits))
            if not value
        ]
        mend, value = digits_mend(names) if names.prefix else (None, "")
        if not names.prefix:
            field = "name_prefix"
        else:
            field = "name_digits"
        what = and_list(missing) or "a sensible count of digits"
        yield Hit(
            template_ref(names, field), mend=mend, template=names.label, missing=what, value=value
        )


def faulty(plan: Staged, fault: NameFault) -> Iterator[ComputerNames]:
    return (names for names in plan.naming.names if fault in names.faults)


@rule("computer-names-long")
def names_long(plan: Staged) -> Iterator[Hit]:
    for names in faulty(plan, NameFault.LONG):
        mend, value = digits_mend(names)
        yield Hit(template_ref(names, "name_prefix"), mend=mend, value=value, **widths(names))


@rule("computer-names-characters")
def names_characters(plan: Staged) -> Iterator[Hit]:
    for names in faulty(plan, NameFault.CHARACTERS):
        yield Hit(template_ref(names, "name_prefix"), **widths(names))


@rule("computer-names-hyphen")
def names_hyphen(plan: Staged) -> Iterator[Hit]:
    for names in faulty(plan, NameFault.HYPHEN):
        value = names.prefix.lstrip("-")
        if value:
            mend = Mend(template_ref(names), (("name_prefix", value),))
        else:
            mend = None
        yield Hit(template_ref(names, "name_prefix"), mend=mend, value=value, **widths(names))


@rule("computer-names-all-digits")
def names_all_digits(plan: Staged) -> Iterator[Hit]:
    for names in faulty(plan, NameFault.ALL_DIGITS):
        yield Hit(template_ref(names, "name_prefix"), **widths(names))


@rule("computer-names-few-digits")
def names_few_digits(plan: Staged) -> Iterator[Hit]:
    for names in plan.naming.names:
        if names.enough_digits is False:
            mend, value = digits_mend(names)
            yield Hit(
                template_ref(names, "name_digits"),
                mend=mend,
                digits=names.digits,
                value=value,
                capacity=units.show(names.capacity),
                most=units.show(names.most),
                **widths(names),
            )


@rule("computer-names-collide")
def names_collide(plan: Staged) -> Iterator[Hit]:
    for clash in plan.naming.clashes:
        if clash.other.kind == "template":
            yield clash_hit(plan, clash)


@rule("computer-name-taken")
def name_taken(plan: Staged) -> Iterator[Hit]:
    for clash in plan.naming.clashes:
        if clash.other.kind != "template":
            yield clash_hit(plan, clash)


def clash_hit(plan: Staged, clash: NameClash) -> Hit:
    at = Ref("template", clash.template_id, "name_prefix")
    twin = clash.other.anchor
    return Hit(
        at,
        also=(clash.other,),
        twin=twin,
        template=plan.facts.named("template", clash.template_id),
        other=clash.other_label,
        name=clash.name,
        count=units.show(clash.count),
    )


@rule("machine-name-twice")
def machine_name_twice(plan: Staged) -> Iterator[Hit]:
    for same in plan.naming.same:
        *others, last = (record.ref.at("name") for record in same.records)
        kinds = and_list([f"a {record.kind}" for record in same.records])
        yield Hit(last, also=tuple(others), name=same.name, kinds=kinds)


def problems(plan: Staged, kind: str, field: str) -> Iterator[Problem]:
    return (
        problem
        for problem in plan.naming.problems
        if (problem.at.kind, problem.at.field) == (kind, field)
    )


def name_hits(
    plan: Staged, kind: str, field: str, less: tuple[NameFault, ...] = ()
) -> Iterator[Hit]:
    """A hit for each name that is not allowed, with its faults in words."""
    for problem in problems(plan, kind, field):
        faults = [fault.words for fault in problem.faults if fault not in less]
        if faults:
            yield Hit(problem.at, label=problem.label, name=problem.name, faults=and_list(faults))


@rule("host-name-not-allowed")
def host_name(plan: Staged) -> Iterator[Hit]:
    yield from name_hits(plan, "host", "name")


@rule("management-name-not-allowed")
def management_name(plan: Staged) -> Iterator[Hit]:
    yield from name_hits(plan, "host", "management_name")


@rule("server-name-not-allowed")
def server_name(plan: Staged) -> Iterator[Hit]:
    yield from name_hits(plan, "server", "name")


@rule("server-name-long")
def server_name_long(plan: Staged) -> Iterator[Hit]:
    if plan.facts.directory.directory_kind != DirectoryKind.DOMAIN:
        return
    for server in plan.facts.servers:
        name = server.name.strip().partition(".")[0]
        if len(name) > dns_names.COMPUTER_LONGEST:
            yield Hit(
                server.ref.at("name"),
                name=name,
                length=len(name),
                cut=name[: dns_names.COMPUTER_LONGEST],
            )


@rule("appliance-name-not-allowed")
def appliance_name(plan: Staged) -> Iterator[Hit]:
    yield from name_hits(plan, "appliance", "name")


@rule("entry-name-not-allowed")
def entry_name(plan: Staged) -> Iterator[Hit]:
    yield from name_hits(plan, "service", "entry_name")


@rule("domain-not-allowed")
def domain(plan: Staged) -> Iterator[Hit]:
    yield from name_hits(plan, "directory", "domain", less=(NameFault.LONG, NameFault.SINGLE))


@rule("domain-long")
def domain_long(plan: Staged) -> Iterator[Hit]:
    for problem in problems(plan, "directory", "domain"):
        if NameFault.LONG in problem.faults:
            yield Hit(
                problem.at,
                name=problem.name,
                length=len(problem.name),
                longest=dns_names.DOMAIN_LONGEST,
            )


@rule("netbios-not-allowed")
def netbios(plan: Staged) -> Iterator[Hit]:
    words = {
        NameFault.LONG: f"it is longer than {dns_names.NETBIOS_LONGEST} characters",
        NameFault.CHARACTERS: "it holds something other than letters a to z, digits and hyphens",
    }
    for problem in problems(plan, "directory", "netbios"):
        yield Hit(
            problem.at,
            name=problem.name,
            faults=and_list([words[fault] for fault in problem.faults]),
        )


@rule("ou-malformed")
def ou_malformed(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    if directory.desktop_ou and plan.naming.ou is None:
        yield Hit(directory.ref.at("desktop_ou"), ou=directory.desktop_ou)


@rule("ou-part-long")
def ou_part_long(plan: Staged) -> Iterator[Hit]:
    for place, value in enumerate(distinguished_name.values(plan.naming.ou or (), "ou"), start=1):
        if len(value) > dns_names.PART_LONGEST:
            yield Hit(
                plan.facts.directory.ref.at("desktop_ou"),
                twin=str(place),
                part=value,
                length=len(value),
                longest=dns_names.PART_LONGEST,
            )


@rule("ou-outside-domain")
def ou_outside_domain(plan: Staged) -> Iterator[Hit]:
    directory, ou = plan.facts.directory, plan.naming.ou
    domain = directory.domain.removesuffix(".")
    if not ou or not domain:
        return
    found = ".".join(distinguished_name.values(ou, "dc"))
    if found.lower() != domain.lower():
        wanted = ",".join(f"DC={label}" for label in domain.split("."))
        value = f"{directory.desktop_ou},{wanted}"
        if not found:
            mend = Mend(directory.ref, (("desktop_ou", value),))
        else:
            mend = None
        yield Hit(
            directory.ref.at("desktop_ou"),
            mend=mend,
            ou=directory.desktop_ou,
            domain=domain,
            wanted=wanted,
            value=value,
        )
