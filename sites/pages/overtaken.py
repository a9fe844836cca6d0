"""What a form of one customer tells when somebody else saved the same customer meanwhile."""

from __future__ import annotations

from dataclasses import dataclass

from django import forms

from sites.actions.records import Saved


@dataclass(frozen=True)
class Theirs:
    """A field that both changed, as somebody else saved it."""

    label: str
    words: str


def told(form: forms.Form, saved: Saved) -> list[Theirs]:
    """The fields that both changed, in words."""
    return [Theirs(_label(form, one.name), str(one.theirs or "nothing")) for one in saved.clashes]


def merged_words(form: forms.Form, saved: Saved) -> str:
    """What only somebody else changed, and so stands beside what was typed; "" where nothing was."""
    if not saved.merged:
        return ""
    labels = ", ".join(_label(form, name) for name in saved.merged)
    return f"Somebody else had changed {labels} meanwhile; theirs stands beside yours."


def _label(form: forms.Form, name: str) -> str:
    return str(form.fields[name].label)
