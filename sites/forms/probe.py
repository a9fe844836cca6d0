"""The words by which somebody takes a result of the probe that tells a check in part."""

from __future__ import annotations

from collections.abc import Iterable

from django import forms

from sites.forms.secrets import AskingForm
from sites.forms.stages import NOTE


class RestForm(AskingForm):
    """How the rest of each check was looked at."""

    def __init__(self, data=None, *, checks: Iterable[str]):
        super().__init__(data)
        for check in checks:
            self.fields[f"rest-{check}"] = forms.CharField(required=False)

    def where(self, name: str) -> str:
        return NOTE
