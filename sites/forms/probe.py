"""The files that the probe wrote, and the words by which somebody takes a result that tells a check in part."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django import forms

from sites.forms.controls import ManyFiles
from sites.forms.layout import Laid
from sites.forms.secrets import AskingForm
from sites.forms.stages import NOTE

MOST_WORDS = 1000


class ResultsForm(Laid, forms.Form):
    """The files; each is read, within its bounds, by who looks at what it says."""

    results = forms.FileField(
        label="Files that the probe wrote",
        help_text="Choose those of all networks together; some checks want answers from several.",
        required=False,
        widget=ManyFiles({"accept": ".json, application/json"}),
    )

    def __init__(self):
        super().__init__(auto_id="%s")


class RestForm(AskingForm):
    """How the rest of each check was looked at: what was sent, or boxes with what was ``typed`` before."""

    one_box = True

    def __init__(self, data=None, *, checks: Iterable[str], typed: Mapping[str, str] | None = None):
        names = [f"rest-{check}" for check in checks]
        super().__init__(data, initial={name: (typed or {}).get(name, "") for name in names})
        for place, name in enumerate(names):
            box = {"rows": 2, "maxlength": MOST_WORDS, "id": f"rest-{place}"}
            self.fields[name] = forms.CharField(
                label="How the rest was looked at, and what was seen",
                required=False,
                widget=forms.Textarea(box),
            )

    def where(self, name: str) -> str:
        return NOTE

    def of(self, check: str) -> forms.BoundField | None:
        """The box of one check."""
        name = f"rest-{check}"
        if name in self.fields:
            return self[name]
        return None
