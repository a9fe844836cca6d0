"""Choices of the plan's records, chapter by chapter. In each, "" is that nobody knows."""

from __future__ import annotations

from planner.record.choices.base import Choice

# -- 1 Brief -------------------------------------------------------------------------------------


class SitePurpose(Choice):
    TRIAL = "trial", "Trial"
    LIVE = "live", "Live"


class PaperSize(Choice):
    A4 = "A4"
    LETTER = "Letter"


class Weekday(Choice):
    """Numbered as in ISO 8601."""

    MONDAY = "1", "Mon"
    TUESDAY = "2", "Tue"
    WEDNESDAY = "3", "Wed"
    THURSDAY = "4", "Thu"
    FRIDAY = "5", "Fri"
    SATURDAY = "6", "Sat"
    SUNDAY = "7", "Sun"


class ContactRole(Choice):
    DECISION = "decision", "decision maker"
    KEYS = "keys", "key-holder"
    DIRECTORY = "directory", "directory administrator"
    NETWORK = "network", "network administrator"
    SUPPLIER = "supplier", "supplier contact"
    PILOT = "pilot", "pilot user"
    TECHNICIAN = "technician"


# -- 2 Networks ----------------------------------------------------------------------------------


class NetworkPurpose(Choice):
    MANAGEMENT = "management"
    DESKTOPS = "desktops"
    STORAGE = "storage"
    CLIENTS = "clients", "client LAN"
    PERIMETER = "perimeter"
    REMOTE = "remote", "remote link"


class Dhcp(Choice):
    NONE = "none", "no DHCP"
    RANGE = "range", "a range"


class Holding(Choice):
    """How a device has its address."""

    FIXED = "fixed"
    RESERVED = "reserved"


# -- 3 Hosts -------------------------------------------------------------------------------------


class HostState(Choice):
    EXISTING = "existing"
    TO_BUY = "to-buy", "to buy"
    SPARE = "spare"


class Sharing(Choice):
    LOCAL = "local", "local to a host"
    SHARED = "shared"


class ReachedBy(Choice):
    """How hosts reach a shared datastore."""

    ISCSI = "iscsi", "iSCSI"
    NFS = "nfs", "NFS"
    DIRECT = "direct", "a cable of its own, without IP"


class Raid(Choice):
    STRIPED = "0", "RAID 0"
    MIRRORED = "1", "RAID 1"
    STRIPED_MIRRORS = "10", "RAID 10"
    ONE_PARITY = "5", "RAID 5"
    TWO_PARITIES = "6", "RAID 6"


class Provisioning(Choice):
    THICK = "thick"
    THIN = "thin"


# -- 4 Directory ---------------------------------------------------------------------------------


class DirectoryKind(Choice):
    DOMAIN = "domain", "a domain"
    OWN_ACCOUNTS = "own-accounts", "accounts of the service itself"


class JoinRights(Choice):
    JOIN_ONLY = "join-only", "joins computers there, nothing more"
    MORE = "more", "more than that"
    FULL = "full", "full administrator"


class ServerRole(Choice):
    DIRECTORY = "directory"
    DNS = "dns", "DNS"
    DHCP = "dhcp", "DHCP"
    TIME = "time"
    KEYS = "keys", "key management"
    FILES = "files"
    PRINT = "print", "printing"
    LOGS = "logs"
    LOGS_TLS = "logs-tls", "logs over TLS"
    WATCHING = "watching"
    MAIL = "mail"


class Standing(Choice):
    """What a server is a machine on."""

    OWN = "own", "a machine of its own"
    GUEST = "guest", "a guest of the hosts of 3.1"
    ELSEWHERE = "elsewhere", "at another place"


# -- 5 Service -----------------------------------------------------------------------------------


class AddressOrigin(Choice):
    FIXED = "fixed"
    RESERVED = "reserved", "reserved at the DHCP server"
    DYNAMIC = "dynamic"


class Certificate(Choice):
    OWN = "own", "its own (self-signed)"
    ISSUED = "issued", "issued by an authority"


class Authority(Choice):
    """Who issues the certificate: rules for public ones bind no private one."""

    PUBLIC = "public", "a public one"
    PRIVATE = "private", "a private one, the customer's own"


class Renewal(Choice):
    MACHINE = "machine", "by itself"
    HAND = "hand", "by hand"


class OutsideAccess(Choice):
    NONE = "none"
    VPN = "vpn", "through a VPN"
    GATEWAY = "gateway", "through a gateway"


# -- 6 Images ------------------------------------------------------------------------------------


class Bits(Choice):
    """Kept as a number."""

    WIDE = "64", "64 bit"
    NARROW = "32", "32 bit"


class Activation(Choice):
    KEY_SERVER = "key-server", "key server"
    MULTIPLE_KEY = "multiple-key", "multiple-activation key"
    SUBSCRIPTION = "subscription"
    NONE = "none", "none needed"


class Licensing(Choice):
    """What an application's licences are counted by."""

    PEOPLE = "people"
    DEVICES = "devices"
    AT_ONCE = "at-once", "people at once"
    HOSTS = "hosts"
    FREE = "free", "needs none"


# -- 7 Desktops and seating ----------------------------------------------------------------------


class ResetRule(Choice):
    KEPT = "kept"
    SIGN_OUT = "sign-out", "each sign-out"
    NIGHTLY = "nightly"
    WEEKLY = "weekly"


REBUILT = (
    ResetRule.SIGN_OUT,
    ResetRule.NIGHTLY,
    ResetRule.WEEKLY,
)  # never given out as they were left


class Passage(Choice):
    """What may pass from a desktop to the person's device."""

    CLIPBOARD = "clipboard"
    DRIVES = "drives"
    PRINTERS = "printers"
    USB = "usb", "USB"
    SOUND = "sound"


class SeatKind(Choice):
    GROUP = "group", "directory group"
    PERSON = "person", "one person"
    CLIENTS = "clients", "client addresses"


# -- 9 Addresses and ports -----------------------------------------------------------------------


class Transport(Choice):
    TCP = "tcp", "TCP"
    UDP = "udp", "UDP"
    ICMP = "icmp", "ICMP"
