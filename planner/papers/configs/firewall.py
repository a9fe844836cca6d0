"""A firewall's rule set in the syntax of nft, from the flows that cross it. Source: nft(8)."""

from __future__ import annotations

import re
from collections.abc import Iterator

from planner.engine.flows import ends
from planner.papers.configs.firewall_rules import Group, Prefix, Rule
from planner.papers.configs.ground import Ground
from planner.papers.configs.parts import Config, head
from planner.papers.configs.problems import Edition, Problem
from planner.papers.configs.words import commented, quoted
from planner.plan import Plan
from planner.record.choices import Transport

TITLE = "Firewall rules, as an nft rule set"
REPLACES = (
    "the table of the same name, where one stands from an earlier edition; no other table. Rules that stand "
    "elsewhere on the firewall stay, and what they drop stays dropped."
)
CAUTIONS = (
    "Everything that this firewall forwards and that no line here allows is dropped, IPv4 and IPv6, for every network "
    "behind it: the way to the internet and traffic that has nothing to do with the desktops too. Add rules for these "
    "first.",
    "It says nothing about the firewall's own access: no input and no output chain, no address translation, no "
    "routing, no interface and no spoofing checks. How you reach the firewall to undo this must stand elsewhere.",
    "Load it at a quiet hour, from a place that does not need it, with a job waiting that takes the table away "
    "again after some minutes unless you stop it.",
    "Of ICMP only the echo request passes, and errors that belong to a connection. DHCP that a router forwards "
    "comes from that router: it passes only where the router's address lies in the desktops' subnet.",
    "Flows that do not cross a firewall in the plan are not here, nor are those of the hosts' own firewalls.",
)
COMMENT = 120  # bytes; the kernel keeps 128 with the zero at its end
GROUPS = (
    ends.Group.PEOPLE,
    ends.Group.ENTRY,
    ends.Group.DESKTOPS,
    ends.Group.APPLIANCES,
    ends.Group.HOSTS,
    ends.Group.DIRECTORY_SERVERS,
    ends.Group.DNS_SERVERS,
    ends.Group.DHCP_SERVER,
    ends.Group.DHCP_SERVERS,
    ends.Group.TIME_SERVERS,
    ends.Group.TIME_SOURCE,
    ends.Group.KEY_SERVERS,
    ends.Group.FILE_SERVERS,
    ends.Group.PRINT_SERVERS,
    ends.Group.PRINTERS,
    ends.Group.OUT_OF_BAND,
    ends.Group.ADMINISTRATORS,
    ends.Group.DATASTORES,
    ends.Group.LOG_SERVERS,
)


def firewall(plan: Plan, edition: Edition) -> Config:
    """One table with the sets of addresses and a chain for what is forwarded."""
    ground = Ground(plan)
    found, problems = ground.rules[0], lacking(ground)
    sets = _sets(found)
    table = f"inet deskwright_{_slug(plan.facts.site.code) or 'site'}"
    lines = commented(
        head(plan, edition, title=TITLE, replaces=REPLACES, cautions=CAUTIONS, problems=problems),
        "#",
    )
    lines += [f"table {table}", f"delete table {table}", "", f"table {table} {{"]
    for name, group in sets.values():
        lines += _set(name, group)
    lines += [
        "\tchain forward {",
        "\t\ttype filter hook forward priority filter; policy drop;",
        '\t\tct state established,related accept comment "answers, and errors that belong to a connection"',
        '\t\tct state invalid drop comment "answers that nobody asked for"',
        *(f"\t\t{_rule(rule, sets)}" for rule in found),
        '\t\tcounter drop comment "whatever no line above allows"',
        "\t}",
        "}",
    ]
    return Config("\n".join(lines) + "\n", tuple(problems))


def lacking(ground: Ground) -> list[Problem]:
    """What the rule set of a plan lacks."""
    return ground.rules[1]


def _sets(found: list[Rule]) -> dict[int, tuple[str, Group]]:
    """A set for each different list of addresses, named after what it holds, with a number."""
    sets: dict[int, tuple[str, Group]] = {}
    for rule in found:
        for group in (rule.source, rule.target):
            word = next(
                (_slug(role) for role in GROUPS if group.label.startswith(f"{role}:")), "others"
            )
            sets.setdefault(group.number, (f"{word}_{len(sets) + 1}", group))
    return sets


def _set(name: str, group: Group) -> Iterator[str]:
    yield f"\tset {name} {{"
    yield f"\t\ttype ipv{group.version}_addr"
    yield "\t\tflags interval"
    yield f"\t\tcomment {quoted(group.label, COMMENT)}"
    yield "\t\telements = {"
    yield from (f"\t\t\t{_element(prefix)}," for prefix in group.prefixes)
    yield "\t\t}"
    yield "\t}"
    yield ""


def _element(prefix: Prefix) -> str:
    if prefix.prefixlen == prefix.max_prefixlen:
        return str(prefix.network_address)
    return str(prefix)


def _rule(rule: Rule, sets: dict[int, tuple[str, Group]]) -> str:
    source, target = sets[rule.source.number][0], sets[rule.target.number][0]
    if rule.source.version == 4:
        family = "ip"
    else:
        family = "ip6"
    if rule.transport == Transport.ICMP:
        if family == "ip":
            what = "icmp type echo-request"
        else:
            what = "icmpv6 type echo-request"
    else:
        what = f"{rule.transport} dport {_ports(rule)}"
    comment = quoted(f"{rule.name}: {rule.why}", COMMENT)
    return f"{family} saddr @{source} {family} daddr @{target} {what} accept comment {comment}"


def _ports(rule: Rule) -> str:
    shown = [str(first) if first == last else f"{first}-{last}" for first, last in rule.ports]
    if len(shown) == 1:
        return shown[0]
    return f"{{ {', '.join(shown)} }}"


def _slug(text: str) -> str:
    """Small letters, digits and underscores."""
    return re.sub(r"[^a-z0-9]+", "_", text.lower())[:30].strip("_")
