"""One form field for each kind of field in planner.record.chapters. A form refuses only what can never be
true; what is merely missing or unwise is a finding."""

from __future__ import annotations

import functools
import ipaddress
import re
import zoneinfo

from dateutil import parser as dates
from django import forms
from django.core.exceptions import ValidationError

from planner.comparing import as_built as built
from planner.record import units
from planner.record.chapters import Field
from planner.record.chapters.brief import PAPERS, PURPOSES
from planner.record.chapters.rest import STAGE_NAMES
from planner.record.facts import KIND_WORDS, SiteFacts
from planner.stages import own
from sites.forms.controls import AnyRecord, Shown, Suggested
from sites.forms.numbers import whole
from sites.forms.secrets import refuse_secret

_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]+")  # Unicode's Cc, Zl and Zp
NO_STEP = "Give the number of a step, such as 3.4."
DAYS_FIRST = {"dayfirst": True, "yearfirst": False}


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


class Quantity(forms.CharField):
    """A number with an optional unit, kept in the field's own unit."""

    def __init__(self, *, one: Field, **kwargs):
        super().__init__(**kwargs)
        self.one = one

    def prepare_value(self, value):
        if isinstance(value, int | float):
            if self.one.kind == "percent":
                return units.show(value * 100, 4).replace(",", "")
            if self.one.kind == "length":
                return units.show_minutes(value).replace(",", "")
            return units.show(value, 6).replace(",", "")
        return value

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        allowed = (
            {"%": 1.0}
            if self.one.kind == "percent"
            else {k.lower(): v for k, v in self.one.units.items()}
        )
        if self.one.unit and not allowed:
            allowed = {self.one.unit.lower(): 1.0}
        try:
            number = units.parse(text, allowed)
        except ValueError as error:
            raise ValidationError(f"{error}.", code="number") from error
        if self.one.kind == "percent":
            number /= 100
        return self.bounded(number)

    def bounded(self, number: float):
        """The number as it is kept. Raises ``ValidationError`` for one that can never be true."""
        low, high = self.one.low, self.one.high
        if (low is not None and number < low) or (high is not None and number > high):
            scale = 100 if self.one.kind == "percent" else 1
            raise ValidationError(
                f"Give a number from {units.show((low or 0) * scale)} to {units.show((high or 0) * scale)}.",
                code="bounds",
            )
        if self.one.kind in ("whole", "length"):
            if self.one.kind == "whole" and number % 1:
                raise ValidationError("Give a whole number.", code="whole")
            return round(number)
        return number


class Day(forms.CharField):
    """A typed date: 2027-01-14, 14 Jan 2027, 14.1.2027."""

    def prepare_value(self, value):
        return value if value is None or isinstance(value, str) else f"{value.day} {value:%b %Y}"

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        try:
            iso = re.match(r"^\d{4}-\d{1,2}-\d{1,2}$", text)
            return dates.parse(text, **({} if iso else DAYS_FIRST)).date()
        except (ValueError, OverflowError, TypeError) as error:
            raise ValidationError(
                "Give a date, such as 14 Jan 2027 or 2027-01-14.", code="date"
            ) from error


class Clock(forms.CharField):
    def prepare_value(self, value):
        return value if value is None or isinstance(value, str) else f"{value:%H:%M}"

    def clean(self, value):
        text = super().clean(value).replace(".", ":")
        if not text:
            return None
        try:
            return (
                dates.parse(text if ":" in text or "m" in text.lower() else f"{text}:00")
                .time()
                .replace(microsecond=0)
            )
        except (ValueError, OverflowError, TypeError) as error:
            raise ValidationError("Give a time of day, such as 07:30.", code="time") from error


class Parsed(forms.CharField):
    """A text that must be of a form; ``read`` gives its canonical spelling or raises ValueError."""

    def __init__(self, *, read, wrong: str, **kwargs):
        super().__init__(**kwargs)
        self.read, self.wrong = read, wrong

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return ""
        try:
            return self.read(text)
        except ValueError as error:
            raise ValidationError(self.wrong, code="form") from error


class Listed(forms.CharField):
    """Several texts, separated by commas or lines."""

    def __init__(self, *, read=str, wrong: str = "", **kwargs):
        super().__init__(**kwargs)
        self.read, self.wrong = read, wrong

    def prepare_value(self, value):
        return ", ".join(value) if isinstance(value, list | tuple) else value

    def clean(self, value):
        found = []
        for part in re.split(r"[,;\n]+", super().clean(value)):
            if part.strip():
                try:
                    found.append(self.read(one_line(part).strip()))
                except ValueError as error:
                    raise ValidationError(f"“{part.strip()}”: {self.wrong}", code="form") from error
        return found


class OneStep(Parsed):
    """A step of the catalogue or the house, by its number or its words; kept as its key."""

    def __init__(self, *, facts: SiteFacts, **kwargs):
        offered = [f"{number} {title}" for number, title in own.named(facts).values()]
        super().__init__(
            read=functools.partial(own.key_named, facts=facts),
            wrong=NO_STEP,
            widget=Suggested(offered),
            max_length=400,
            **kwargs,
        )
        self.facts = facts

    def prepare_value(self, value):
        return own.words_of(value, self.facts) if isinstance(value, str) else value


class SeveralSteps(Listed):
    """Several steps by their numbers; kept as their keys."""

    def __init__(self, *, facts: SiteFacts, **kwargs):
        super().__init__(
            read=functools.partial(own.key_named, facts=facts), wrong=NO_STEP, **kwargs
        )
        self.facts = facts

    def prepare_value(self, value):
        if isinstance(value, list | tuple):
            return ", ".join(own.number_of(key, self.facts) for key in value)
        return value


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


def _port(text: str) -> str:
    found = re.fullmatch(
        r"([0-9]{1,5})(?:\s*-\s*([0-9]{1,5}))?\s*/?\s*(tcp|udp)?", text.strip().lower()
    )
    if not found:
        raise ValueError(text)
    first, last = whole(found[1]), whole(found[2] or found[1])
    if not 1 <= first <= last <= 65535:
        raise ValueError(text)
    span = str(first) if first == last else f"{first}-{last}"
    return f"{span}/{found[3] or 'tcp'}"


def _mac(text: str) -> str:
    digits = re.sub(r"[^0-9A-Fa-f]", "", text)
    if len(digits) != 12 or not re.fullmatch(r"[0-9A-Fa-f:.\- ]+", text):
        raise ValueError(text)
    return ":".join(digits[i : i + 2] for i in range(0, 12, 2)).lower()


def _zone(text: str) -> str:
    found = {name.lower(): name for name in zoneinfo.available_timezones()}.get(text.lower())
    if found is None:
        raise ValueError(text)
    return found


def _prefix(text: str) -> str:
    address, _ = text.split("/")
    network = ipaddress.IPv4Network(text, strict=False)
    return f"{ipaddress.IPv4Address(address)}/{network.prefixlen}"


def _address6(text: str) -> str:
    """In its usual form (RFC 5952). A zone ("%eth0") means something on one machine only (RFC 4007)."""
    if "%" in text:
        raise ValueError(text)
    return str(ipaddress.IPv6Address(text))


PARSED = {
    "address": (
        lambda text: str(ipaddress.IPv4Address(text)),
        "Give an IPv4 address, such as 10.44.1.11.",
    ),
    "address6": (_address6, "Give an IPv6 address, such as 2001:db8::11."),
    "prefix": (_prefix, "Give a subnet with its prefix length, such as 10.44.1.0/24."),
    "prefix6": (
        lambda text: str(ipaddress.IPv6Network(text)),
        "Give an IPv6 prefix, such as 2001:db8:44:1::/64.",
    ),
    "mac": (_mac, "Give a MAC address of six pairs, such as 00:00:5e:00:53:0b."),
    "zone": (_zone, "Give a time zone by its IANA name, such as Europe/Vienna."),
}
LISTED = {
    "addresses": (PARSED["address"][0], "give IPv4 addresses, separated by commas."),
    "names": (str, ""),
    "ports": (_port, "give a port and its transport, such as 8443/tcp or 9000-9010/udp."),
}


# Choices that always have a value: there is no "not known" among them.
ALWAYS_CHOSEN = {tuple(PURPOSES), tuple(PAPERS), tuple(STAGE_NAMES)}


def _choices(one: Field) -> list[tuple[str, str]]:
    blank = [] if tuple(one.choices) in ALWAYS_CHOSEN else [("", "—")]
    return blank + list(one.choices.items())


def form_field(one: Field, facts: SiteFacts, length: int | None) -> forms.Field:
    """The form field for a field of a record; ``length`` is the column's greatest length."""
    common = {"label": one.label, "help_text": one.hint, "required": False}
    match one.kind:
        case "whole" | "number" | "percent" | "length":
            return Quantity(
                one=one, max_length=40, widget=forms.TextInput({"inputmode": "decimal"}), **common
            )
        case "choice":
            required = tuple(one.choices) in ALWAYS_CHOSEN
            return forms.ChoiceField(choices=_choices(one), **{**common, "required": required})
        case "several":
            return Several(choices=list(one.choices.items()), **common)
        case "yes-no":
            return YesNo(**common)
        case "record" | "records":
            found = [(row.id, row.label) for row in facts.records() if row.kind == one.to]
            if one.kind == "records":
                return SeveralRecords(choices=found, **common)
            return OneRecord(choices=[("", "—"), *found], **common)
        case "sites":  # the form of the site offers its customer's others
            return SeveralRecords(
                choices=[(near.id, near.name) for near in facts.neighbours], **common
            )
        case "date":
            return Day(max_length=40, **common)
        case "time":
            return Clock(max_length=20, **common)
        case "email":
            return forms.EmailField(**common)
        case "any-record":
            return AnyRecord(facts=facts, max_length=300, **common)
        case "any-field":
            labels = dict.fromkeys(
                field.label for kind in KIND_WORDS for field in built.fields_of(kind).values()
            )
            return Words(max_length=length or 60, widget=Suggested(sorted(labels)), **common)
        case "step":
            return OneStep(facts=facts, **common)
        case "steps":
            return SeveralSteps(facts=facts, max_length=2000, **common)
        case "planned":
            return forms.CharField(disabled=True, widget=Shown, **common)
        case "long":
            return Words(max_length=length or 20_000, widget=forms.Textarea({"rows": 3}), **common)
    if one.kind in PARSED:
        read, wrong = PARSED[one.kind]
        return Parsed(read=read, wrong=wrong, max_length=64, **common)
    if one.kind in LISTED:
        read, wrong = LISTED[one.kind]
        return Listed(read=read, wrong=wrong, max_length=2000, **common)
    return Words(max_length=length or 200, **common)
