"""What a kind of field is: the one place that knows how its values are shown, written, read and bounded."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, ClassVar, Protocol

from planner.record.facts import SiteFacts

NOTHING = "nothing"  # what is known to be left out


class Described(Protocol):
    """What a kind asks of the field that it belongs to; see :class:`planner.record.chapters.base.Field`."""

    @property
    def name(self) -> str: ...
    @property
    def label(self) -> str: ...
    @property
    def unit(self) -> str: ...
    @property
    def units(self) -> Mapping[str, float]: ...
    @property
    def choices(self) -> Mapping[str, str]: ...
    @property
    def low(self) -> float | None: ...
    @property
    def high(self) -> float | None: ...
    @property
    def to(self) -> str: ...


class Kind:
    """A kind of field. The values it speaks of are those of the facts, and never empty.

    ``word`` names it; ``width`` is that of its column in a sheet, in letters; ``shape`` is what the JSON
    Schema of a document says of one item beyond its type, and ``meaning`` its unit there where that is not
    the field's own.
    """

    word: ClassVar[str] = ""
    width: ClassVar[int] = 16
    shape: ClassVar[Mapping[str, str]] = {}
    meaning: ClassVar[str] = ""

    numeric: ClassVar[bool] = False  # an amount
    whole: ClassVar[bool] = False  # kept without a fraction
    bears_unit: ClassVar[bool] = False  # its words bear a unit already
    chosen: ClassVar[bool] = False  # stands in the field's choices
    required: ClassVar[bool] = False  # always has a value
    several: ClassVar[bool] = False  # a tuple of items
    refers: ClassVar[bool] = False  # ids of records of one kind
    ticked: ClassVar[bool] = False  # chosen by boxes to tick
    address: ClassVar[bool] = False  # where something is to be found in a network
    plain: ClassVar[bool] = False  # of a type that says all: nothing more can be asked of its value

    def __str__(self) -> str:
        return self.word

    def __repr__(self) -> str:
        return f"<kind {self.word}>"

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        """A value in words, without the field's unit."""
        return str(value)

    def written(self, field: Described, value: Any, facts: SiteFacts) -> str:
        """A value as text that a person could have typed, with its unit: :meth:`read` gives it back."""
        text = self.show(field, value, facts)
        if field.unit:
            return f"{text} {field.unit}"
        return text

    def read(self, field: Described, text: str, facts: SiteFacts) -> Any:
        """The value that a person typed. Raises ``ValueError`` with a sentence on what may be typed."""
        return text

    def sent(self, field: Described, text: str, facts: SiteFacts) -> str | list[str]:
        """What a browser would send for the text: keys and ids where people say words and names.

        Raises ``ValueError`` as :meth:`read` does.
        """
        return text

    def entered(self, field: Described, value: Any, facts: SiteFacts) -> str:
        """A value as it stands in a control to be typed over."""
        return self.show(field, value, facts)


def parts(text: str) -> list[str]:
    """The items of a text that holds several: separated by commas, semicolons or lines."""
    return [part.strip() for part in re.split(r"[,;\n]+", text) if part.strip()]


def bare(field: Described, text: str) -> str:
    """The text without the field's own unit at its end."""
    unit = field.unit.lower()
    if unit and text.lower().endswith(f" {unit}"):
        return text[: -len(unit)].rstrip()
    return text
