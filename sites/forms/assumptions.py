"""The form of a planning number."""

from __future__ import annotations

from typing import Any

from django import forms

from planner.catalogue.assumptions import Assumption
from planner.record import kinds
from planner.record.chapters import Field
from planner.record.choices import CITED, NumberOrigin
from planner.record.facts import SiteFacts
from sites.forms.described import DescribedForm
from sites.forms.fields import Words

CHOSEN = [one for one in NumberOrigin if one not in CITED]


def described(one: Assumption) -> Field:
    """A planning number as a field: its label, unit and bounds."""
    kind, unit = (kinds.PERCENT, "%") if one.unit == "share" else (kinds.NUMBER, one.unit)
    return Field("value", one.name, kind, unit=unit, low=one.low, high=one.high, hint=one.why)


class AssumptionForm(DescribedForm):
    """Sets one planning number; ``was`` is the value the form was opened with."""

    about = "assumed"
    mark = "was"
    origin = forms.ChoiceField(
        label="Where it comes from",
        choices=[(one.value, one.words) for one in CHOSEN],
        initial=NumberOrigin.HOUSE_RULE.value,
    )
    note = Words(
        label="Note", required=False, max_length=2000, help_text="Who measured it, when, how."
    )

    field_order = ("value", "origin", "note")

    def __init__(self, data=None, *, one: Assumption, facts: SiteFacts):
        if one.origin in CHOSEN:
            origin = one.origin
        else:
            origin = NumberOrigin.HOUSE_RULE
        super().__init__(
            data,
            fields=[described(one)],
            facts=facts,
            guard=repr(one.value),
            initial={"value": one.value, "origin": origin, "note": one.note},
            auto_id="set-%s",
        )
        self.one = one
        self.fields["value"].required = True
        self.order_fields(self.field_order)

    def clean(self):
        values = super().clean()
        if values.get("value") not in (None, self.one.value):
            stands = self.fields["value"].prepare_value(self.one.value)
            self.refuse_overtaken(f"to {stands}")
        return values

    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.field_order}
