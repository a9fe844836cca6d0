"""Controls beyond Django's own: a record of any kind, a text with suggestions, a value that is only shown.
All work without JavaScript."""

from __future__ import annotations

from django import forms
from django.core.exceptions import ValidationError

from planner.comparing import as_built as built
from planner.record.facts import Record, SiteFacts
from planner.record.kinds import named_so


class Suggested(forms.TextInput):
    """A text field with a list of suggestions; anything may be typed."""

    template_name = "forms/suggested.html"

    def __init__(self, suggestions: list[str], attrs=None):
        super().__init__(attrs)
        self.suggestions = suggestions

    def get_context(self, name, value, attrs):
        context = super().get_context(name, value, attrs)
        context["widget"]["attrs"]["list"] = f"{context['widget']['attrs'].get('id', name)}-list"
        context["suggestions"] = self.suggestions
        return context


class ManyFiles(forms.FileInput):
    """Several files at once; what is sent is read from the request."""

    allow_multiple_selected = True

    def __init__(self, attrs=None):
        super().__init__({"multiple": True, **(attrs or {})})


class Shown(forms.Widget):
    """A value that follows from others: shown in its place, never sent."""

    template_name = "forms/shown.html"

    def value_from_datadict(self, data, files, name):
        return None


class AnyRecord(forms.CharField):
    """A record of the site of any kind, kept as its anchor: chosen from a list that goes by chapters, or
    pasted by its label."""

    def __init__(self, *, facts: SiteFacts, **kwargs):
        groups = built.targets(facts)
        found = [
            (
                f"{chapter.number} {chapter.name}",
                [(one.ref.anchor, built.record_words(one)) for one in records],
            )
            for chapter, records in groups
        ]
        super().__init__(widget=forms.Select(choices=[("", "—"), *found]), **kwargs)
        self.records: list[Record] = [one for _, records in groups for one in records]
        self.gone = ""

    def keep(self, anchor: str) -> None:
        """Offers an anchor whose record is not there any more, so that saving does not lose it."""
        if anchor and anchor not in {one.ref.anchor for one in self.records}:
            self.gone = anchor
            self.widget.choices = [*self.widget.choices, (anchor, f"{anchor} (removed)")]

    def clean(self, value):
        text = super().clean(value)
        if not text or text == self.gone:
            return text
        worded = (one for one in self.records if built.record_words(one).lower() == text.lower())
        found = next(worded, None) or named_so(text, self.records)
        if found is None:
            raise ValidationError(
                f"“{text}” is not one record of this site. Choose it from the list.", code="record"
            )
        return found.ref.anchor
