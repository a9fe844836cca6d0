"""The box that rows are pasted into."""

from __future__ import annotations

from django import forms

from sites.forms.layout import Laid


class PasteForm(Laid, forms.Form):
    """Rows as they were pasted: they are read, and each cell asked, by the form of its record."""

    rows = forms.CharField(
        label="Rows", required=False, strip=False, widget=forms.Textarea({"rows": 10})
    )

    def __init__(self, text: str = ""):
        super().__init__(initial={"rows": text}, auto_id="%s")
