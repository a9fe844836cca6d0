"""DHCP for IPv4 as a JSON configuration of the Kea server.

Source: Kea Administrator Reference Manual, The DHCPv4 Server. JSON knows no comments, so the head
stands in the server's user context. Its reader knows no \\u escapes beyond Latin-1: letters are written as such.
"""

from __future__ import annotations

import json
from typing import Any

from planner.engine.addresses import ipv4
from planner.papers.configs import dhcp_words
from planner.papers.configs.ground import Ground
from planner.papers.configs.parts import READ_FIRST, Config, imprint, told
from planner.papers.configs.problems import Edition, Problem
from planner.papers.configs.scopes import Scope
from planner.papers.configs.words import one_line
from planner.plan import Plan

TITLE = "DHCP configuration for the Kea server"
CLEAN_UP = 3600  # seconds between two tidyings of the lease file; the program's own default


def kea(plan: Plan, edition: Edition) -> Config:
    """A whole configuration with a subnet for every scope."""
    ground = Ground(plan)
    found, problems = ground.scopes[0], lacking(ground)
    head: dict[str, Any] = {
        "title": TITLE,
        **imprint(plan, edition),
        "what-it-replaces": dhcp_words.REPLACES,
        "before-you-load-it": [READ_FIRST, *_cautions(found)],
        "left-out": told(problems),
    }
    server = {
        "user-context": head,
        "interfaces-config": {"interfaces": []},
        "lease-database": {"type": "memfile", "persist": True, "lfc-interval": CLEAN_UP},
        "subnet4": [_subnet(scope) for scope in found],
    }
    return Config(
        json.dumps({"Dhcp4": server}, indent=2, ensure_ascii=False) + "\n", tuple(problems)
    )


def lacking(ground: Ground) -> list[Problem]:
    """What the configuration of a plan lacks."""
    return ground.scopes[1]


def _cautions(found: list[Scope]) -> list[str]:
    return [
        "It listens nowhere until somebody names the interfaces under interfaces-config.",
        "It is a whole configuration: loaded in the place of another, that one's other scopes, options and "
        "settings are gone.",
        *dhcp_words.cautions(found),
    ]


def _subnet(scope: Scope) -> dict[str, Any]:
    network = scope.network
    told = {
        "network": one_line(network.label),
        "vlan": network.vlan,
        "dhcp-server": one_line(network.dhcp_server),
    }
    made: dict[str, Any] = {
        "id": scope.number,
        "subnet": str(scope.block),
        "user-context": {name: value for name, value in told.items() if value},
        "pools": [
            {"pool": f"{ipv4.to_text(first)} - {ipv4.to_text(last)}"} for first, last in scope.pools
        ],
    }
    if scope.lease is not None:
        made |= {
            "valid-lifetime": scope.lease,
            "renew-timer": scope.renew,
            "rebind-timer": scope.rebind,
        }
    options = {
        "routers": "" if scope.router is None else ipv4.to_text(scope.router),
        "domain-name-servers": ", ".join(scope.dns),
        "domain-name": scope.domain,
    }
    made["option-data"] = [{"name": name, "data": data} for name, data in options.items() if data]
    made["reservations"] = [
        {"hw-address": one.mac, "ip-address": ipv4.to_text(one.address)}
        | ({"hostname": one.name} if one.name else {})
        for one in scope.reservations
    ]
    return made
