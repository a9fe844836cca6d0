"""The form of a built value: it belongs to a field of a record, and must be what that field could hold."""

from __future__ import annotations

from django import forms
from django.core.exceptions import ValidationError

from planner.comparing import as_built as built
from planner.record import chapters, typed
from planner.record.chapters import Field
from planner.record.facts import KIND_WORDS, Record, SiteFacts
from planner.record.kinds import bare
from sites.forms.fields import form_field
from sites.forms.records import RecordForm, length_of


class BuiltForm(RecordForm):
    def __init__(self, *args, facts: SiteFacts, **kwargs):
        super().__init__(*args, facts=facts, **kwargs)
        for _, one in self.section.derived:
            self.fields[one.name] = form_field(one, facts, None)
        if self.record:
            self.fields["target"].keep(self.record.target)
        self._beside(self._told("target"), self._told("field"))

    def _told(self, name: str) -> str:
        """What was sent of a field, or what the record holds."""
        if self.is_bound:
            return (self.data.get(self.add_prefix(name)) or "").strip()
        if self.record:
            return getattr(self.record, name)
        return ""

    def _beside(self, target: str, words: str) -> None:
        """Offers the fields of the record that was chosen, and shows what is planned for the one that was named."""
        about = built.record_of(target, self.facts)
        if about is None:
            return
        self.fields["field"].widget.suggestions = [
            one.label for one in built.fields_of(about.kind).values()
        ]
        one = built.field_called(about.kind, words)
        if one:
            self.initial["field"] = one.label
            planned = chapters.with_unit(one, chapters.show(one, about, self.facts))
            self.initial["planned"] = planned or "not known yet"

    def clean(self):
        values = super().clean()
        target, words, text = (values.get(name) or "" for name in ("target", "field", "value"))
        about = built.record_of(target, self.facts)
        if not words or (about is None and target):
            return values  # half filled, or of a record that was removed: it stays as it is
        if about is None:
            self._wrong("target", "Say which record it belongs to.")
            return values
        one = built.field_called(about.kind, words)
        if one is None:
            labels = ", ".join(field.label for field in built.fields_of(about.kind).values())
            self._wrong("field", f"A {KIND_WORDS[about.kind]} has no “{words}”. It has: {labels}.")
        elif self._twin(target, one.name):
            self._wrong(
                "field", f"{one.label} of {about.label} has a built value already: change that one."
            )
        else:
            values["field"] = one.name
            try:
                values["value"] = as_typed(about, one, text, self.facts)
            except ValidationError as error:
                self.add_error("value", error)
        return values

    def _wrong(self, name: str, words: str) -> None:
        if name not in self.errors:
            self.add_error(name, forms.ValidationError(words, code="built"))

    def _twin(self, target: str, name: str) -> bool:
        if self.record:
            own = self.record.pk
        else:
            own = None
        return any(
            (one.target, one.field) == (target, name) and one.id != own for one in self.facts.built
        )


def as_typed(record: Record, one: Field, text: str, facts: SiteFacts) -> str:
    """A built value as it is kept. It is cleaned by the very form field that cleans the planned one.

    Raises ``ValidationError`` when the field could never hold it.
    """
    text = text.strip()
    if not text or text.lower() == typed.NOTHING:
        return text.lower()
    try:
        sent = one.kind.sent(one, bare(one, text), facts)
    except ValueError as error:
        raise ValidationError(str(error), code="choice") from error
    field = form_field(one, facts, length_of(record.kind, one))
    field.asked_by_form = True  # what is typed as a built value is asked where it is typed
    value = field.clean(sent)
    return typed.written(one, tuple(value) if isinstance(value, list) else value, facts)
