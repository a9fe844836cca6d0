"""Forms of chapter 10: an answer, a step moved on, many checks excused at once."""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from crispy_forms.layout import LayoutObject
from django import forms

from planner.record import kinds
from planner.record.chapters import Field
from planner.record.choices import AnswerState, Wanted
from planner.stages import SiteCheck, answers
from sites.forms.controls import ManyFiles
from sites.forms.guard import Seen
from sites.forms.layout import Shaped
from sites.forms.secrets import Asked, AskingForm, ask
from sites.models.stages import StepMove

NOTE = "answer.note"  # where what is said of a note is kept
WHICH_FILES = (
    "JPEG, PNG, WebP, GIF, PDF or plain text; at most 8, each up to 15 MB and 25 million pixels. "
    "Of a photo only its picture is kept, not where it was taken."
)
MOST_TEXT = 4 * 2**20  # bytes of plain text that are looked through with one answer


class Sent(AskingForm):
    """What every form of a run sheet carries: what stood on the page, the sender's own key, and for how many
    seconds a device has kept it."""

    about = "answer"
    unasked = frozenset({"token"})  # made by the house or the device
    one_box = True

    seen = Seen()
    token = forms.RegexField(
        r"\A[A-Za-z0-9_-]*\Z", required=False, max_length=64, widget=forms.HiddenInput
    )
    age = forms.FloatField(required=False, min_value=0, widget=forms.HiddenInput)

    def clean_age(self) -> float:
        return self.cleaned_data["age"] or 0.0


@dataclass(frozen=True)
class Choice:
    """One of the five answers on the page."""

    state: str
    hint: str
    chosen: bool


class AnswerForm(Sent):
    """An answer to a check: what was sent, or, without ``data``, boxes for one that is still to be given.

    The check's value is the plan's as it stands: a page that sends it back says nothing of its own. ``typed`` is what
    somebody typed already and could not send.
    """

    state = forms.ChoiceField(
        choices=AnswerState.pairs(),
        error_messages={"required": "Choose one of the answers."},
    )
    measured = forms.CharField(required=False, max_length=1000)
    note = forms.CharField(
        label="Proof, what was seen, or the reason",
        help_text="Never a password.",
        required=False,
        max_length=4000,
        widget=forms.Textarea({"rows": 3}),
    )
    files = forms.FileField(
        label="Photos or files", help_text=WHICH_FILES, required=False, widget=ManyFiles
    )
    value = forms.CharField(required=False, strip=False, widget=forms.HiddenInput)

    def __init__(
        self,
        data=None,
        *,
        check: SiteCheck,
        live: bool = False,
        seen: int = 0,
        typed: Mapping[str, str] | None = None,
    ):
        given = {name: (typed or {}).get(name, "") for name in ("state", "note", "measured")}
        begun = {**given, "seen": seen, "value": check.value, "token": new_token()}
        super().__init__(data, initial=begun, auto_id="%s")
        self.check, self.live = check, live
        if data is None:
            self._fit_boxes()

    def _fit_boxes(self) -> None:
        """The boxes that this check needs, as they are worded for it."""
        del self.fields["age"]  # a device says it
        if self.check.wants != Wanted.VALUE:
            del self.fields["measured"]
            return
        one = measured_of(self.check)
        field = self.fields["measured"]
        field.described, field.label, field.help_text = one, one.label, one.hint
        field.widget.attrs["autocomplete"] = "off"
        if one.unit:
            field.widget.attrs["inputmode"] = "decimal"

    def pieces(self) -> list[str | LayoutObject]:
        five = Shaped("stages/_answers.html", "state")
        return [five if piece == "state" else piece for piece in super().pieces()]

    def answers(self) -> list[Choice]:
        chosen = self["state"].value()
        hints = answers.hints(self.check.wants, self.live)
        return [Choice(state, hint, state == chosen) for state, hint in hints.items()]

    def asked_fields(self) -> list[str]:
        told = self.data.get("value", "").replace("\r\n", "\n") == self.check.value
        return [name for name in super().asked_fields() if not (told and name == "value")]

    def clean_value(self) -> str | None:
        """The plan's value on the page, ``None`` when the page did not say or cannot have said it."""
        value = self.cleaned_data["value"].replace("\r\n", "\n")
        if "value" in self.data and len(value) <= 4000:
            return value
        return None

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
        if asked.refused:
            return f"A file cannot be kept. {asked.words}"
        return ""


def _ask_name(name: str, ticks: str) -> Asked:
    """A file's name is asked as it stands, and with its words apart: *root_pw_…*, *PIN-…*."""
    asked = ask(name, "proof.name", ticks)
    apart = " ".join(_apart(name))
    if asked.refused or apart == name:
        return asked
    return ask(apart, "proof.name", ticks)


def _apart(name: str) -> Iterator[str]:
    stem = re.sub(r"\.\w{1,5}\Z", "", re.split(r"[/\\]", name)[-1])
    yield from filter(None, re.split(r"[_+\s-]+", stem))


class StepForm(Sent):
    does = forms.ChoiceField(choices=StepMove.pairs())
    owner = forms.IntegerField(required=False)


class ExcuseForm(AskingForm):
    """One reason for every check whose box is ticked."""

    about = "answer"
    one_box = True

    reason = forms.CharField(
        label="Reason",
        max_length=4000,
        widget=forms.Textarea({"rows": 3}),
        error_messages={"required": "Give the reason: it stands beside each of them."},
    )

    def __init__(self, data=None):
        super().__init__(data, auto_id="%s")

    def where(self, name: str) -> str:
        return NOTE


def measured_of(check: SiteCheck) -> Field:
    """The value that is read for a check, as a field."""
    if check.unit:
        label = f"The value read, in {check.unit}"
    else:
        label = "The value read"
    kind = kinds.NUMBER if check.unit else kinds.TEXT
    return Field("measured", label, kind, unit=check.unit, hint=check.range_words)


def new_token() -> str:
    """A key of its own for one form on one page: sent twice, it counts once."""
    return secrets.token_urlsafe(18)
