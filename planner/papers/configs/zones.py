"""Forward and reverse zones: a file each, and one to read first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.engine.addresses import ipv4
from planner.papers.configs.ground import Ground
from planner.papers.configs.names import Named, Names
from planner.papers.configs.parts import Config, head
from planner.papers.configs.problems import Edition, Problem, problem
from planner.papers.configs.reverse import reverse_zones
from planner.papers.configs.words import one_line
from planner.papers.configs.zone_text import Line, Zone, serial, zone_text
from planner.plan import Plan

TITLE = "Zone files"
FIRST = "read-first.txt"
REPLACES = (
    "nothing by itself. Where a server answers for a zone already, add the records to that zone; this file in its "
    "place would lose every record that is not here, those for mail among them."
)
CAUTIONS = (
    "Desktops have no records here: their names come and go with their leases.",
    "The mailbox hostmaster is the usual one; make sure somebody reads it, or name another.",
    "Look that none of these names or zones is answered for elsewhere before a server loads them.",
)
ENTRY = (
    "This zone is the entry name alone, so that it shadows no other name of its domain. Where your servers answer "
    "for that domain, add the one record there and leave this zone out."
)
DIRECTORY = (
    "The directory's own servers usually answer for this zone and keep records of their own in it: never load this "
    "file there; add what is missing."
)
LONGEST_NAME = 200  # letters of a file's name


def zones(plan: Plan, edition: Edition) -> Config:
    """A zone for each domain of the plan and for each of its subnets."""
    made, servers, problems = _made(Ground(plan))
    files = _files(plan, edition, made, servers)
    listed = [f"{zone}: {name}" for name, zone in zip(files, made, strict=True)] or [
        "No zone could be written."
    ]
    lines = head(
        plan, edition, title=TITLE, replaces=REPLACES, cautions=CAUTIONS, problems=problems
    )
    first = "\n".join([*lines, "The zones and their files:", *listed]) + "\n"
    return Config(first, tuple(problems), {FIRST: first, **files})


def lacking(ground: Ground) -> list[Problem]:
    """What the zones of a plan lack."""
    return _made(ground)[2]


def _made(ground: Ground) -> tuple[dict[str, Zone], list[str], list[Problem]]:
    """The zones by name, the whole names of their name servers, and what was left out."""
    plan, found = ground.plan, ground.names
    problems = list(found.problems)
    servers = [one for one in found.named if one.answers_for_names and "." in one.name]
    targets = [one.name for one in servers]
    made: dict[str, Zone] = {}
    if servers:
        for zone in (
            *_forward(plan, found, servers, problems),
            *reverse_zones(plan, found, targets, problems),
        ):
            made.setdefault(zone.name, zone)
    else:
        why = "no server that answers for DNS has a whole name and an address, and a zone must name one"
        problems.append(problem("every zone", why, plan.facts.directory.ref))
    return made, targets, problems


def _files(
    plan: Plan, edition: Edition, made: dict[str, Zone], servers: Sequence[str]
) -> dict[str, str]:
    """The zones' texts by file name."""
    number = serial(edition.day, edition.revision)
    found: dict[str, str] = {}
    for at, (name, zone) in enumerate(made.items(), 1):
        lines = head(
            plan,
            edition,
            title=f"Zone {name}"[:100],
            replaces=REPLACES,
            cautions=CAUTIONS,
            problems=(),
            elsewhere=FIRST,
        )
        if name.endswith(".arpa"):
            folder = "reverse"
        else:
            folder = "forward"
        if len(name) <= LONGEST_NAME:
            short = name
        else:
            short = f"{name[:LONGEST_NAME]}-{at}"
        found[f"{folder}/{short}.zone"] = zone_text(zone, lines, servers, number)
    return found


# -- forward -------------------------------------------------------------------------------------


def _forward(
    plan: Plan, found: Names, servers: Sequence[Named], problems: list[Problem]
) -> Iterator[Zone]:
    """A zone for each domain with a name in it, and one for an entry name that lies in none."""
    by_domain: dict[str, list[Named]] = {}
    for one in found.named:
        if one.domain:
            by_domain.setdefault(one.domain, []).append(one)
        elif one.entry and "." in one.name:
            yield Zone(one.name, tuple(_addresses("@", one)), (ENTRY,))
        elif "." in one.name:
            why = "it lies in none of the plan's domains, so no zone of theirs can hold it"
            problems.append(problem(f"the name {one.name}", why, one.ref))
    own = one_line(plan.facts.directory.domain, 300).removesuffix(".").lower()
    for domain in [one for one in found.domains if one in by_domain]:
        lines = [line for one in by_domain[domain] for line in _addresses(one.short or "@", one)]
        below = [other for other in by_domain if other.endswith(f".{domain}")]
        lines += _handed_over(domain, below, servers)
        yield Zone(domain, tuple(lines), (DIRECTORY,) if domain == own else ())


def _addresses(owner: str, one: Named) -> Iterator[Line]:
    comment = f"{one.role}: {one.label}"
    if one.address is not None:
        yield Line(owner, "A", ipv4.to_text(one.address), comment)
    if one.ipv6 is not None:
        yield Line(owner, "AAAA", str(one.ipv6), comment)


def _handed_over(domain: str, below: Sequence[str], servers: Sequence[Named]) -> Iterator[Line]:
    """The records that hand over a domain's own parts: name servers, and their addresses where these lie in a part."""
    for part in below:
        if any(part.endswith(f".{other}") for other in below):
            continue  # handed over by a part in between
        for server in servers:
            yield Line(
                part.removesuffix(f".{domain}"), "NS", f"{server.name}.", "a zone of its own"
            )
    for server in servers:
        if server.domain in below:
            yield from _addresses(server.name.removesuffix(f".{domain}"), server)
