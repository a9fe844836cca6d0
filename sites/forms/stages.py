"""Forms of chapter 10: an answer, a step moved on, many checks excused at once."""

from __future__ import annotations

import secrets

from django import forms

from planner.stages import STATES
from sites.actions.steps import DOES
from sites.forms.fields import refuse_secret


class Seen(forms.IntegerField):
    """What stood when the page was made; a page that does not say saw nothing."""

    def __init__(self):
        super().__init__(required=False, min_value=0, max_value=2**62, widget=forms.HiddenInput)

    def clean(self, value):
        return super().clean(value) or 0


class Sent(forms.Form):
    """What every form of a run sheet carries: what stood on the page, the sender's own key, and for how many
    seconds a device has kept it."""

    seen = Seen()
    token = forms.RegexField(r"\A[A-Za-z0-9_-]*\Z", required=False, max_length=64, widget=forms.HiddenInput)
    age = forms.FloatField(required=False, min_value=0, widget=forms.HiddenInput)

    def clean_age(self) -> float:
        return self.cleaned_data["age"] or 0.0


class AnswerForm(Sent):
    state = forms.ChoiceField(
        choices=[(state, state) for state in STATES], error_messages={"required": "Choose one of the answers."}
    )
    note = forms.CharField(required=False, max_length=4000, validators=[refuse_secret])
    measured = forms.CharField(required=False, max_length=1000, validators=[refuse_secret])
    value = forms.CharField(required=False, strip=False)

    def clean_value(self) -> str | None:
        """The plan's value on the page, ``None`` when the page did not say or cannot have said it."""
        value = self.cleaned_data["value"].replace("\r\n", "\n")
        return value if "value" in self.data and len(value) <= 4000 else None


class StepForm(Sent):
    does = forms.ChoiceField(choices=[(one, one) for one in DOES])
    owner = forms.IntegerField(required=False)


class ExcuseForm(forms.Form):
    """One reason for every check whose box is ticked."""

    reason = forms.CharField(
        max_length=4000,
        validators=[refuse_secret],
        error_messages={"required": "Give the reason: it stands beside each of them."},
    )


def new_token() -> str:
    """A key of its own for one form on one page: sent twice, it counts once."""
    return secrets.token_urlsafe(18)
