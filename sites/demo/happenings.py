"""What happened at a demo site after its record was typed in: one ``[[happened]]`` after the other.

Each says ``at`` and ``by``, and any of these, carried out in this order:

- ``[[happened.added.devices]]`` a record; ``[[happened.changed.images]]`` a change of the one that ``of`` names;
- ``[happened.proven]``, ``trust``, ``excused``, ``failed``: proofs by check. ``label-same`` answers for every
  host that has no proof of its own, ``"label-same@mill-h1"`` for one, ``"house@The sheet hangs there"`` for a
  check of the house. A proof is a note, or a table with the
  value ``measured`` and a ``note``. ``{record}`` in it is that record's name, ``{value}`` the check's value,
  ``{fingerprint}`` the plan's. A check that wants a photo gets one: drawn, and saying so. Every answer is
  given ``every`` minutes (3) after the one before;
- ``sign``: the gates that are signed; ``[[happened.accepted]]``: ``finding``, ``of``, ``reason``, ``look_again``;
- ``freeze``: the reason of a revision; ``printed``: papers printed from the newest revision.

Whoever does it must have the role for it, and every refusal that a person would get is an error here.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator

from django.core.exceptions import ValidationError
from django.utils import timezone

from planner import work_out
from planner.plan import Plan
from planner.record.chapters import BY_SECTION
from planner.record.choices import AnswerState, Wanted
from planner.record.facts import ref_of
from planner.stages import SiteCheck
from planner.stages.results import AskedBy
from sites.access.door import Access, role_at
from sites.actions import papers, stages
from sites.demo.drawn import drawn_photo
from sites.demo.errors import DemoError
from sites.demo.typing_in import add, change, facts_of, stamp
from sites.forms.fields import refuse_secret
from sites.forms.papers import AcceptForm, FreezeForm
from sites.models import Person, Revision, Site

STATES = (
    AnswerState.PROVEN,
    AnswerState.TRUST,
    AnswerState.EXCUSED,
    AnswerState.FAILED,
)
LEADS = ("sign", "accepted", "freeze")  # takes a lead
MINUTES = 3


@dataclasses.dataclass(frozen=True)
class Act:
    """Who did it, when, and where."""

    site: Site
    by: Person
    role: str
    at: dt.datetime

    @property
    def where(self) -> str:
        return f"demo: {self.site.code}: {self.at:%d %b %H:%M}"

    def plan(self) -> Plan:
        """The plan as it was looked at on that day."""
        return work_out(dataclasses.replace(facts_of(self.site), today=self.at.date()))


def carry_out(entry: dict, site: Site, people: dict[str, Person]) -> None:
    """Does one entry. Raises :class:`DemoError` where a person would be refused."""
    by = people[entry["by"]]
    act = Act(site, by, role_at(by, site.customer), entry["at"])
    access, needed = Access(by, act.role), [name for name in LEADS if name in entry]
    if not access.may_edit or (needed and not access.may_lead):
        raise DemoError(f"{act.where}: {by} may not do this here")
    unknown = set(entry) - {"at", "by", "every", "added", "changed", "printed", *STATES, *LEADS}
    if unknown:
        raise DemoError(f"{act.where}: nobody knows how to do {', '.join(sorted(unknown))}")
    _type(act, entry)
    _answer(act, entry)
    for number in entry.get("sign", []):
        _sign(act, number)
    for one in entry.get("accepted", []):
        _accept(act, one)
    if "freeze" in entry:
        _freeze(act, entry["freeze"])
    for paper in entry.get("printed", []):
        newest = Revision.objects.filter(site=site).first()
        papers.note_printed(
            by=by,
            site=site,
            paper=paper,
            fingerprint=newest.fingerprint,
            letter=newest.letter,
            at=act.at,
        )


def _type(act: Act, entry: dict) -> None:
    for does, found in ((add, entry.get("added", {})), (change, entry.get("changed", {}))):
        for slug, rows in found.items():
            since, facts, section = timezone.now(), facts_of(act.site), BY_SECTION[slug]
            for values in rows if isinstance(rows, list) else [rows]:
                does(act.by, act.site, section, values, facts)
            stamp(act.site, section.kind, since, act.at)


# -- answers and signatures ----------------------------------------------------------------------


def _answer(act: Act, entry: dict) -> None:
    given = [(state, key, text) for state in STATES for key, text in entry.get(state, {}).items()]
    if not given:
        return
    plan, at = act.plan(), act.at
    for state, check, said in _matched(act, plan, given):
        if isinstance(said, str):
            words = {"note": said}
        else:
            words = said
        values = {
            "record": _label(plan, check),
            "value": check.value,
            "fingerprint": plan.fingerprint,
        }
        found = {name: text.format(**values) for name, text in words.items()}
        wants_photo = state == AnswerState.PROVEN and check.wants == Wanted.PHOTO
        try:
            for text in found.values():
                refuse_secret(text)
            stages.answer_check(
                by=act.by,
                role=act.role,
                site=act.site,
                check=check,
                state=state,
                proof=found.get("note", ""),
                measured=found.get("measured", ""),
                taken=[drawn_photo(check.title)] if wants_photo else [],
                at=at,
            )
        except (stages.Refused, ValidationError) as error:
            raise DemoError(f"{act.where}: {check.key}: {error}") from error
        at += dt.timedelta(minutes=entry.get("every", MINUTES))


def _matched(
    act: Act, plan: Plan, given: list[tuple]
) -> Iterator[tuple[str, SiteCheck, str | dict]]:
    """The checks that each proof is for, in the order of the stages."""
    checks = plan.stages.checks.values()
    names = {
        check.key: f"{_plain(check)}@{_label(plan, check)}" if "@" in check.key else check.key
        for check in checks
    }
    named = {key for _, key, _ in given}
    found = {}
    for state, key, text in given:
        own = [check for check in checks if names[check.key] == key]
        every = [
            check for check in checks if _plain(check) == key and names[check.key] not in named
        ]
        if not own and not every:
            raise DemoError(f"{act.where}: there is no check {key} to answer")
        found.update({check.key: (state, check, text) for check in own or every})
    return (found[check.key] for check in checks if check.key in found)


def _plain(check: SiteCheck) -> str:
    return check.key.partition("@")[0]


def _label(plan: Plan, check: SiteCheck) -> str:
    if check.origin == AskedBy.HOUSE:
        return check.title
    ref = ref_of(check.key.partition("@")[2])
    if ref:
        record = plan.facts.find(ref)
    else:
        record = None
    if record:
        return record.label
    return ""


def _sign(act: Act, number: int) -> None:
    plan = act.plan()
    stage = plan.stages.stages[number - 1]
    keys = [check.key for check in stage.checks]
    try:
        stages.sign_gate(
            by=act.by,
            site=act.site,
            gate=stage.gate,
            checks=keys,
            fingerprint=plan.fingerprint,
            at=act.at,
        )
    except stages.Refused as error:
        still = ", ".join(check.key for check in stage.gate.blocking)
        raise DemoError(f"{act.where}: gate {number}: {error} {still}") from error


# -- findings and revisions ----------------------------------------------------------------------


def _accept(act: Act, one: dict) -> None:
    plan = act.plan()
    there = {record.ref.at("").anchor: record.label for record in plan.facts.records()}
    found = [
        finding
        for finding in plan.review.findings
        if finding.key == one["finding"] and one.get("of", "") in ("", there.get(finding.at.anchor))
    ]
    form = AcceptForm(
        {"reason": one["reason"], "look_again": str(one["look_again"])}, today=act.at.date()
    )
    if len(found) != 1 or not form.is_valid():
        raise DemoError(
            f"{act.where}: {one['finding']}: {len(found)} such findings; {form.errors.as_text()}"
        )
    papers.accept(by=act.by, site=act.site, finding=found[0], at=act.at, **form.cleaned_data)


def _freeze(act: Act, reason: str) -> None:
    form = FreezeForm({"reason": reason})
    if not form.is_valid():
        raise DemoError(f"{act.where}: {form.errors.as_text()}")
    papers.freeze(by=act.by, site=act.site, at=act.at, **form.cleaned_data)
