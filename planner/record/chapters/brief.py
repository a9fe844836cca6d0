"""1 Brief."""

from planner.record import kinds
from planner.record.chapters.base import NOTE, Chapter, Field, Section
from planner.record.choices import ContactRole, PaperSize, SitePurpose, Weekday

WHAT = Section(
    number="1.1",
    title="The site",
    kind="site",
    single=True,
    slug="site",
    one="site",
    counts=("name", "street_address", "time_zone", "people_count"),
    fields=(
        Field("name", "Site name", hint="What people there call the place.", example="Mill Street"),
        Field(
            "code",
            "Code",
            hint="Short, in small letters; it stands in addresses of pages and on papers.",
            example="mill",
        ),
        Field(
            "purpose",
            "Purpose",
            kinds.ALWAYS_CHOSEN,
            choices=SitePurpose.as_choices(),
            hint="A trial is a bench where shortcuts are fine. On a live site people depend on it.",
        ),
        Field("street_address", "Street address", kinds.LONG, example="12 Mill Street, Larkfield"),
        Field(
            "time_zone", "Time zone", kinds.ZONE, hint="By its IANA name.", example="Europe/Vienna"
        ),
        Field(
            "people_count",
            "People",
            kinds.WHOLE,
            low=0,
            high=10_000_000,
            hint="How many will work on the desktops in all.",
        ),
        Field(
            "paper",
            "Paper",
            kinds.ALWAYS_CHOSEN,
            choices=PaperSize.as_choices(),
            hint="The size the book is printed on.",
        ),
        Field(
            "joined",
            "Joined by a link to",
            kinds.SITES,
            hint="Other sites of this customer whose networks this one can reach.",
        ),
    ),
)
DAYS_SECTION = Section(
    number="1.2",
    title="Dates and hours",
    kind="site",
    single=True,
    slug="dates",
    one="site",
    counts=("on_site_date", "go_live_date", "work_starts", "work_ends", "work_days"),
    fields=(
        Field(
            "on_site_date",
            "On-site day",
            kinds.DATE,
            hint="The day it is carried out.",
            example="14 Jan 2027",
        ),
        Field(
            "go_live_date",
            "Go-live",
            kinds.DATE,
            hint="The first day people depend on it.",
            example="18 Jan 2027",
        ),
        Field(
            "work_starts",
            "Work starts",
            kinds.TIME,
            hint="When people there begin.",
            example="07:30",
        ),
        Field("work_ends", "Work ends", kinds.TIME, example="17:00"),
        Field("work_days", "Working days", kinds.SEVERAL, choices=Weekday.as_choices()),
    ),
)
SCOPE = Section(
    number="1.3",
    title="Scope",
    kind="site",
    single=True,
    slug="scope",
    one="site",
    counts=("scope", "way_in"),
    fields=(
        Field(
            "scope",
            "In scope",
            kinds.LONG,
            hint="What the customer gets, in words both sides would sign.",
            example="Desktops for 36 people in two rooms; printing to the three floor printers.",
        ),
        Field(
            "out_of_scope",
            "Out of scope",
            kinds.LONG,
            example="Telephones. The till in the front room.",
        ),
        Field(
            "way_in",
            "How to get in",
            kinds.LONG,
            hint="Door, alarm, parking, who opens. Never a code or a password: say who knows it.",
        ),
        NOTE,
    ),
)
CONTACTS = Section(
    number="1.4",
    title="Contacts",
    kind="contact",
    slug="contacts",
    one="contact",
    counts=("name", "role", "phone"),
    what="The people you will have to ring: who decides, who has the keys, who runs the directory and the network.",
    why="On the day somebody must open a door, a firewall and a directory; a name without a number does not help.",
    who="The decision maker at the customer.",
    fields=(
        Field("name", "Name", ledger=True, example="A. Marsh"),
        Field(
            "role",
            "For",
            kinds.CHOICE,
            choices=ContactRole.as_choices(),
            ledger=True,
            hint="What this person is for.",
        ),
        Field("phone", "Telephone", ledger=True, example="+43 1 555 0100"),
        Field("email", "E-mail", kinds.EMAIL, ledger=True, example="marsh@larkfield.example"),
        NOTE,
    ),
)
CHAPTER = Chapter(
    1,
    "brief",
    "Brief",
    "What is wanted, where, by when, and whom to ring.",
    (WHAT, DAYS_SECTION, SCOPE, CONTACTS),
)
