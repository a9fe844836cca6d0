"""One form field for each kind of field in planner.record.kinds. A form refuses only what can never be
true; what is merely missing or unwise is a finding."""

from __future__ import annotations

import re
from collections.abc import Callable

from django import forms
from django.core.exceptions import ValidationError

from planner.comparing import as_built as built
from planner.record import kinds
from planner.record.chapters import Field
from planner.record.facts import KIND_WORDS, SiteFacts
from planner.record.kinds import Kind
from planner.stages import own
from sites.forms.controls import AnyRecord, Shown, Suggested
from sites.forms.numbers import whole
from sites.forms.secrets import refuse_secret

_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]+")  # Unicode's Cc, Zl and Zp


def one_line(text: str) -> str:
    """Line breaks and other control characters become a blank: what stands in one line never brings a second one."""
    return _CONTROL.sub(" ", text)


class Words(forms.CharField):
    """A text. A form that asks its texts itself asks this one too; in any other, a secret is refused here."""

    asked_by_form = False

    def to_python(self, value):
        manifold = isinstance(self.widget, forms.Textarea)
        return super().to_python(
            one_line(value) if isinstance(value, str) and not manifold else value
        )

    def clean(self, value):
        text = super().clean(value)
        if not self.asked_by_form:
            refuse_secret(text)
        return text


class Typed(forms.CharField):
    """A text that becomes a value of its field's kind: the kind reads it, and says what may be typed."""

    def __init__(self, *, one: Field, facts: SiteFacts, **kwargs):
        super().__init__(**kwargs)
        self.one, self.facts = one, facts

    def prepare_value(self, value):
        if value is None or isinstance(value, str):
            return value
        return self.one.kind.entered(self.one, value, self.facts)

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return self.nothing()
        try:
            return self.kept(self.one.kind.read(self.one, text, self.facts))
        except ValueError as error:
            raise ValidationError(str(error), code=self.one.kind.word) from error

    def nothing(self):
        """What is kept while nobody knows it."""
        return None

    def kept(self, value):
        """A value as its column holds it."""
        return value


class Quantity(Typed):
    """A number with an optional unit."""


class Day(Typed):
    """A typed day."""


class Clock(Typed):
    """A typed time of day."""


class Spelled(Typed):
    """A text of a form, kept in its one spelling."""

    def nothing(self):
        return ""


class Listed(Typed):
    """Several texts, separated by commas or lines."""

    def to_python(self, value):
        lines = (value or "").split("\n")
        return super().to_python("\n".join(one_line(line) for line in lines))

    def nothing(self):
        return []

    def kept(self, value):
        return list(value)


class OneStep(Spelled):
    """A step of the catalogue or the house, by its number or its words; kept as its key."""

    def __init__(self, *, facts: SiteFacts, **kwargs):
        offered = [f"{number} {title}" for number, title in own.named(facts).values()]
        super().__init__(facts=facts, widget=Suggested(offered), max_length=400, **kwargs)

    def prepare_value(self, value):
        if isinstance(value, str):
            return own.words_of(value, self.facts)
        return value


class Chosen(forms.ChoiceField):
    """One of the field's choices, kept by its key."""

    def __init__(self, *, one: Field, **kwargs):
        self.one = one
        required = one.kind.required
        if required:
            blank = []
        else:
            blank = [("", "—")]
        super().__init__(choices=[*blank, *one.choices.items()], **{**kwargs, "required": required})

    def clean(self, value):
        key = super().clean(value)
        kind = self.one.kind
        if isinstance(kind, kinds.Choice):
            return kind.kept(key)
        return key


class Several(forms.MultipleChoiceField):
    widget = forms.CheckboxSelectMultiple

    def clean(self, value):
        return list(super().clean(value))


class YesNo(forms.TypedChoiceField):
    def __init__(self, **kwargs):
        choices = [("", "not known"), ("yes", "yes"), ("no", "no")]
        super().__init__(
            choices=choices, coerce=lambda word: word == "yes", empty_value=None, **kwargs
        )

    def prepare_value(self, value):
        return {True: "yes", False: "no", None: ""}.get(value, value)


class OneRecord(forms.TypedChoiceField):
    """Another record of the same site, chosen by name."""

    def __init__(self, *, choices, **kwargs):
        super().__init__(choices=choices, coerce=whole, empty_value=None, **kwargs)


class SeveralRecords(Several):
    def clean(self, value):
        return [whole(id) for id in super().clean(value)]


Make = Callable[..., forms.Field]


def _amount(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    widget = forms.TextInput({"inputmode": "decimal"})
    return Quantity(one=one, facts=facts, max_length=40, widget=widget, **common)


def _day(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return Day(one=one, facts=facts, max_length=40, **common)


def _clock(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return Clock(one=one, facts=facts, max_length=20, **common)


def _spelled(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return Spelled(one=one, facts=facts, max_length=64, **common)


def _listed(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return Listed(one=one, facts=facts, max_length=2000, **common)


def _choice(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return Chosen(one=one, **common)


def _several(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return Several(choices=list(one.choices.items()), **common)


def _yes_no(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return YesNo(**common)


def _labels(one: Field, facts: SiteFacts) -> list[tuple[int, str]]:
    return [(row.id, row.label) for row in facts.records() if row.kind == one.to]


def _record(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return OneRecord(choices=[("", "—"), *_labels(one, facts)], **common)


def _records(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return SeveralRecords(choices=_labels(one, facts), **common)


def _sites(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    """Those it is joined to; the form of the site offers its customer's others too."""
    return SeveralRecords(choices=[(near.id, near.name) for near in facts.neighbours], **common)


def _email(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return forms.EmailField(**common)


def _any_record(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return AnyRecord(facts=facts, max_length=300, **common)


def _any_field(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    labels = {field.label for kind in KIND_WORDS for field in built.fields_of(kind).values()}
    return Words(max_length=length or 60, widget=Suggested(sorted(labels)), **common)


def _planned(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return forms.CharField(disabled=True, widget=Shown, **common)


def _step(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return OneStep(one=one, facts=facts, **common)


def _long(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return Words(max_length=length or 20_000, widget=forms.Textarea({"rows": 3}), **common)


def _text(one: Field, facts: SiteFacts, length: int | None, **common) -> forms.Field:
    return Words(max_length=length or 200, **common)


# By class of kind, the first that fits.
FORM_FIELDS: tuple[tuple[type[Kind], Make], ...] = (
    (kinds.Amount, _amount),
    (kinds.Date, _day),
    (kinds.Time, _clock),
    (kinds.YesNo, _yes_no),
    (kinds.Choice, _choice),
    (kinds.Several, _several),
    (kinds.Reference, _record),
    (kinds.References, _records),
    (kinds.Sites, _sites),
    (kinds.Email, _email),
    (kinds.AnyRecord, _any_record),
    (kinds.AnyField, _any_field),
    (kinds.Planned, _planned),
    (kinds.Step, _step),
    (kinds.Steps, _listed),
    (kinds.Items, _listed),
    (kinds.Spelled, _spelled),
    (kinds.Long, _long),
    (kinds.Text, _text),
)


def form_field(one: Field, facts: SiteFacts, length: int | None) -> forms.Field:
    """The form field for a field of a record; ``length`` is the column's greatest length.

    It bears its description as ``described``: its page shows the unit and the example from there.
    """
    for kind, make in FORM_FIELDS:
        if isinstance(one.kind, kind):
            made = make(one, facts, length, label=one.label, help_text=one.hint, required=False)
            made.described = one
            return made
    raise LookupError(f"no form field for the kind of {one.name}: {one.kind}")
