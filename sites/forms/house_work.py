"""The forms of what the house asks for at every site: a step, a check, the three times of a catalogue's step."""

from __future__ import annotations

import dataclasses
from collections.abc import Container, Iterable, Mapping

from crispy_forms.layout import LayoutObject
from django import forms

from planner.record import kinds
from planner.record.chapters import Field
from planner.record.chapters.base import NOTE
from planner.record.chapters.rest import CHECK_FIELDS, MINUTES, STEP_FIELDS
from planner.record.facts import SiteFacts
from planner.stages import conditions, own
from planner.stages.results import AskedBy
from sites.forms.described import DescribedForm
from sites.forms.fields import OneRecord
from sites.forms.layout import Ledger, Part, groups
from sites.forms.steps import TIMES
from sites.models import HouseEstimate, HouseWork
from sites.models.work import WorkKind

WHEN = Field("when", "Where it applies", kinds.CHOICE, choices=conditions.WHERE)
AFTER_STEP = Field(
    "ownstep_id",
    "Answered after the house's step",
    kinds.RECORD,
    group="More",
    hint="A step of the same stage.",
)
NAMED = {
    WorkKind.STEP: "Photograph the rack",
    WorkKind.CHECK: "Every cable in the rack bears a label",
}
SAID_OF = {
    "caution": "Where people or data can be hurt, say how, and what to do against it. Everybody who does this step "
    "sees it before anything else. Local rules and licensed people decide.",
    "after": "Numbers of steps of the catalogue or of the house.",
    "before": "Numbers of steps that wait for it, of the catalogue or of the house.",
}


def _fields(what: WorkKind) -> tuple[Field, ...]:
    """The fields of a house's step or check, in the order of the form."""
    said = []
    for one in STEP_FIELDS if what == WorkKind.STEP else CHECK_FIELDS:
        if one.name == "name":
            one = dataclasses.replace(one, example=NAMED[what])
        elif one.name in SAID_OF:
            one = dataclasses.replace(one, hint=SAID_OF[one.name])
        said.append(one)
    after = () if what == WorkKind.STEP else (AFTER_STEP,)
    return (*said[:2], WHEN, *said[2:], *after, NOTE)


TIMES_AND_NOTE = (
    *MINUTES,
    dataclasses.replace(NOTE, hint="Where the times come from: measured where, when."),
)
FIELDS: Mapping[str, tuple[Field, ...]] = {kind: _fields(kind) for kind in WorkKind}


class WorkForm(DescribedForm):
    """A step or a check of the house. ``edits`` is the edit counter it was opened with."""

    about = "housework"

    def __init__(self, data=None, *, what: str, facts: SiteFacts, work: HouseWork | None = None):
        self.what, self.work = what, work
        self.ruled_as = f"own{what}"
        self.known = own.named(facts)
        self.gone = gone_of(work, self.known) if work else {}
        super().__init__(
            data,
            fields=FIELDS[what],
            facts=facts,
            guard=work.edits if work else 0,
            initial=standing_of(work, what, self.gone) if work else {},
            auto_id="work-%s",
        )
        self.fields["name"].required = True

    def made(self, one: Field) -> forms.Field:
        if one.name == "when":
            choices = list(conditions.WHERE.items())
            made: forms.Field = forms.ChoiceField(label=one.label, choices=choices, required=False)
        elif one.name == "ownstep_id":
            made = self._after_step(one)
        else:
            return super().made(one)
        made.described = one
        return made

    def length_of(self, one: Field) -> int | None:
        return getattr(HouseWork._meta.get_field(one.name), "max_length", None)

    def _after_step(self, one: Field) -> OneRecord:
        """The steps that the house asks for now, and the one that is named already."""
        found = [
            (step.id, " ".join(self.known[own.key_of(step, AskedBy.HOUSE)]))
            for step in self.facts.house_steps
        ]
        if self.work:
            kept = self.work.ownstep
        else:
            kept = None
        if kept and kept.pk not in dict(found):
            found.append((kept.pk, f"{kept.name} (no longer asked)"))
        return OneRecord(
            choices=[("", "—"), *found], label=one.label, help_text=one.hint, required=False
        )

    def pieces(self) -> list[str | LayoutObject]:
        return ["edits", *groups(self.described, Part)]

    def clean(self):
        values = super().clean()
        self.hold_to_rules(values)
        step = next(
            (one for one in self.facts.house_steps if one.id == values.get("ownstep_id")), None
        )
        if step is not None and values.get("stage") and own.stage_of(step) != values["stage"]:
            self.add_error(
                "ownstep_id",
                f"That step is of stage {own.stage_of(step)}; a check is answered after a "
                "step of its own stage.",
            )
        return values

    def values(self) -> dict:
        found = super().values()
        for name, gone in self.gone.items():
            if name in found:
                found[name] = [*found[name], *gone]
        return found

    def standing(self, record: HouseWork) -> dict:
        return standing_of(record, self.what, gone_of(record, self.known))

    def with_theirs(self, record: HouseWork, names: list[str]) -> WorkForm:
        """The form as it was sent, beside what only somebody else changed."""
        sent = self.sent_beside(record, names)
        return WorkForm(sent, what=self.what, facts=self.facts, work=record)

    def words_of(self, name: str, value) -> str:
        if name == "ownstep_id":
            return str(HouseWork.objects.filter(pk=value).first() or "nothing")
        if name == "when":
            return conditions.WHERE.get(value, value)
        return super().words_of(name, value)


def gone_of(work: HouseWork, known: Container[str]) -> dict[str, list[str]]:
    """The steps that it names and that are not asked for now: they are kept, so that asking again brings the order
    back."""
    return {
        name: [key for key in getattr(work, name) if key not in known]
        for name in ("after", "before")
    }


def standing_of(work: HouseWork, what: str, gone: dict[str, list[str]]) -> dict:
    """The values that a form of it begins with."""
    found = {one.name: getattr(work, one.name) for one in FIELDS[what]}
    for name, keys in gone.items():
        if name in found:
            found[name] = [key for key in found[name] if key not in keys]
    return found


class EstimateForm(DescribedForm):
    """The house's three times of a step; ``was`` are those the form was opened with."""

    about = "houseestimate"
    mark = "was"
    ruled_as = "ownstep"

    def __init__(
        self,
        data=None,
        *,
        facts: SiteFacts,
        times: tuple[float, ...],
        set_before: HouseEstimate | None,
    ):
        if set_before:
            initial = dict(zip(TIMES, times, strict=True))
        else:
            initial = {}
        if set_before:
            note = set_before.note
        else:
            note = ""
        super().__init__(
            data,
            fields=TIMES_AND_NOTE,
            facts=facts,
            guard=_written(times) if set_before else "",
            initial={**initial, "note": note},
            auto_id="set-%s",
        )
        for name in TIMES:
            self.fields[name].required = True

    def pieces(self) -> list[str | LayoutObject]:
        return ["was", Ledger(*(one.name for one in self.described))]

    def clean(self):
        values = super().clean()
        self.hold_to_rules(values)
        typed = [values[name] for name in TIMES if values.get(name) is not None]
        if not self.errors and _written(typed) != self.stands:
            if self.stands:
                theirs = f"to {self.stands} min"
            else:
                theirs = "back to the catalogue's"
            self.refuse_overtaken(theirs)
        return values


def _written(times: Iterable[float]) -> str:
    return ", ".join(f"{time:g}" for time in times)
