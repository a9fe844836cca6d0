"""Files that come in, and what was read of them on its way from the preview to the confirmation."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.core import signing

from sites.forms.layout import Laid

SPACE = 100_000  # what else a form sends beside the parcel
KEPT_SECONDS = 24 * 3600


class FileForm(Laid, forms.Form):
    """One file. It is not opened when it is larger than ``most`` bytes."""

    file = forms.FileField(
        label="File", allow_empty_file=True, error_messages={"required": "Choose a file first."}
    )

    def __init__(self, *args, most: int, too_large: bool = False, accept: str = "", **kwargs):
        super().__init__(*args, **kwargs)
        self.most, self.too_large = most, too_large
        self.fields["file"].help_text = f"At most {most // 2**20} MiB."
        self.fields["file"].widget.attrs["accept"] = accept

    def clean(self):
        values = super().clean()
        found = values.get("file")
        if self.too_large or (found is not None and found.size > self.most):
            self.errors.pop("file", None)
            self.add_error(
                "file", f"The file is larger than {self.most // 2**20} MiB. It was not opened."
            )
        return values

    @property
    def data_of_file(self) -> bytes:
        return self.cleaned_data["file"].read(self.most + 1)


class TooMuch(Exception):
    """What was read does not fit into a page."""


def wrap(content: Any, salt: str) -> str:
    """What was read, as a page carries it: packed and signed, good at one place and for a day.

    Raises :class:`TooMuch` when a form could not send it back.
    """
    parcel = signing.dumps(content, salt=salt, compress=True)
    if len(parcel) > settings.DATA_UPLOAD_MAX_MEMORY_SIZE - SPACE:
        raise TooMuch
    return parcel


def unwrap(parcel: str, salt: str) -> Any:
    """What :func:`wrap` was given, or ``None`` when it is too old, of another place, or not ours."""
    try:
        return signing.loads(parcel, salt=salt, max_age=KEPT_SECONDS)
    except signing.BadSignature:
        return None
