"""6 Images."""

from planner.record import kinds, units
from planner.record.chapters.base import NOTE, Chapter, Field, Section
from planner.record.choices import Activation, Bits, Licensing

IMAGES = Section(
    number="6.1",
    title="Golden images",
    kind="image",
    slug="images",
    one="image",
    counts=(
        "name",
        "operating_system",
        "disk_gib",
        "used_gib",
        "activation",
        "support_ends",
    ),
    what="The prepared system that every desktop is cloned from, generation by generation.",
    why="Its size fills the datastores, its activation decides who may start, its support end ends everything.",
    who="Whoever looks after the people's present machines.",
    fields=(
        Field("name", "Name", ledger=True, example="office"),
        Field(
            "generation",
            "Generation",
            kinds.WHOLE,
            low=0,
            high=100_000,
            ledger=True,
            short="Gen.",
            example="1",
        ),
        Field(
            "operating_system",
            "Operating system",
            ledger=True,
            hint="In words, with its edition and release.",
            example="desktop system, business edition, release 2",
        ),
        Field(
            "disk_gib",
            "Disk provisioned",
            kinds.NUMBER,
            unit="GiB",
            units=units.MEMORY_GIB,
            low=0,
            high=65_536,
            ledger=True,
            short="Disk",
            example="80",
        ),
        Field(
            "used_gib",
            "Disk used",
            kinds.NUMBER,
            unit="GiB",
            units=units.MEMORY_GIB,
            low=0,
            high=65_536,
            ledger=True,
            short="Used",
            example="46",
        ),
        Field(
            "activation", "Activation", kinds.CHOICE, choices=Activation.as_choices(), ledger=True
        ),
        Field("support_ends", "Support ends", kinds.DATE, ledger=True),
        Field("bits", "Width", kinds.NUMBER_CHOICE, choices=Bits.as_choices(), group="System"),
        Field(
            "source_machine",
            "Copied from",
            group="System",
            hint="A machine in use; empty: built from the publisher's medium, which is the cleaner way.",
            example="reception-2",
        ),
        Field("time_zone", "Time zone", kinds.ZONE, group="System"),
        Field(
            "remove_or_add",
            "To remove or add before sealing",
            kinds.LONG,
            group="Sealing",
            hint="What the supplier wants gone or present: display adapter, USB controller, agent.",
        ),
        Field("sealed_on", "Sealed on", kinds.DATE, group="Sealing"),
        NOTE,
    ),
)
APPLICATIONS = Section(
    number="6.2",
    title="Applications",
    kind="application",
    slug="applications",
    one="application",
    counts=("name", "image_id", "licensed_by"),
    what="What people open on their desktops, and how each is licensed.",
    why="A licence counted by devices may cost one for every desktop that is ever cloned.",
    who="Heads of the teams who use them; the last licence invoice.",
    fields=(
        Field("name", "Name", ledger=True, example="practice records"),
        Field("image_id", "In image", kinds.RECORD, to="image", ledger=True),
        Field(
            "licensed_by", "Licensed by", kinds.CHOICE, choices=Licensing.as_choices(), ledger=True
        ),
        Field(
            "licences_held",
            "Licences held",
            kinds.WHOLE,
            low=0,
            high=10_000_000,
            ledger=True,
            short="Held",
        ),
        NOTE,
    ),
)
CHAPTER = Chapter(
    6,
    "images",
    "Images",
    "What the desktops are cloned from, and what is installed on them.",
    (IMAGES, APPLICATIONS),
)
