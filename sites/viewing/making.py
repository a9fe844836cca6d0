"""Something new from a form, once however often it is sent."""

from __future__ import annotations

from collections.abc import Callable

from django import forms
from django.db import models

from sites.actions import once
from sites.actions.stages import Refused


def made_of(
    form: forms.Form, sent: once.Sent, make: Callable[[], models.Model]
) -> once.Made | None:
    """What the form makes, or has made before. ``None`` where it says what is wrong: also when somebody else took
    its code in this very moment."""
    try:
        return once.take(sent, valid=form.is_valid, make=make)
    except Refused as error:
        form.add_error("code", str(error))
        return None
