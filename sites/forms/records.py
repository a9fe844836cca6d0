"""The form of one record: its fields from planner.record.chapters, its edit counter, its choices."""

from __future__ import annotations

from django import forms

from planner.record.chapters import Field, Section
from planner.record.facts import SiteFacts
from sites.forms.described import DescribedForm
from sites.models import RECORD_MODELS, Site
from sites.models.customers import CODE


def length_of(kind: str, one: Field) -> int | None:
    """The greatest length of a field's column, where it has one."""
    return getattr(
        RECORD_MODELS[kind]._meta.get_field(one.name.removesuffix("_id")), "max_length", None
    )


class RecordForm(DescribedForm):
    """Fields of one section. ``edits`` is the edit counter the record was opened with."""

    def __init__(self, data=None, *, section: Section, facts: SiteFacts, record=None, **kwargs):
        kwargs.setdefault("prefix", record.anchor if record else f"new-{section.slug}")
        self.section, self.record = section, record
        self.about = self.ruled_as = section.kind
        if record:
            initial = {one.name: getattr(record, one.name) for one in section.fields}
        else:
            initial = {}
        if record:
            edits = record.edits
        else:
            edits = 0
        super().__init__(
            data, fields=section.fields, facts=facts, guard=edits, initial=initial, **kwargs
        )
        if section.kind == "site" and "code" in self.fields:
            self.fields["code"].required = True
            self.fields["code"].validators.append(CODE)
        if record and "joined" in self.fields:
            others = Site.objects.filter(customer_id=record.customer_id, removal=None).exclude(
                pk=record.pk
            )
            self.fields["joined"].choices = [(other.pk, str(other)) for other in others]

    def length_of(self, one: Field) -> int | None:
        return length_of(self.section.kind, one)

    def clean(self):
        values = super().clean()
        fresh = not self.errors and not self.section.single and not self.record
        told = [one.name for one in self.section.fields if not one.kind.required]
        if fresh and all(values.get(name) in (None, "", [], ()) for name in told):
            raise forms.ValidationError("Nothing is filled in yet.", code="empty")
        self.hold_to_rules(values)
        if self.section.kind == "site" and "code" in values:
            taken = Site.objects.filter(
                customer_id=self.record.customer_id, code=values["code"]
            ).exclude(pk=self.record.pk)
            if taken.exists():
                self.add_error("code", "Another site of this customer has this code.")
        return values
