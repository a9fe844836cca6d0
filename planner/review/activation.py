"""Findings about activation: will the desktops be activated, and stay so."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from planner.engine.people.activation import (
    RECORD,
    KeyServer,
)
from planner.record import units
from planner.record.choices import Activation, DirectoryKind, ServerRole
from planner.record.facts import Id, Ref
from planner.review.base import Hit, rule
from planner.review.words import and_list
from planner.stages.staged import Staged


@rule("image-activation-unknown")
def activation_unknown(plan: Staged) -> Iterator[Hit]:
    for image in plan.facts.images:
        if not image.activation:
            yield Hit(image.ref.at("activation"), image=image.label)


def _at(image_id: Id) -> Ref:
    return Ref("image", image_id, "activation")


# -- Multiple-activation key ----------------------------------------------------------------------


@rule("image-multiple-key-rebuilt")
def multiple_key_rebuilt(plan: Staged) -> Iterator[Hit]:
    for image in plan.activation.images:
        if image.kind != Activation.MULTIPLE_KEY or not image.rebuilt:
            continue
        month = image.activations_a_month
        if month is None:
            each = "Every rebuild takes one"
        else:
            each = f"Some {units.show(month, 0)} rebuilds in 30 days take one each"
        yield Hit(
            _at(image.image_id),
            also=tuple(Ref("template", id, "reset_rule") for id in image.rebuilt),
            image=image.name,
            templates=and_list([plan.facts.named("template", id) for id in image.rebuilt]),
            each=each,
        )


@rule("image-multiple-key-count")
def multiple_key_count(plan: Staged) -> Iterator[Hit]:
    """Where nothing is rebuilt, the key must still have one left for every desktop."""
    for image in plan.activation.images:
        if image.kind == Activation.MULTIPLE_KEY and not image.rebuilt and image.desktops:
            yield Hit(_at(image.image_id), image=image.name, count=units.show(image.desktops))


# -- Key server -----------------------------------------------------------------------------------


def _counts(server: KeyServer) -> dict[str, Any]:
    if server.others:
        others = f" and {units.show(server.others)} others"
    else:
        others = ""
    if server.servers > 1:
        listed = f" Even with the {units.show(server.servers)} servers listed it is too few."
    else:
        listed = ""
    return {
        "count": units.show(server.desktops),
        "others": others,
        "with_servers": listed,
        "wanted": units.show(server.wanted),
        "short": units.show(server.wanted - (server.count or 0)),
        "servers": units.show(server.servers),
        "retry": units.show(server.retry_hours),
        "days": units.show(server.window_days),
    }


def _key_server_hit(server: KeyServer) -> Hit:
    first, *rest = (_at(id) for id in server.image_ids)
    return Hit(first, also=tuple(rest), **_counts(server))


@rule("image-key-server-few")
def key_server_few(plan: Staged) -> Iterator[Hit]:
    """One finding for all images: the key server counts the site's machines together."""
    server = plan.activation.key_server
    if server and server.activates_with_servers is False:
        yield _key_server_hit(server)


@rule("image-key-server-barely")
def key_server_barely(plan: Staged) -> Iterator[Hit]:
    server = plan.activation.key_server
    if server and server.activates is False and server.activates_with_servers:
        yield _key_server_hit(server)


@rule("image-key-server-missing")
def key_server_missing(plan: Staged) -> Iterator[Hit]:
    for image in plan.activation.images:
        if image.kind == Activation.KEY_SERVER and not any(
            ServerRole.KEYS in server.roles for server in plan.facts.servers
        ):
            yield Hit(_at(image.image_id), image=image.name)


@rule("image-key-server-alone")
def key_server_alone(plan: Staged) -> Iterator[Hit]:
    server, beyond = plan.activation.key_server, plan.numbers["activation.second-server-from"]
    if (
        server
        and len(server.server_ids) == 1
        and server.count is not None
        and server.count > beyond
    ):
        name = plan.facts.named("server", server.server_ids[0])
        yield Hit(
            _at(server.image_ids[0]),
            server=name,
            count=units.show(server.count),
            beyond=units.show(beyond),
            valid=units.show(server.valid_days),
            renew=units.show(server.renew_days),
        )


@rule("key-server-not-found")
def key_server_not_found(plan: Staged) -> Iterator[Hit]:
    """Desktops that join no domain look for the record where their network tells them to."""
    server = plan.activation.key_server
    for id in server.without_domain if server else ():
        yield Hit(
            Ref("network", id, "domain_suffix"),
            network=plan.facts.named("network", id),
            record=RECORD,
        )


# -- Subscription ---------------------------------------------------------------------------------


@rule("image-subscription-own-accounts")
def subscription_own_accounts(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    if directory.directory_kind == DirectoryKind.OWN_ACCOUNTS:
        for image in plan.activation.images:
            if image.kind == Activation.SUBSCRIPTION:
                yield Hit(
                    _at(image.image_id),
                    also=(directory.ref.at("directory_kind"),),
                    image=image.name,
                )
