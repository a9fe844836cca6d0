"""Somebody else was first: what a page had before it, held against what stands now, and the words for it.

Nobody overwrites unseen what somebody else saved. Where two changed different fields of one thing both stay; where
they changed the same, theirs is shown and one's own is sent once more.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import QueryDict

from sites.forms.secrets import AskingForm

Mark = int | str

HERE = "Somebody else was here meanwhile"
ANSWERED = "Somebody else answered this meanwhile"
REMOVED = "A record was removed meanwhile."
ALL_ANSWERED = "All of them were answered meanwhile."


@dataclass(frozen=True)
class Guard:
    """What somebody had before them, and what stands now: both an edit counter, the key of the newest answer (0
    where nobody answered), or a value as text. Whoever had nothing before them (``None``) is asked nothing."""

    seen: Mark | None
    stands: Mark

    @property
    def moved(self) -> bool:
        return self.seen is not None and self.seen != self.stands


def beside_yours(labels: Iterable[str]) -> str:
    """Of fields that only somebody else changed."""
    return f"Somebody else had changed {', '.join(labels)} meanwhile; theirs stands beside yours."


def set_to(theirs: str) -> str:
    """Of the one value that both set; ``theirs`` goes on: *to 70 %*, *back to the catalogue's*."""
    return (
        f"Somebody else set this meanwhile, {theirs}. "
        "Look at it; saving once more puts yours in its place."
    )


def answered(check: str) -> str:
    return f"{check} was answered meanwhile"


def planned(step: str) -> str:
    return f"{step} was planned otherwise by somebody meanwhile."


def changed(who: Any, what: Any) -> str:
    return f"{who or 'Somebody'} changed {what} meanwhile."


class Seen(forms.IntegerField):
    """What stood when the page was made; a page that does not say saw nothing."""

    def __init__(self, most: int = 2**62):
        super().__init__(required=False, min_value=0, max_value=most, widget=forms.HiddenInput)

    def clean(self, value):
        return super().clean(value) or 0


class SeenText(forms.CharField):
    """The value that stood when the page was made."""

    def __init__(self):
        super().__init__(required=False, widget=forms.HiddenInput)


class GuardedForm(AskingForm):
    """A form of what others save, too. Its hidden field ``mark`` bears what stood when it was opened."""

    mark = "edits"
    stands: Mark = 0
    data: QueryDict

    def guard_at(self, stands: Mark) -> None:
        """What stands now, which a form that is opened now has seen."""
        self.stands = stands
        self.fields[self.mark] = SeenText() if isinstance(stands, str) else Seen(most=2**31)
        self.initial[self.mark] = stands

    @property
    def opened_at(self) -> Any:
        """What stood when the form was opened; 0 where it does not say."""
        return self.cleaned_data[self.mark]

    def asked_fields(self) -> list[str]:
        return [name for name in super().asked_fields() if name != self.mark]

    def values(self) -> dict[str, Any]:
        """What was typed, for the columns."""
        return {name: value for name, value in self.cleaned_data.items() if name != self.mark}

    def refuse_overtaken(self, theirs: str) -> None:
        """Says once what somebody else set meanwhile: whoever sends the same again has seen it."""
        if Guard(self.cleaned_data.get(self.mark, ""), self.stands).moved:
            self.data = self.data.copy()
            self.data[self.add_prefix(self.mark)] = str(self.stands)
            raise forms.ValidationError(set_to(theirs), code="moved")

    # -- saved by two at once ------------------------------------------------------------------------

    def standing(self, record: Any) -> dict[str, Any]:
        """The values of a record as a form of it begins with them."""
        return {name: getattr(record, name) for name in self.fields if name != self.mark}

    def sent_beside(self, record: Any, names: Iterable[str]) -> QueryDict:
        """What was sent, with the fields that only somebody else changed as they saved them, and their edit counter:
        sent once more, it puts the rest in the place of theirs."""
        data = self.data.copy()
        data[self.mark] = str(record.edits)
        standing = self.standing(record)
        for name in names:
            value = self.fields[name].prepare_value(standing[name])
            data[name] = "" if value is None else str(value)
        return data

    def label_of(self, name: str) -> str:
        return str(self.fields[name].label)

    def words_of(self, name: str, value: Any) -> str:
        """A value of a field, in words."""
        return str(value or "nothing")
