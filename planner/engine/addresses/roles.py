"""Who holds an address (in claims and in the house's bands), and what is known of one."""

from __future__ import annotations

from planner.record.choices import Choice


class ClaimRole(Choice):
    GATEWAY = "gateway"
    SERVER = "server"
    HOST = "host"
    OUT_OF_BAND = "out-of-band", "out of band"
    DEVICE = "device"
    SERVICE = "service", "entry"
    APPLIANCE = "appliance"


class AddressState(Choice):
    FREE = "free"
    LEASED = "leased"  # in the DHCP range
    CLAIMED = "claimed"
    REFERRED = "referred"  # something points at it and nobody claims it
    UNUSABLE = "unusable"  # network and broadcast address
    NOWHERE = "nowhere"  # in no network of the site
