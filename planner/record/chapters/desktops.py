"""7 Desktops and seating."""

from planner.record import units
from planner.record.chapters.base import NOTE, Chapter, Field, Section

RESET_RULES = {"kept": "kept", "sign-out": "each sign-out", "nightly": "nightly", "weekly": "weekly"}
PASSES = {"clipboard": "clipboard", "drives": "drives", "printers": "printers", "usb": "USB", "sound": "sound"}
SEAT_KINDS = {"group": "directory group", "person": "one person", "clients": "client addresses"}

TEMPLATES = Section(
    number="7.1", title="Desktop templates", kind="template", slug="templates", one="desktop template",
    counts=("name", "image_id", "network_id", "memory_gib", "vcpu", "most", "standby", "reset_rule", "name_prefix"),
    what="What a desktop is made of: its image, its network, its memory, how many may run and how many stand ready.",
    why="They are what the hosts must carry on Monday morning.",
    who="You, with the heads of the teams.",
    fields=(
        Field("name", "Name", ledger=True, example="front desk"),
        Field("image_id", "Image", "record", to="image", ledger=True),
        Field("network_id", "Network", "record", to="network", ledger=True),
        Field("memory_gib", "Memory", "number", unit="GiB", units=units.MEMORY_GIB, low=0, high=4096, ledger=True, example="4"),
        Field("vcpu", "vCPU", "whole", low=0, high=512, ledger=True, example="2"),
        Field("most", "Most", "whole", low=0, high=1_000_000, ledger=True, hint="The most that may run at once.", example="36"),
        Field("standby", "Standby", "whole", low=0, high=1_000_000, ledger=True,
              hint="Kept running and unused, so that the next person does not wait.", example="4"),
        Field("reset_rule", "Reset rule", "choice", choices=RESET_RULES, ledger=True, short="Reset",
              hint="When a desktop goes back to its clean state."),
        Field("description", "Description", "long", group="What for"),
        Field("name_prefix", "Computer-name prefix", group="Computer names", example="mill-fd-"),
        Field("name_digits", "Digits", "whole", low=1, high=9, group="Computer names", example="3"),
        Field("growth_gib", "Growth of the difference disk", "number", unit="GiB", units=units.MEMORY_GIB, low=0, high=65_536,
              group="Disk and display", hint="How large it gets before it is reset.", example="6"),
        Field("protocol_id", "Display protocol", "record", to="protocol", group="Disk and display"),
        Field("passes", "May pass to the person's device", "several", choices=PASSES, group="Disk and display"),
        Field("profile_place", "Where profiles live", group="Disk and display", example="profile share on files-1"),
        NOTE,
    ),
)  # fmt: skip
SEATS = Section(
    number="7.2", title="Seat groups", kind="seatgroup", slug="seats", one="seat group",
    counts=("name", "template_id", "people", "share_at_once", "arrive_around", "sign_ins_a_day"),
    what="Who gets desktops from which template, how many of them sit there at once, and when they arrive.",
    why="How many desktops, how many on standby and how long a lease all come from these counts.",
    who="The heads of the teams; the time sheets.",
    fields=(
        Field("name", "Name", ledger=True, hint="The directory group, the person, or the clients.", example="Reception"),
        Field("seat_kind", "Kind", "choice", choices=SEAT_KINDS, ledger=True),
        Field("template_id", "Template", "record", to="template", ledger=True),
        Field("people", "People", "whole", low=0, high=10_000_000, ledger=True, example="24"),
        Field("share_at_once", "Share at once", "percent", unit="%", low=0, high=1, ledger=True,
              hint="How many of a hundred are signed in at the busiest time.", example="70"),
        Field("arrive_around", "Arrive around", "time", ledger=True, example="07:45"),
        Field("arrive_spread_minutes", "Spread", "length", units=units.MINUTES, low=0, high=1440, group="Arrivals",
              hint="Two of three arrive within this time before or after.", example="15 min"),
        Field("sign_ins_a_day", "Sign-ins a day, each", "number", low=0, high=1000, group="Arrivals", example="2"),
        Field("network_id", "They come from", "record", to="network", group="Line"),
        Field("kbit_s", "Line a session", "number", unit="kbit/s", low=0, high=10_000_000, group="Line", example="300"),
        NOTE,
    ),
)  # fmt: skip
CHAPTER = Chapter(
    7, "desktops", "Desktops and seating", "What a desktop is made of, and who sits down at it when.", (TEMPLATES, SEATS)
)
