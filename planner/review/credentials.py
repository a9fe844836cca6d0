"""Findings about credentials: who can fetch each secret, and how old it is."""

from __future__ import annotations

from collections.abc import Iterator

from planner.record import chapters, units
from planner.record.choices import DirectoryKind
from planner.record.facts import Credential
from planner.review.base import Hit, rule
from planner.stages.staged import Staged


def _each_without(plan: Staged, field: str) -> Iterator[Hit]:
    for credential in plan.facts.credentials:
        if not getattr(credential, field).strip():
            yield Hit(credential.ref.at(field), credential=credential.label)


@rule("credential-nobody-fetches")
def nobody_fetches(plan: Staged) -> Iterator[Hit]:
    yield from _each_without(plan, "who_can_fetch")


@rule("credential-place-unknown")
def place_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _each_without(plan, "where_kept")


@rule("credential-still-initial")
def still_initial(plan: Staged) -> Iterator[Hit]:
    for credential in plan.facts.credentials:
        if credential.still_initial:
            yield Hit(credential.ref.at("still_initial"), credential=credential.label)


@rule("credential-old")
def old(plan: Staged) -> Iterator[Hit]:
    most = plan.numbers["credential.days-unchanged"]
    for credential in plan.facts.credentials:
        if credential.last_changed and (plan.facts.today - credential.last_changed).days > most:
            day = chapters.show_date(credential.last_changed)
            yield Hit(
                credential.ref.at("last_changed"),
                credential=credential.label,
                day=day,
                most=units.show(most),
                days=units.show((plan.facts.today - credential.last_changed).days),
            )


@rule("credential-no-date")
def no_date(plan: Staged) -> Iterator[Hit]:
    for credential in plan.facts.credentials:
        if credential.last_changed is None:
            yield Hit(credential.ref.at("last_changed"), credential=credential.label)


@rule("no-hypervisor-credential")
def no_hypervisor_credential(plan: Staged) -> Iterator[Hit]:
    facts = plan.facts
    names = [host.name for host in facts.hosts]
    if facts.hosts and not any(
        _speaks_of(one, "hypervisor", "host", *names) for one in facts.credentials
    ):
        yield Hit(facts.service.ref)


@rule("no-directory-credential")
def no_directory_credential(plan: Staged) -> Iterator[Hit]:
    facts, directory = plan.facts, plan.facts.directory
    if directory.directory_kind != DirectoryKind.DOMAIN:
        return
    names = (directory.join_account, directory.domain, directory.netbios)
    if not any(_speaks_of(one, "directory", "domain", "join", *names) for one in facts.credentials):
        yield Hit(facts.service.ref)


def _speaks_of(credential: Credential, *words: str) -> bool:
    """Whether any of the words stands in what the credential is for, its account or what it may do.

    A credential says in free words what it is for; this is the most that can be read from them.
    """
    text = f"{credential.name} {credential.account} {credential.privilege}".casefold()
    return any(word.strip().casefold() in text for word in words if word.strip())
