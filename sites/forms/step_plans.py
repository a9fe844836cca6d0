"""What is decided about several steps at once."""

from __future__ import annotations

import dataclasses
from typing import Any

from django import forms

from planner.record.chapters.rest import MINUTES
from planner.record.facts import SiteFacts
from sites.forms.fields import form_field
from sites.forms.numbers import whole
from sites.forms.steps import TIMES, of_times

AS_IT_IS, NOBODY = "", "0"
NOTHING = "Choose an owner, a time or a day for them."


class StepPlansForm(forms.Form):
    """An empty field leaves what stands. Of the times, one that is given sets all three."""

    owner = forms.ChoiceField(required=False, label="Owner")
    before_day = forms.ChoiceField(
        required=False,
        label="When",
        choices=[(AS_IT_IS, "as it is"), ("yes", "before the on-site day"), ("no", "on the day")],
    )

    def __init__(self, data=None, *, facts: SiteFacts):
        super().__init__(data, auto_id="plan-%s")
        people = [(str(one.id), one.label) for one in facts.contacts]
        self.fields["owner"].choices = [(AS_IT_IS, "as it is"), (NOBODY, "nobody named"), *people]
        for one in MINUTES:
            self.fields[one.name] = form_field(one, facts, None)
            self.fields[one.name].help_text = ""
        self.order_fields(("owner", *TIMES, "before_day"))

    def described(self) -> list[tuple[Any, forms.BoundField]]:
        units = {one.name: dataclasses.replace(one, example="") for one in MINUTES}
        return [(units.get(bound.name), bound) for bound in self]

    def clean(self):
        values = super().clean()
        for name, why in of_times(values):
            self.add_error(name, why)
        if not self.errors and not self.values():
            raise forms.ValidationError(NOTHING, code="empty")
        return values

    def values(self) -> dict[str, Any]:
        """What to set, by column; nothing of what stays as it is."""
        sent = self.cleaned_data
        found: dict[str, Any] = {}
        if sent.get("owner"):
            found["owner_id"] = None if sent["owner"] == NOBODY else whole(sent["owner"])
        if sent.get("before_day"):
            found["before_day"] = sent["before_day"] == "yes"
        if any(sent.get(name) is not None for name in TIMES):
            found |= {name: sent.get(name) for name in TIMES}
        return found
