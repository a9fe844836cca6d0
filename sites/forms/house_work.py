"""The forms of what the house asks for at every site: a step, a check, the three times of a catalogue's step."""

from __future__ import annotations

import dataclasses

from django import forms
from django.http import QueryDict

from planner.record import kinds
from planner.record.chapters import Field
from planner.record.chapters.base import NOTE
from planner.record.chapters.rest import CHECK_FIELDS, MINUTES, STEP_FIELDS
from planner.record.facts import SiteFacts
from planner.stages import conditions, own
from sites.forms.fields import OneRecord, form_field
from sites.forms.secrets import AskingForm
from sites.forms.steps import TIMES, refusals
from sites.models import HouseEstimate, HouseWork

WHEN = Field("when", "Where it applies", kinds.CHOICE, choices=conditions.WHERE)
AFTER_STEP = Field(
    "ownstep_id",
    "Answered after the house's step",
    kinds.RECORD,
    group="More",
    hint="A step of the same stage.",
)
SAID_OF = {
    "name": {"step": "Photograph the rack", "check": "Every cable in the rack bears a label"},
    "caution": "Where people or data can be hurt, say how, and what to do against it. Everybody who does this step "
    "sees it before anything else. Local rules and licensed people decide.",
    "after": "Numbers of steps of the catalogue or of the house.",
    "before": "Numbers of steps that wait for it, of the catalogue or of the house.",
}


def _fields(what: str) -> tuple[Field, ...]:
    """The fields of a house's step or check, in the order of the form."""
    said = []
    for one in STEP_FIELDS if what == "step" else CHECK_FIELDS:
        if one.name == "name":
            one = dataclasses.replace(one, example=SAID_OF["name"][what])
        elif one.name in SAID_OF:
            one = dataclasses.replace(one, hint=SAID_OF[one.name])
        said.append(one)
    after = () if what == "step" else (AFTER_STEP,)
    return (*said[:2], WHEN, *said[2:], *after, NOTE)


FIELDS = {"step": _fields("step"), "check": _fields("check")}


class WorkForm(AskingForm):
    """A step or a check of the house. ``edits`` is the edit counter it was opened with."""

    about = "housework"
    edits = forms.IntegerField(
        required=False, widget=forms.HiddenInput, min_value=0, max_value=2**31
    )

    def __init__(self, data=None, *, what: str, facts: SiteFacts, work: HouseWork | None = None):
        described = FIELDS[what]
        initial = {one.name: getattr(work, one.name) for one in described} if work else {}
        initial["edits"] = work.edits if work else 0
        known = own.named(facts)
        self.gone = {}  # steps that are not asked for now: they are kept, so that asking again brings the order back
        for name in ("after", "before"):
            self.gone[name] = [key for key in initial.get(name, ()) if key not in known]
            initial[name] = [key for key in initial.get(name, ()) if key in known]
        super().__init__(data, initial=initial, auto_id="work-%s")
        self.what, self.facts, self.work, self.described = what, facts, work, described
        for one in described:
            self.fields[one.name] = self._field(one)
        self.fields["name"].required = True

    def _field(self, one: Field) -> forms.Field:
        if one.name == "when":
            return forms.ChoiceField(
                label=one.label, choices=list(conditions.WHERE.items()), required=False
            )
        if one.name == "ownstep_id":
            return self._after_step(one)
        length = getattr(HouseWork._meta.get_field(one.name), "max_length", None)
        return form_field(one, self.facts, length)

    def _after_step(self, one: Field) -> OneRecord:
        """The steps that the house asks for now, and the one that is named already."""
        named = own.named(self.facts)
        found = [
            (step.id, " ".join(named[own.key_of(step, "house")])) for step in self.facts.house_steps
        ]
        kept = self.work.ownstep if self.work else None
        if kept and kept.pk not in dict(found):
            found.append((kept.pk, f"{kept.name} (no longer asked)"))
        return OneRecord(
            choices=[("", "—"), *found], label=one.label, help_text=one.hint, required=False
        )

    def rows(self) -> list[tuple[str, list[tuple[Field, forms.BoundField]]]]:
        """The fields under their headings, in order."""
        found: dict[str, list[tuple[Field, forms.BoundField]]] = {}
        for one in self.described:
            found.setdefault(one.group, []).append((one, self[one.name]))
        return list(found.items())

    def clean(self):
        values = super().clean()
        for name, why in refusals("ownstep" if self.what == "step" else "owncheck", values):
            self.add_error(name, why)
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
        """The cleaned values, typed for the columns."""
        found = {one.name: self.cleaned_data[one.name] for one in self.described}
        for name, gone in self.gone.items():
            if name in found:
                found[name] = [*found[name], *gone]
        return found

    def with_theirs(self, work: HouseWork, names: list[str]) -> WorkForm:
        """The form as it was sent, with the fields that only somebody else changed as they saved them, and their
        edit counter: saving it once more puts the rest in the place of theirs."""
        fresh = WorkForm(what=self.what, facts=self.facts, work=work)
        data: QueryDict = self.data.copy()
        data["edits"] = str(work.edits)
        for name in names:
            field = fresh.fields[name]
            value = field.prepare_value(fresh.get_initial_for_field(field, name))
            data[name] = "" if value is None else str(value)
        return WorkForm(data, what=self.what, facts=self.facts, work=work)


class EstimateForm(AskingForm):
    """The house's three times of a step; ``was`` are those the form was opened with."""

    about = "houseestimate"
    unasked = frozenset({"was"})  # they are held against the times that stand, and kept nowhere
    was = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self,
        data=None,
        *,
        facts: SiteFacts,
        times: tuple[float, ...],
        set_before: HouseEstimate | None,
    ):
        initial = dict(zip(TIMES, times, strict=True)) if set_before else {}
        note = set_before.note if set_before else ""
        self.now = ", ".join(f"{time:g}" for time in times) if set_before else ""
        super().__init__(data, initial={**initial, "note": note, "was": self.now}, auto_id="set-%s")
        self.described = (
            *MINUTES,
            dataclasses.replace(NOTE, hint="Where the times come from: measured where, when."),
        )
        for one in self.described:
            self.fields[one.name] = form_field(one, facts, None)
        for name in TIMES:
            self.fields[name].required = True

    def rows(self) -> list[tuple[Field, forms.BoundField]]:
        return [(one, self[one.name]) for one in self.described]

    def clean(self):
        values = super().clean()
        for name, why in refusals("ownstep", values):
            self.add_error(name, why)
        typed = ", ".join(f"{values[name]:g}" for name in TIMES if values.get(name) is not None)
        if not self.errors and values.get("was") != self.now and typed != self.now:
            self.data = self.data.copy()
            self.data["was"] = self.now  # they have seen it now
            theirs = f"to {self.now} min" if self.now else "back to the catalogue's"
            raise forms.ValidationError(
                f"Somebody else set this meanwhile, {theirs}. Look at it; saving once more puts yours in its place.",
                code="moved",
            )
        return values

    def values(self) -> dict:
        return {name: self.cleaned_data[name] for name in (*TIMES, "note")}
