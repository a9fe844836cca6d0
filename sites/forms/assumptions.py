"""The form of a planning number."""

from __future__ import annotations

from django import forms

from planner.catalogue.assumptions import Assumption
from planner.record import kinds
from planner.record.chapters import Field
from planner.record.choices import CITED, NumberOrigin
from planner.record.facts import SiteFacts
from sites.forms.fields import Words, form_field
from sites.forms.secrets import AskingForm

CHOSEN = [one for one in NumberOrigin if one not in CITED]


def described(one: Assumption) -> Field:
    """A planning number as a field: its label, unit and bounds."""
    kind, unit = (kinds.PERCENT, "%") if one.unit == "share" else (kinds.NUMBER, one.unit)
    return Field("value", one.name, kind, unit=unit, low=one.low, high=one.high, hint=one.why)


class AssumptionForm(AskingForm):
    """Sets one planning number; ``was`` is the value the form was opened with."""

    about = "assumed"
    unasked = frozenset({"was"})  # it is held against the value that stands, and kept nowhere
    origin = forms.ChoiceField(
        label="Where it comes from",
        choices=[(one.value, one.words) for one in CHOSEN],
        initial=NumberOrigin.HOUSE_RULE.value,
    )
    note = Words(
        label="Note", required=False, max_length=2000, help_text="Who measured it, when, how."
    )
    was = forms.CharField(required=False, widget=forms.HiddenInput)

    field_order = ("value", "origin", "note")

    def __init__(self, data=None, *, one: Assumption, facts: SiteFacts | None = None):
        origin = one.origin if one.origin in CHOSEN else NumberOrigin.HOUSE_RULE
        super().__init__(
            data,
            initial={"was": repr(one.value), "origin": origin, "note": one.note},
            auto_id="set-%s",
        )
        self.one, self.described = one, described(one)
        self.fields["value"] = form_field(self.described, facts, None)
        self.fields["value"].required = True
        self.initial["value"] = one.value
        self.order_fields(self.field_order)

    def clean(self):
        values = super().clean()
        typed, was = values.get("value"), values.get("was")
        if typed is not None and was != repr(self.one.value) and typed != self.one.value:
            self.data = self.data.copy()
            self.data["was"] = repr(self.one.value)  # they have seen it now
            raise forms.ValidationError(
                f"Somebody else set this meanwhile, to {self['value'].field.prepare_value(self.one.value)}. "
                "Look at it; saving once more puts yours in its place.",
                code="moved",
            )
        return values
