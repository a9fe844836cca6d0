"""A form whose fields follow from their descriptions."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms

from planner.record.chapters import Field, show_value, with_unit
from planner.record.facts import SiteFacts
from sites.forms.fields import form_field
from sites.forms.guard import GuardedForm, Mark
from sites.forms.steps import refusals


class DescribedForm(GuardedForm):
    """One form field for each description, in their order. ``guard`` is what stands now, where others save it, too.

    ``ruled_as`` is the kind of record whose rules hold between its fields.
    """

    ruled_as = ""

    def __init__(
        self,
        data: Any = None,
        *,
        fields: Iterable[Field],
        facts: SiteFacts,
        guard: Mark | None = None,
        **kwargs,
    ):
        super().__init__(data, **kwargs)
        self.described, self.facts = tuple(fields), facts
        if guard is not None:
            self.guard_at(guard)
        for one in self.described:
            self.fields[one.name] = self.made(one)

    def made(self, one: Field) -> forms.Field:
        return form_field(one, self.facts, self.length_of(one))

    def length_of(self, one: Field) -> int | None:
        """The greatest length of a field's column, where it has one."""
        return None

    def hold_to_rules(self, values: dict[str, Any]) -> None:
        """Refuses what can never be true of one field beside another."""
        for name, why in refusals(self.ruled_as, values):
            self.add_error(name, why)

    def values(self) -> dict[str, Any]:
        """The cleaned values, typed for the columns."""
        return {one.name: self.cleaned_data[one.name] for one in self.described}

    def words_of(self, name: str, value: Any) -> str:
        one = self.fields[name].described
        return with_unit(one, show_value(one, value, self.facts)) or "nothing"
