"""Findings about the directory: whose accounts, which servers, and what the join account may do."""

from __future__ import annotations

from collections.abc import Iterator

from planner.record.choices import DirectoryKind, ServerRole, Standing
from planner.record.facts import Server
from planner.review.base import Hit, Mend, rule
from planner.review.words import and_list
from planner.stages.staged import Staged


def _wanted(plan: Staged) -> bool:
    """Whether people sign in with a directory's accounts: unless somebody said that they do not."""
    return plan.facts.directory.directory_kind != DirectoryKind.OWN_ACCOUNTS


def _with(plan: Staged, role: ServerRole) -> list[Server]:
    return [server for server in plan.facts.servers if role in server.roles]


NEEDED_FIRST = {  # what hosts and administrators ask for while everything starts
    ServerRole.DIRECTORY: "the directory",
    ServerRole.DNS: "the DNS",
    ServerRole.DHCP: "DHCP",
    ServerRole.TIME: "the time",
}


def _needed_first(plan: Staged) -> dict[ServerRole, str]:
    """Where the service has accounts of its own nobody asks a directory."""
    wanted = _wanted(plan)
    return {
        role: words
        for role, words in NEEDED_FIRST.items()
        if wanted or role != ServerRole.DIRECTORY
    }


@rule("black-start-circle")
def black_start_circle(plan: Staged) -> Iterator[Hit]:
    """One hit for the servers of every role that no server outside the hosts answers for."""
    found: dict[tuple[Server, ...], list[str]] = {}
    for role, words in _needed_first(plan).items():
        servers = tuple(_with(plan, role))
        if servers and all(one.stands == Standing.GUEST for one in servers):
            found.setdefault(servers, []).append(words)
    for servers, what in found.items():
        first, *others = servers
        yield Hit(
            first.ref.at("stands"),
            also=tuple(one.ref.at("stands") for one in others),
            twin="-".join(one.ref.anchor for one in servers),
            what=and_list(what),
            servers=and_list([one.label for one in servers]),
        )


@rule("server-standing-unknown")
def server_standing_unknown(plan: Staged) -> Iterator[Hit]:
    needed = set(_needed_first(plan))
    for server in plan.facts.servers:
        if not server.stands and set(server.roles) & needed:
            yield Hit(server.ref.at("stands"), twin=server.ref.anchor, server=server.label)


@rule("directory-kind-missing")
def kind_missing(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    if not directory.directory_kind:
        yield Hit(directory.ref.at("directory_kind"))


@rule("directory-domain-missing")
def domain_missing(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    if not _wanted(plan) or directory.domain:
        return
    told = {
        network.domain_suffix
        for network in plan.facts.networks
        if "." in network.domain_suffix.strip(".")
    }
    if len(told) == 1:
        (suffix,) = told
        yield Hit(
            directory.ref.at("domain"),
            mend=Mend(directory.ref, (("domain", suffix),)),
            suffix=suffix,
        )
    else:
        yield Hit(directory.ref.at("domain"), suffix="")


@rule("directory-domain-single-label")
def domain_single_label(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    name = directory.domain.strip().strip(".")
    if _wanted(plan) and name and "." not in name:
        yield Hit(directory.ref.at("domain"), domain=directory.domain)


@rule("directory-domain-local")
def domain_local(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    labels = directory.domain.strip().rstrip(".").lower().split(".")
    if _wanted(plan) and len(labels) > 1 and labels[-1] == "local":
        yield Hit(directory.ref.at("domain"), domain=directory.domain)


@rule("directory-no-server")
def no_server(plan: Staged) -> Iterator[Hit]:
    if _wanted(plan) and not _with(plan, ServerRole.DIRECTORY):
        yield Hit(plan.facts.directory.ref)


@rule("directory-one-server")
def one_server(plan: Staged) -> Iterator[Hit]:
    servers = _with(plan, ServerRole.DIRECTORY)
    if _wanted(plan) and len(servers) == 1:
        yield Hit(servers[0].ref.at("roles"), server=servers[0].label)


@rule("no-dns-server")
def no_dns_server(plan: Staged) -> Iterator[Hit]:
    if not _with(plan, ServerRole.DNS):
        yield Hit(plan.facts.directory.ref)


@rule("directory-server-no-address")
def server_no_address(plan: Staged) -> Iterator[Hit]:
    for server in plan.facts.servers:
        if {ServerRole.DIRECTORY, ServerRole.DNS} & set(server.roles) and not server.address:
            yield Hit(server.ref.at("address"), server=server.label)


@rule("server-no-role")
def server_no_role(plan: Staged) -> Iterator[Hit]:
    for server in plan.facts.servers:
        if not server.roles:
            yield Hit(server.ref.at("roles"), server=server.label)


@rule("directory-no-time-source")
def no_time_source(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    if _wanted(plan) and not directory.time_source.strip():
        yield Hit(directory.ref.at("time_source"))


@rule("desktop-unit-missing")
def unit_missing(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    if _wanted(plan) and not directory.desktop_ou.strip():
        yield Hit(directory.ref.at("desktop_ou"))


@rule("join-account-missing")
def join_account_missing(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    if _wanted(plan) and not directory.join_account.strip():
        yield Hit(directory.ref.at("join_account"))


def _join_rights(plan: Staged, rights: str) -> Iterator[Hit]:
    directory = plan.facts.directory
    if _wanted(plan) and directory.join_account.strip() and directory.join_rights == rights:
        yield Hit(directory.ref.at("join_rights"), account=directory.join_account)


@rule("join-account-full")
def join_account_full(plan: Staged) -> Iterator[Hit]:
    yield from _join_rights(plan, "full")


@rule("join-account-more")
def join_account_more(plan: Staged) -> Iterator[Hit]:
    yield from _join_rights(plan, "more")


@rule("join-rights-unknown")
def join_rights_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _join_rights(plan, "")


@rule("sign-in-policy-missing")
def sign_in_policy_missing(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    if _wanted(plan) and not directory.sign_in_policy.strip():
        yield Hit(directory.ref.at("sign_in_policy"))
