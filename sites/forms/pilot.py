"""The form that makes a link to the acceptance sheet, and the notes that come back on one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

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

    one_box = True

    def __init__(self, data=None, *, asked: Iterable[str], kept: Mapping[str, str] | None = None):
        super().__init__(data)
        for place, check in enumerate(asked, start=1):
            box = {"rows": 2, "maxlength": 1000, "id": f"note-{place}"}
            self.fields[f"note-{check}"] = forms.CharField(
                label="What you saw",
                required=False,
                initial=(kept or {}).get(check, ""),
                widget=forms.Textarea(box),
            )

    def where(self, name: str) -> str:
        return NOTE

    def note(self, check: str) -> str:
        """What was typed, as it was typed."""
        return self.data.get(f"note-{check}", "")


NOTE = "pilot.note"  # where what is said of a pilot person's note is kept
