"""4 Directory."""

from planner.record import kinds
from planner.record.chapters.base import NOTE, Chapter, Field, Section
from planner.record.choices import DirectoryKind, JoinRights, ServerRole, Standing

DIRECTORY = Section(
    number="4.1",
    title="The directory",
    kind="directory",
    single=True,
    slug="directory",
    one="directory",
    counts=("directory_kind", "domain", "netbios", "desktop_ou", "join_account", "time_source"),
    fields=(
        Field(
            "directory_kind", "Accounts come from", kinds.CHOICE, choices=DirectoryKind.as_choices()
        ),
        Field(
            "domain",
            "Domain name",
            hint="The DNS name of the domain.",
            example="corp.larkfield.example",
        ),
        Field(
            "netbios", "Short (NetBIOS) name", hint="At most 15 characters.", example="LARKFIELD"
        ),
        Field(
            "desktop_ou",
            "Organisational unit for desktops",
            hint="As a distinguished name.",
            example="OU=Desktops,DC=corp,DC=larkfield,DC=example",
        ),
        Field(
            "join_account",
            "Join account",
            hint="The account that puts new desktops into the domain. Its name only.",
            example="svc-join",
        ),
        Field(
            "join_rights",
            "What the join account may do",
            kinds.CHOICE,
            choices=JoinRights.as_choices(),
        ),
        Field(
            "time_source",
            "Time source",
            hint="Where the directory's own clock comes from.",
            example="ntp.example.net",
        ),
        Field("time_zone", "Time zone", kinds.ZONE, example="Europe/Vienna"),
        Field(
            "ldaps",
            "Asked over TLS too (LDAPS)",
            kinds.YES_NO,
            hint="Then two more ports must pass: 636 and 3269.",
        ),
        Field(
            "sign_in_policy",
            "Policies that allow remote sign-in",
            kinds.LONG,
            hint="Which policy, linked where, for which groups.",
            example="“Desktop users”, linked to OU=Desktops",
        ),
        NOTE,
    ),
)
SERVERS = Section(
    number="4.2",
    title="Servers",
    kind="server",
    slug="servers",
    one="server",
    counts=("name", "address", "roles"),
    what="The servers that answer for the directory, DNS, DHCP, time, activation keys, files, printing and logs.",
    why="Every desktop asks them before anybody can sign in.",
    who="The directory administrator.",
    fields=(
        Field("name", "Name", ledger=True, example="dc-1"),
        Field("network_id", "Network", kinds.RECORD, to="network", ledger=True),
        Field("address", "Address", kinds.ADDRESS, ledger=True, example="10.44.1.5"),
        Field("roles", "Answers for", kinds.SEVERAL, choices=ServerRole.as_choices(), ledger=True),
        Field(
            "stands",
            "It is",
            kinds.CHOICE,
            choices=Standing.as_choices(),
            group="More",
            hint="A guest cannot help its own host to start.",
        ),
        Field("mac", "MAC", kinds.MAC, group="More"),
        Field("ipv6_address", "IPv6 address", kinds.ADDRESS6, group="More"),
        NOTE,
    ),
)
CHAPTER = Chapter(
    4,
    "directory",
    "Directory",
    "Whose accounts people sign in with, and which servers answer for them.",
    (DIRECTORY, SERVERS),
)
