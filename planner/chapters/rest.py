"""8 to 11: what is computed, carried out and printed. Their own records are few."""

from planner.chapters.base import NOTE, Chapter, Field, Section

TRANSPORTS = {"tcp": "TCP", "udp": "UDP", "icmp": "ICMP"}
STAGE_NAMES = {
    "1": "1 Survey", "2": "2 Ground", "3": "3 Hosts", "4": "4 Service", "5": "5 Image", "6": "6 Desktops",
    "7": "7 Pilot", "8": "8 Handover",
}  # fmt: skip

OWN_FLOWS = Section(
    number="9.3", title="Own flows", kind="flow", slug="flows", one="flow",
    counts=(),
    what="Traffic that must pass and that does not follow from the plan.",
    why="A port that nobody wrote down is found by the person who cannot work.",
    who="The suppliers of the applications.",
    fields=(
        Field("name", "Why it must pass", ledger=True, example="practice records to its database"),
        Field("from_network_id", "From network", "record", to="network", ledger=True),
        Field("from_what", "From", ledger=True, example="desktops"),
        Field("to_network_id", "To network", "record", to="network", ledger=True),
        Field("to_what", "To", ledger=True, example="records-db 10.44.1.40"),
        Field("transport", "Protocol", "choice", choices=TRANSPORTS, ledger=True),
        Field("ports", "Ports", ledger=True, hint="A port, a range or several.", example="5432"),
        NOTE,
    ),
)  # fmt: skip
OWN_CHECKS = Section(
    number="10.9", title="Own checks", kind="owncheck", slug="own-checks", one="own check",
    counts=(),
    what="Things that must be true at this site alone.",
    why="What only you know about this place is what the catalogue cannot ask.",
    who="Whoever was here before.",
    fields=(
        Field("name", "What must be true", ledger=True, example="The dentist's chair keeps its own network"),
        Field("stage", "Gates stage", "choice", choices=STAGE_NAMES, ledger=True),
        Field("why", "Why", "long", group="More"),
        Field("how", "How to see it", "long", group="More"),
        NOTE,
    ),
)  # fmt: skip
BUILT = Section(
    number="11.3", title="Built values", kind="built", slug="built", one="built value",
    counts=(),
    what="What was really built where it differs from the plan, and why.",
    why="The next technician must be able to trust the record.",
    who="Whoever built it.",
    fields=(
        Field("target", "Of", "any-record", ledger=True, hint="The record it belongs to."),
        Field("field", "What", "any-field", ledger=True, hint="Which of its values, by the word its chapter uses.",
              example="Management address"),
        Field("value", "Built", ledger=True, hint="As it is, typed as in its chapter; “nothing” where it was left out.",
              example="10.44.1.13"),
        Field("reason", "Why", ledger=True, example="10.44.1.12 answered already"),
        NOTE,
    ),
    derived=(("field", Field("planned", "Planned", "planned", hint="What the plan says, for comparison.")),),
)  # fmt: skip

CAPACITY = Chapter(
    8, "capacity", "Capacity", "What the hosts must carry, and whether they can, also with one of them down."
)
ADDRESSES = Chapter(
    9, "addresses", "Addresses and ports", "Who claims which address, and which traffic must pass.", (OWN_FLOWS,)
)
STAGES = Chapter(10, "stages", "Stages", "The checks before each gate, and what is known by looking.", (OWN_CHECKS,))
PAPERS = Chapter(11, "papers", "Revisions and papers", "What leaves the tool, and what it was printed from.", (BUILT,))
