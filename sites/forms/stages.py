"""Forms of chapter 10: an answer, a step moved on, many checks excused at once."""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable, Iterator

from django import forms

from planner.record.choices import AnswerState
from sites.forms.secrets import Asked, AskingForm, ask
from sites.models.stages import StepMove

NOTE = "answer.note"  # where what is said of a note is kept
MOST_TEXT = 4 * 2**20  # bytes of plain text that are looked through with one answer


class Seen(forms.IntegerField):
    """What stood when the page was made; a page that does not say saw nothing."""

    def __init__(self):
        super().__init__(required=False, min_value=0, max_value=2**62, widget=forms.HiddenInput)

    def clean(self, value):
        return super().clean(value) or 0


class Sent(AskingForm):
    """What every form of a run sheet carries: what stood on the page, the sender's own key, and for how many
    seconds a device has kept it."""

    about = "answer"
    unasked = frozenset({"token"})  # made by the house or the device

    seen = Seen()
    token = forms.RegexField(
        r"\A[A-Za-z0-9_-]*\Z", required=False, max_length=64, widget=forms.HiddenInput
    )
    age = forms.FloatField(required=False, min_value=0, widget=forms.HiddenInput)

    def clean_age(self) -> float:
        return self.cleaned_data["age"] or 0.0


class AnswerForm(Sent):
    """An answer. ``standing`` is the plan's value as it stands: a page that sends it back says nothing of its own."""

    state = forms.ChoiceField(
        choices=AnswerState.pairs(),
        error_messages={"required": "Choose one of the answers."},
    )
    note = forms.CharField(required=False, max_length=4000)
    measured = forms.CharField(required=False, max_length=1000)
    value = forms.CharField(required=False, strip=False)

    def __init__(self, data=None, *, standing: str = ""):
        super().__init__(data)
        self.standing = standing

    def asked_fields(self) -> list[str]:
        told = self.data.get("value", "").replace("\r\n", "\n") == self.standing
        return [name for name in super().asked_fields() if not (told and name == "value")]

    def clean_value(self) -> str | None:
        """The plan's value on the page, ``None`` when the page did not say or cannot have said it."""
        value = self.cleaned_data["value"].replace("\r\n", "\n")
        return value if "value" in self.data and len(value) <= 4000 else None

    def ask_files(self, sent: Iterable[str], taken: Iterable) -> str:
        """Why files cannot be kept, "" when they can: their names, as they were sent, and what plain texts hold.

        Photos and PDFs are not looked into.
        """
        texts = [one.content for one in taken if one.media_type == "text/plain"]
        if sum(map(len, texts)) > MOST_TEXT:
            most = f"at most {MOST_TEXT >> 20} MB"
            return f"That is too much plain text to look through: {most}. Cut it down to what proves it."
        asked = Asked()
        for name in sent:
            asked.add(_ask_name(name, self.ticks()))
        for text in texts:
            asked.add(ask(text.decode("utf-8", "replace"), "proof.content", self.ticks()))
        self.asked.add(asked)
        if not asked.refused:
            asked.agree()
        return f"A file cannot be kept. {asked.words}" if asked.refused else ""


def _ask_name(name: str, ticks: str) -> Asked:
    """A file's name is asked as it stands, and with its words apart: *root_pw_…*, *PIN-…*."""
    asked = ask(name, "proof.name", ticks)
    apart = " ".join(_apart(name))
    return asked if asked.refused or apart == name else ask(apart, "proof.name", ticks)


def _apart(name: str) -> Iterator[str]:
    stem = re.sub(r"\.\w{1,5}\Z", "", re.split(r"[/\\]", name)[-1])
    yield from filter(None, re.split(r"[_+\s-]+", stem))


class StepForm(Sent):
    does = forms.ChoiceField(choices=StepMove.pairs())
    owner = forms.IntegerField(required=False)


class ExcuseForm(AskingForm):
    """One reason for every check whose box is ticked."""

    about = "answer"

    reason = forms.CharField(
        max_length=4000,
        error_messages={"required": "Give the reason: it stands beside each of them."},
    )

    def where(self, name: str) -> str:
        return NOTE


def new_token() -> str:
    """A key of its own for one form on one page: sent twice, it counts once."""
    return secrets.token_urlsafe(18)
