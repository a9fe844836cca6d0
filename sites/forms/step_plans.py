"""What is decided about several steps at once."""

from __future__ import annotations

import dataclasses
from typing import Any

from django import forms

from planner.record.chapters.rest import MINUTES
from planner.record.facts import SiteFacts
from sites.forms.described import DescribedForm
from sites.forms.numbers import whole
from sites.forms.steps import TIMES

AS_IT_IS, NOBODY = "", "0"
NOTHING = "Choose an owner, a time or a day for them."


MINUTES_ALONE = tuple(dataclasses.replace(one, example="", hint="") for one in MINUTES)


class StepPlansForm(DescribedForm):
    """An empty field leaves what stands. Of the times, one that is given sets all three."""

    about, ruled_as = "stepplan", "ownstep"
    owner = forms.ChoiceField(required=False, label="Owner")
    before_day = forms.ChoiceField(
        required=False,
        label="When",
        choices=[(AS_IT_IS, "as it is"), ("yes", "before the on-site day"), ("no", "on the day")],
    )

    def __init__(self, data=None, *, facts: SiteFacts):
        super().__init__(data, fields=MINUTES_ALONE, facts=facts, auto_id="plan-%s")
        people = [(str(one.id), one.label) for one in facts.contacts]
        self.fields["owner"].choices = [(AS_IT_IS, "as it is"), (NOBODY, "nobody named"), *people]
        self.order_fields(("owner", *TIMES, "before_day"))

    def clean(self):
        values = super().clean()
        self.hold_to_rules(values)
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
