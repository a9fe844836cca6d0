"""The form of one record: its fields from planner.record.chapters, its edit counter, its choices."""

from __future__ import annotations

from django import forms

from planner.record.chapters import Field, Section
from planner.record.facts import SiteFacts
from sites.forms.fields import form_field
from sites.forms.secrets import AskingForm
from sites.forms.steps import refusals
from sites.models import RECORD_MODELS, Site
from sites.models.customers import CODE


def length_of(kind: str, one: Field) -> int | None:
    """The greatest length of a field's column, where it has one."""
    return getattr(
        RECORD_MODELS[kind]._meta.get_field(one.name.removesuffix("_id")), "max_length", None
    )


class RecordForm(AskingForm):
    """Fields of one section. ``edits`` is the edit counter the record was opened with."""

    edits = forms.IntegerField(
        required=False, widget=forms.HiddenInput, min_value=0, max_value=2**31
    )

    def __init__(self, *args, section: Section, facts: SiteFacts, record=None, **kwargs):
        kwargs.setdefault("prefix", record.anchor if record else f"new-{section.slug}")
        initial = {one.name: getattr(record, one.name) for one in section.fields} if record else {}
        super().__init__(
            *args, initial={**initial, "edits": record.edits if record else 0}, **kwargs
        )
        self.section, self.record, self.about = section, record, section.kind
        for one in section.fields:
            self.fields[one.name] = form_field(one, facts, length_of(section.kind, one))
        if section.kind == "site" and "code" in self.fields:
            self.fields["code"].required = True
            self.fields["code"].validators.append(CODE)
        if record and "joined" in self.fields:
            others = Site.objects.filter(customer_id=record.customer_id, removal=None).exclude(
                pk=record.pk
            )
            self.fields["joined"].choices = [(other.pk, str(other)) for other in others]

    def described(self, fields: list[Field]) -> list[tuple[Field, forms.BoundField]]:
        return [(one, self[one.name]) for one in fields]

    def clean(self):
        values = super().clean()
        fresh = not self.errors and not self.section.single and not self.record
        told = [one.name for one in self.section.fields if not one.kind.required]
        if fresh and all(values.get(name) in (None, "", [], ()) for name in told):
            raise forms.ValidationError("Nothing is filled in yet.", code="empty")
        for name, why in refusals(self.section.kind, values):
            self.add_error(name, why)
        if self.section.kind == "site" and "code" in values:
            taken = Site.objects.filter(
                customer_id=self.record.customer_id, code=values["code"]
            ).exclude(pk=self.record.pk)
            if taken.exists():
                self.add_error("code", "Another site of this customer has this code.")
        return values

    def values(self) -> dict:
        """The cleaned values, typed for the record's columns."""
        return {one.name: self.cleaned_data[one.name] for one in self.section.fields}
