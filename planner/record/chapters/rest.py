"""8 to 11: what is computed, carried out and printed. Their own records are few."""

from planner.record import kinds
from planner.record.chapters.base import NOTE, Chapter, Field, Section
from planner.record.choices import Answerer, StageNumber, Transport, Wanted

OWN_FLOWS = Section(
    number="9.3",
    title="Own flows",
    kind="flow",
    slug="flows",
    one="flow",
    counts=(),
    what="Traffic that must pass and that does not follow from the plan.",
    why="A port that nobody wrote down is found by the person who cannot work.",
    who="The suppliers of the applications.",
    fields=(
        Field("name", "Why it must pass", ledger=True, example="practice records to its database"),
        Field("from_network_id", "From network", kinds.RECORD, to="network", ledger=True),
        Field("from_what", "From", ledger=True, example="desktops"),
        Field("to_network_id", "To network", kinds.RECORD, to="network", ledger=True),
        Field("to_what", "To", ledger=True, example="records-db 10.44.1.40"),
        Field("transport", "Protocol", kinds.CHOICE, choices=Transport.as_choices(), ledger=True),
        Field("ports", "Ports", ledger=True, hint="A port, a range or several.", example="5432"),
        NOTE,
    ),
)


def _minutes(name: str, label: str, *, ledger: bool, hint: str, example: str = "") -> Field:
    return Field(
        name,
        label,
        kinds.NUMBER,
        unit="min",
        units={"min": 1, "h": 60},
        low=0,
        high=14_400,
        ledger=ledger,
        hint=hint,
        example=example,
    )


MINUTES = (
    _minutes("least_minutes", "At least", ledger=True, hint="The shortest it can take."),
    _minutes(
        "likely_minutes", "Likely", ledger=True, hint="What it takes as a rule.", example="20"
    ),
    _minutes(
        "longest_minutes",
        "At longest",
        ledger=True,
        hint="If everything goes wrong that does not stop it.",
    ),
)
STEP_PLANS = Section(
    number="10.9",
    title="Owners and times of steps",
    kind="stepplan",
    slug="step-plans",
    one="plan of a step",
    counts=(),
    what="Who owns a step, how long it takes here, and what is done before the on-site day.",
    why="A step without an owner waits for somebody to notice it; the day is laid out from these times.",
    who="Whoever leads the day.",
    fields=(
        Field(
            "step",
            "Step",
            kinds.STEP,
            ledger=True,
            hint="For every host, image or template it is done for.",
            example="3.4",
        ),
        Field(
            "owner_id",
            "Owner",
            kinds.RECORD,
            to="contact",
            ledger=True,
            hint="One of the contacts in 1.4.",
        ),
        *MINUTES,
        Field(
            "before_day",
            "Done before the day",
            kinds.YES_NO,
            ledger=True,
            short="Before the day",
            hint="What must come before it is done before the day too.",
        ),
        NOTE,
    ),
)
# What the house's own steps and checks have in common with those of a site.
STEP_FIELDS = (
    Field("name", "What to do", ledger=True, example="Move the fish tank out of the server room"),
    Field(
        "stage", "Stage", kinds.ALWAYS_CHOSEN_NUMBER, choices=StageNumber.as_choices(), ledger=True
    ),
    *MINUTES,
    Field("do", "How to do it", kinds.LONG, group="The step"),
    Field("expect", "What should happen", kinds.LONG, group="The step"),
    Field("otherwise", "What to do if it does not", kinds.LONG, group="The step"),
    Field("back", "The way back", kinds.LONG, group="The step"),
    Field(
        "caution", "Caution", kinds.LONG, group="The step", hint="Where it can hurt people or data."
    ),
    Field(
        "attended",
        "Somebody must stand by",
        kinds.YES_NO,
        group="On the day",
        hint="Without an answer: yes.",
    ),
    Field(
        "alone",
        "Nothing else beside it",
        kinds.YES_NO,
        group="On the day",
        hint="While it is done nothing else of the day may run. Without an answer: no.",
    ),
    Field(
        "after",
        "Comes after",
        kinds.STEPS,
        group="On the day",
        hint="Numbers of steps.",
        example="3.4, 4.2",
    ),
    Field(
        "before",
        "Comes before",
        kinds.STEPS,
        group="On the day",
        hint="Numbers of steps that wait for it.",
        example="3.2",
    ),
)
CHECK_FIELDS = (
    Field(
        "name",
        "What must be true",
        ledger=True,
        example="The dentist's chair keeps its own network",
    ),
    Field(
        "stage",
        "Gates stage",
        kinds.ALWAYS_CHOSEN_NUMBER,
        choices=StageNumber.as_choices(),
        ledger=True,
    ),
    Field("why", "Why", kinds.LONG, group="More"),
    Field("how", "How to see it", kinds.LONG, group="More"),
    Field("proof", "What counts as proof", kinds.LONG, group="Proof"),
    Field(
        "wants",
        "Proof is",
        kinds.CHOICE,
        choices=Wanted.as_choices(),
        ledger=True,
        hint="Without an answer: a note.",
    ),
    Field(
        "unit",
        "Unit of the value read",
        group="Proof",
        hint="With a unit the value is a number.",
        example="°C",
    ),
    Field("low", "May be from", kinds.NUMBER, group="Proof"),
    Field("high", "May be to", kinds.NUMBER, group="Proof"),
    Field(
        "who",
        "Who may answer",
        kinds.CHOICE,
        choices=Answerer.as_choices(),
        group="Proof",
        hint="Without an answer: an editor.",
    ),
)
OWN_STEPS = Section(
    number="10.10",
    title="Own steps",
    kind="ownstep",
    slug="own-steps",
    one="own step",
    counts=(),
    what="Things to do at this site alone.",
    why="What stands on no sheet is forgotten on the day, or done at the wrong moment.",
    who="Whoever was here before.",
    fields=(
        *STEP_FIELDS[:5],
        Field(
            "owner_id",
            "Owner",
            kinds.RECORD,
            to="contact",
            ledger=True,
            hint="One of the contacts in 1.4.",
        ),
        *STEP_FIELDS[5:12],
        Field(
            "after_own", "Comes after own steps", kinds.RECORDS, to="ownstep", group="On the day"
        ),
        *STEP_FIELDS[12:],
        NOTE,
    ),
)
OWN_CHECKS = Section(
    number="10.11",
    title="Own checks",
    kind="owncheck",
    slug="own-checks",
    one="own check",
    counts=(),
    what="Things that must be true at this site alone.",
    why="What only you know about this place is what the catalogue cannot ask.",
    who="Whoever was here before.",
    fields=(
        *CHECK_FIELDS,
        Field(
            "ownstep_id",
            "Answered after the own step",
            kinds.RECORD,
            to="ownstep",
            group="More",
            hint="A step of the same stage.",
        ),
        NOTE,
    ),
)
BUILT = Section(
    number="11.3",
    title="Built values",
    kind="built",
    slug="built",
    one="built value",
    counts=(),
    what="What was really built where it differs from the plan, and why.",
    why="The next technician must be able to trust the record.",
    who="Whoever built it.",
    fields=(
        Field("target", "Of", kinds.ANY_RECORD, ledger=True, hint="The record it belongs to."),
        Field(
            "field",
            "What",
            kinds.ANY_FIELD,
            ledger=True,
            hint="Which of its values, by the word its chapter uses.",
            example="Management address",
        ),
        Field(
            "value",
            "Built",
            ledger=True,
            hint="As it is, typed as in its chapter; “nothing” where it was left out.",
            example="10.44.1.13",
        ),
        Field("reason", "Why", ledger=True, example="10.44.1.12 answered already"),
        NOTE,
    ),
    derived=(
        (
            "field",
            Field("planned", "Planned", kinds.PLANNED, hint="What the plan says, for comparison."),
        ),
    ),
)

CAPACITY = Chapter(
    8,
    "capacity",
    "Capacity",
    "What the hosts must carry, and whether they can, also with one of them down.",
)
ADDRESSES = Chapter(
    9,
    "addresses",
    "Addresses and ports",
    "Who claims which address, and which traffic must pass.",
    (OWN_FLOWS,),
)
STAGES = Chapter(
    10,
    "stages",
    "Stages",
    "The checks before each gate, and what is known by looking.",
    (STEP_PLANS, OWN_STEPS, OWN_CHECKS),
)
PAPERS = Chapter(
    11,
    "papers",
    "Revisions and papers",
    "What leaves the tool, and what it was printed from.",
    (BUILT,),
)
