"""What a form tells when somebody else saved the same thing meanwhile."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.forms import BoundField
from django.http import QueryDict

from planner.record.chapters import Field, Section, show_value
from sites.actions.records import Clash, Saved
from sites.forms import guard
from sites.forms.guard import GuardedForm
from sites.forms.records import RecordForm


@dataclass(frozen=True)
class Theirs:
    """A field that both changed, as somebody else saved it."""

    label: str
    words: str


def told(form: GuardedForm, saved: Saved) -> list[Theirs]:
    """The fields that both changed, in words."""
    return [
        Theirs(form.label_of(one.name), form.words_of(one.name, one.theirs))
        for one in saved.clashes
    ]


def merged_words(form: GuardedForm, saved: Saved) -> str:
    """What only somebody else changed, and so stands beside what was typed; "" where nothing was."""
    if not saved.merged:
        return ""
    return guard.beside_yours(form.label_of(name) for name in _in_order(form, saved.merged))


def _in_order(form: GuardedForm, names: list[str]) -> list[str]:
    return [name for name in form.fields if name in names]


# -- chosen field by field -----------------------------------------------------------------------


@dataclass(frozen=True)
class Choice:
    """A field of a record that both changed: as it was, theirs and one's own, in words and to be sent."""

    field: Field
    bound: BoundField
    words: list[str]
    theirs: Any
    own: list[str]


@dataclass(frozen=True)
class Choices:
    """What somebody chooses when two changed the same fields of a record; ``rest`` is sent as it was."""

    section: Section
    record: Any
    rows: list[Choice]
    rest: list[tuple[str, str]]
    edits_name: str


def choices(form: RecordForm, saved: Saved, sent: QueryDict) -> Choices:
    rows = [_choice(form, clash, sent) for clash in saved.clashes]
    decided = {row.bound.html_name for row in rows}
    rest = [
        (name, value)
        for name, values in sent.lists()
        for value in values
        if name not in decided and not name.endswith("-edits") and name != "csrfmiddlewaretoken"
    ]
    return Choices(form.section, saved.record, rows, rest, form[form.mark].html_name)


def _choice(form: RecordForm, clash: Clash, sent: QueryDict) -> Choice:
    bound = form[clash.name]
    described = bound.field.described
    words = [
        show_value(described, value, form.facts) or "nothing"
        for value in (clash.base, clash.theirs, clash.own)
    ]
    theirs = bound.field.prepare_value(clash.theirs)
    return Choice(
        described,
        bound,
        words,
        theirs if theirs is not None else "",
        sent.getlist(bound.html_name),
    )
