"""What the two DHCP configurations tell alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.papers.configs.scopes import Scope
from planner.papers.configs.words import one_line

REPLACES = (
    "the scopes of these networks on the DHCP server that hands out their leases now. Two servers must never hand "
    "out the same range: stop the old scope first, and leave its leases time to run out."
)


def cautions(scopes: Sequence[Scope]) -> Iterator[str]:
    """What to know of any DHCP configuration before it is loaded."""
    yield "It speaks of IPv4 only; IPv6 addresses are set elsewhere."
    yield (
        "Where the server does not stand in a network itself, the router there must forward DHCP to it; "
        "this file does not do that."
    )
    servers: dict[str, list[str]] = {}
    for scope in scopes:
        servers.setdefault(
            one_line(scope.network.dhcp_server, 60) or "a server not recorded", []
        ).append(one_line(scope.network.label, 60))
    if len(servers) > 1:
        shares = "; ".join(
            f"{server} for {', '.join(networks)}" for server, networks in servers.items()
        )
        yield f"It holds the scopes of several servers: load at each one its own only. {one_line(shares, 2000)}."
