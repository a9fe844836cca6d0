"""Forms of chapter 11, and of accepting a finding."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django import forms

from planner.record import kinds
from planner.record.chapters import Field
from planner.record.facts import Site, SiteFacts
from sites.forms.fields import Day, Words
from sites.forms.layout import Laid
from sites.forms.secrets import AskingForm


class FreezeForm(AskingForm):
    about = "revision"
    reason = Words(
        label="Reason",
        max_length=2000,
        help_text="Why this plan is frozen now, as in “sent to the network's owner”.",
    )


class BookForm(Laid, forms.Form):
    """Which part of the book is printed, and from which plan: an address that is only looked at."""

    part = forms.ChoiceField(label="Print")
    revision = forms.ChoiceField(label="From", required=False)

    def __init__(self, *, parts: Iterable[tuple[str, str]], letters: Iterable[str]):
        super().__init__(auto_id="book-%s", use_required_attribute=False)
        self.fields["part"].choices = list(parts)
        self.fields["revision"].choices = [
            ("", "the plan as it stands, a draft"),
            *((letter, f"revision {letter}") for letter in letters),
        ]


class AcceptForm(AskingForm):
    about = "acceptance"
    reason = Words(
        label="Reason",
        max_length=2000,
        widget=forms.Textarea({"rows": 2}),
        help_text="Why this can stay as it is for now.",
    )
    look_again = Day(
        one=Field("look_again", "Look again on", kinds.DATE),
        facts=SiteFacts(today=dt.date.min, site=Site()),
        label="Look again on",
        max_length=40,
        help_text="On that day it opens again.",
    )

    def __init__(self, *args, today: dt.date, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_look_again(self) -> dt.date:
        day = self.cleaned_data["look_again"]
        if day is None or day <= self.today:
            raise forms.ValidationError("Give a day that is still to come.")
        return day
