"""The form that makes a link to the acceptance sheet, and the notes that come back on one."""

from __future__ import annotations

from collections.abc import Iterable

from django import forms

from sites.forms.fields import Words
from sites.forms.secrets import AskingForm


class PilotLinkForm(AskingForm):
    about = "pilot-link"
    person = Words(
        label="For",
        max_length=120,
        help_text="The pilot person's name, as it shall stand in the answers.",
    )
    days = forms.IntegerField(label="Open for, days", min_value=1, max_value=60, initial=7)


class PilotNotesForm(AskingForm):
    """A note for each question that is asked; what somebody found stands beside it and is no text."""

    def __init__(self, data=None, *, asked: Iterable[str]):
        super().__init__(data)
        for check in asked:
            self.fields[f"note-{check}"] = forms.CharField(required=False)

    def where(self, name: str) -> str:
        return NOTE

    def note(self, check: str) -> str:
        """What was typed, as it was typed."""
        return self.data.get(f"note-{check}", "")


NOTE = "pilot.note"  # where what is said of a pilot person's note is kept
