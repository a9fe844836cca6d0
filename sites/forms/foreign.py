"""Values that did not come through a form: each must be one that the form of its field would have taken."""

from __future__ import annotations

import dataclasses
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from planner.catalogue import assumptions
from planner.comparing import as_built as built
from planner.record import kinds
from planner.record.chapters import Field, fields_of
from planner.record.facts import RECORD_FIELDS, Answer, Assumed, Record, SiteFacts
from planner.secrets_typed import finds
from sites.forms.assumptions import CHOSEN
from sites.forms.fields import form_field
from sites.forms.records import length_of
from sites.forms.secrets import LEFT_OUT, Asked, ask
from sites.forms.stages import NOTE


class Tidier:
    """Takes the values of foreign facts as the forms would; ``left_out`` says which could not be taken, and why.

    ``ticked`` is what the box “These are no secrets” sent; ``asked`` what looks like one.
    """

    def __init__(self, facts: SiteFacts, ticked: str = ""):
        self.facts, self.ticked, self.asked = facts, ticked, Asked()
        self.left_out: list[str] = []
        self._fields: dict[tuple[str, str], forms.Field] = {}

    def tidied(self) -> SiteFacts:
        lists: dict[str, Any] = {"site": self._record(self.facts.site)}
        for name in RECORD_FIELDS:
            found = getattr(self.facts, name)
            lists[name] = (
                tuple(map(self._record, found)) if isinstance(found, tuple) else self._record(found)
            )
        assumed = tuple(one for one in self.facts.assumed if self._possible(one))
        answers = tuple(map(self._answer, self.facts.answers))
        if finds(self.facts.customer):
            customer = ""
        else:
            customer = self.facts.customer
        return dataclasses.replace(
            self.facts, **lists, assumed=assumed, answers=answers, customer=customer
        )

    def _ask(self, text: str, where: str) -> None:
        """Raises ``ValidationError`` for a text that looks like a secret and of which nobody said that it is none."""
        asked = ask(text, where, self.ticked)
        self.asked.add(asked)
        if asked.refused:
            raise ValidationError(asked.words)

    def _answer(self, answer: Answer) -> Answer:
        """An answer without what looks like a secret; whose check bears one is nobody's here."""
        kept = answer.proof
        try:
            self._ask(answer.proof, NOTE)
        except ValidationError as error:
            kept = LEFT_OUT
            self._leave("Answers", error)
        check, by = ("" if finds(text) else text for text in (answer.check, answer.by))
        return dataclasses.replace(answer, check=check, by=by, proof=kept)

    def _record(self, record: Record) -> Any:
        changed = {}
        for name, field in fields_of(record.kind).items():
            value = getattr(record, name)
            if value in (None, "", ()) or field.kind.plain:
                continue
            try:
                kept = self._value(record.kind, field, value)
            except ValidationError as error:
                kept = getattr(type(record)(), name)
                self._leave(f"{record.label}, {field.label}", error)
            if kept != value:
                changed[name] = kept
        if changed:
            return dataclasses.replace(record, **changed)
        return record

    def _value(self, kind: str, one: Field, value: Any) -> Any:
        field = self._field(kind, one)
        if not (one.kind.chosen or one.kind.numeric):
            self._ask(
                value if isinstance(value, str) else ", ".join(map(str, _several(value))),
                f"{kind}.{one.name}",
            )
        if isinstance(one.kind, kinds.Amount):
            return self._bounded(one, one.kind, value)
        if one.kind is kinds.ANY_RECORD:
            if built.record_of(value, self.facts) is None:
                raise ValidationError("This record is not in the file.")
            return value
        if isinstance(one.kind, kinds.Choice):
            return field.clean(str(value))
        if one.kind is kinds.SEVERAL:
            return tuple(field.clean(list(value)))
        if one.kind.several:
            return tuple(field.clean(", ".join(value)))
        return field.clean(value)

    def _bounded(self, one: Field, kind: kinds.Amount, value: float) -> float:
        try:
            kind.bounded(one, value)
        except ValueError as error:
            raise ValidationError(str(error), code="bounds") from error
        return value

    def _field(self, kind: str, one: Field) -> forms.Field:
        if (kind, one.name) not in self._fields:
            made = self._fields[kind, one.name] = form_field(one, self.facts, length_of(kind, one))
            made.asked_by_form = True  # it is asked above
        return self._fields[kind, one.name]

    def _possible(self, own: Assumed) -> bool:
        """Whether a planning number is one that could be set here."""
        base = assumptions.listed().get(own.key)
        try:
            if base is None:
                raise ValidationError("This planning number is not known here.")
            if not base.low <= own.value <= base.high:
                raise ValidationError(f"Give a number from {base.low:g} to {base.high:g}.")
            if own.origin not in CHOSEN:
                raise ValidationError(f"“{own.origin[:40]}” is not known here.")
            self._ask(own.note, "assumed.note")
        except ValidationError as error:
            self._leave(f"Planning number {base.name if base else own.key[:80]}", error)
            return False
        return True

    def _leave(self, what: str, error: ValidationError) -> None:
        self.left_out.append(f"{what[:200]}: {' '.join(error.messages)}")


def _several(value: Any) -> tuple:
    if isinstance(value, tuple):
        return value
    return ()
