"""Whose request it is: the address of the client, also behind proxies."""

from __future__ import annotations

import functools
import ipaddress

from django.conf import settings
from django.core.checks import CheckMessage, Error
from django.core.exceptions import ImproperlyConfigured
from django.http import HttpRequest

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
HERE = ipaddress.ip_address("127.0.0.1")  # of a peer without an address: a socket of this machine


def client_address(request: HttpRequest) -> str:
    """The address of whoever asks: the peer's, or, behind proxies this house trusts, what they say it is.

    ``X-Forwarded-For`` is read from the right, each part as long as the one after it came from a trusted proxy.
    What stands left of that anybody may have written, and it is not looked at.
    """
    address = _address(request.META.get("REMOTE_ADDR", "")) or HERE
    parts = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")
    while parts and _trusted(address):
        told = _address(parts.pop())
        if told is None:
            break
        address = told
    return str(address)


def client_group(request: HttpRequest) -> str:
    """What is counted as one client: an IPv4 address, or the 64 bits of an IPv6 network that one line has."""
    return _network(request, 64)


def client_network(request: HttpRequest) -> str:
    """What one subscriber may have at most (RFC 6177): an IPv4 address, or the first 48 bits of an IPv6 one."""
    return _network(request, 48)


def _network(request: HttpRequest, bits: int) -> str:
    address = ipaddress.ip_address(client_address(request))
    if address.version == 6:
        return str(ipaddress.ip_network((address, bits), strict=False))
    return str(address)


def _address(text: str) -> Address | None:
    """An address as a header writes it: with a port, in brackets, or neither."""
    text = text.strip().strip('"')
    if text.startswith("["):
        text = text[1:].partition("]")[0]
    elif text.count(":") == 1:
        text = text.partition(":")[0]
    try:
        found = ipaddress.ip_address(text.partition("%")[0])
    except ValueError:
        return None
    return getattr(found, "ipv4_mapped", None) or found


def _trusted(address: Address) -> bool:
    return any(address in network for network in _proxies(tuple(settings.TRUSTED_PROXIES)))


@functools.lru_cache(maxsize=8)
def _proxies(told: tuple[str, ...]) -> tuple[ipaddress.IPv4Network | ipaddress.IPv6Network, ...]:
    try:
        return tuple(ipaddress.ip_network(one.strip(), strict=False) for one in told if one.strip())
    except ValueError as error:
        raise ImproperlyConfigured(
            f"TRUSTED_PROXIES: {error}. Name addresses or networks, as in 10.0.0.0/8."
        ) from error


def proxies_can_be_read(app_configs, **kwargs) -> list[CheckMessage]:
    """Says at the start that a trusted proxy is no address, before somebody comes through it."""
    try:
        _proxies(tuple(settings.TRUSTED_PROXIES))
    except ImproperlyConfigured as error:
        return [Error(str(error), id="sites.E010")]
    return []
