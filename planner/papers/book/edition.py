"""The edition: one book's plan, and what is known of the day and the people it is printed for."""

from __future__ import annotations

import datetime as dt
import functools
from dataclasses import dataclass, field

from planner.papers.book.document import Imprint
from planner.papers.book.notes import Notes
from planner.papers.book.selection import BY_SLUG, WHOLE, Part, reduced
from planner.papers.book.words import clean
from planner.plan import Plan
from planner.record.chapters import show_date
from planner.record.facts import Built, Record, SiteFacts
from planner.review.base import Finding

NO_SOURCE = ("common practice", "own flow", "house rule")
DRAFT = "Draft, not a revision"
LIST_OF = {
    "contact": "contacts",
    "network": "networks",
    "device": "devices",
    "host": "hosts",
    "datastore": "datastores",
    "server": "servers",
    "appliance": "appliances",
    "protocol": "protocols",
    "credential": "credentials",
    "image": "images",
    "application": "applications",
    "template": "templates",
    "seatgroup": "seat_groups",
    "flow": "flows",
    "ownstep": "own_steps",
    "owncheck": "own_checks",
    "stepplan": "step_plans",
    "built": "built",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Issue:
    """A revision, or a paper that left the tool, as the book's last chapter lists it."""

    name: str  # the revision's letter, or the paper's name
    fingerprint: str
    on: dt.date | None = None
    by: str = ""
    reason: str = ""
    letter: str = ""


@dataclass(frozen=True, kw_only=True)
class Book:
    """Everything the chapters print from; ``whole`` is the site's plan, and ``plan`` what the part may say of it."""

    whole: Plan
    part: Part = BY_SLUG[WHOLE]
    site_url: str = ""
    previous: SiteFacts | None = None
    previous_letter: str = ""
    printed_on: dt.date
    printed_by: str = ""
    letter: str = ""
    reason: str = ""
    issued_on: dt.date | None = None
    issued_by: str = ""
    house: str = ""
    revisions: tuple[Issue, ...] = ()
    papers: tuple[Issue, ...] = ()
    sources: dict[str, int] = field(default_factory=dict)

    @functools.cached_property
    def plan(self) -> Plan:
        return reduced(self.whole, self.part)

    @property
    def facts(self) -> SiteFacts:
        return self.plan.facts

    @functools.cached_property
    def notes(self) -> Notes:
        return Notes(self.plan, self.whole, self.part.notes)

    @functools.cached_property
    def findings(self) -> list[Finding]:
        """Every finding of the whole plan, in the order of its number."""
        numbers = self.notes.numbers
        return sorted(self.whole.review.findings, key=lambda one: numbers[one.token])

    @property
    def customer(self) -> str:
        return clean(self.facts.customer, 300) or "No customer named"

    @property
    def site(self) -> str:
        return clean(self.facts.site.name, 300) or "Unnamed site"

    @property
    def edition(self) -> str:
        letter = clean(self.letter, 12)
        if letter:
            return f"Revision {letter}"
        return DRAFT

    def records(self, kind: str) -> list[Record]:
        """The site's records of a kind; one for a kind of which there is one."""
        name = LIST_OF.get(kind)
        if name:
            return list(getattr(self.facts, name))
        return [getattr(self.facts, kind)]

    def cite(self, source: str) -> int:
        """The number of a source in the appendix; 0 for what has none."""
        words = " ".join(str(source or "").split())
        if not words or words.lower().startswith(NO_SOURCE):
            return 0
        return self.sources.setdefault(words, len(self.sources) + 1)

    @functools.cached_property
    def _built(self) -> dict[tuple[str, str], list[Built]]:
        found: dict[tuple[str, str], list[Built]] = {}
        for one in self.facts.built:
            found.setdefault((one.target, one.field), []).append(one)
        return found

    def built(self, record: Record, field: str) -> list[Built]:
        """What was built instead of one field's value."""
        return self._built.get((record.ref.anchor, field), [])

    @functools.cached_property
    def imprint(self) -> Imprint:
        printed = f"printed {show_date(self.printed_on)}"
        return Imprint(
            customer=self.customer,
            site=self.site,
            fingerprint=clean(self.plan.fingerprint),
            edition=self.edition,
            printed=printed,
            printed_on=self.printed_on,
            title=f"{self.part.title}: {self.customer}, {self.site}",
            subject=f"{self.edition}, fingerprint {self.plan.fingerprint}, {printed}",
            keywords=f"{self.plan.fingerprint}, {self.edition}",
            author=clean(self.house, 300) or self.customer,
        )
