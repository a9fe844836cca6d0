"""Units: read what people type, show what they read. Inside, one unit a quantity (see facts)."""

from __future__ import annotations

import re

GIB = 2**30
MINUTES = {
    "min": 1,
    "m": 1,
    "minute": 1,
    "minutes": 1,
    "h": 60,
    "hour": 60,
    "hours": 60,
    "d": 1440,
    "day": 1440,
    "days": 1440,
    "week": 10080,
    "weeks": 10080,
    "s": 1 / 60,
}
MEMORY_GIB = {
    "gib": 1.0,
    "gb": 1.0,
    "g": 1.0,
    "mib": 1 / 1024,
    "mb": 1 / 1024,
    "tib": 1024.0,
    "tb": 1024.0,
}
DISK_GIB = {"gib": 1.0, "gb": 1e9 / GIB, "tib": 1024.0, "tb": 1e12 / GIB, "mib": 1 / 1024}
DISK_GB = {"gb": 1.0, "tb": 1000.0, "gib": GIB / 1e9, "tib": 1024 * GIB / 1e9}
LINE_MBIT_S = {
    "mbit/s": 1.0,
    "mbps": 1.0,
    "gbit/s": 1000.0,
    "gbps": 1000.0,
    "kbit/s": 0.001,
    "g": 1000.0,
    "m": 1.0,
}
_TYPED = re.compile(r"^\s*([0-9][0-9 ,._']*|[.,][0-9]+)\s*([A-Za-z/%]*)\s*$")


def parse_number(text: str) -> tuple[float, str]:
    """Split "1,5 TB" into ``(1.5, "tb")``. A comma or a point may be the decimal sign.

    Raises ``ValueError`` when the text is not one number with an optional unit.
    """
    found = _TYPED.match(text)
    if not found:
        raise ValueError(f"“{text}” is not a number")
    digits = found[1].replace(" ", "").replace("_", "").replace("'", "")
    if "," in digits and "." in digits:  # the one that comes last is the decimal sign
        if digits.rindex(",") < digits.rindex("."):
            thousands = ","
        else:
            thousands = "."
        digits = digits.replace(thousands, "")
    elif re.fullmatch(r"[0-9]{1,3}(,[0-9]{3})+", digits):
        digits = digits.replace(",", "")
    return float(digits.replace(",", ".")), found[2].lower()


def parse(text: str, units: dict[str, float]) -> float:
    """A typed quantity in the first unit of ``units``; a number alone is already in it.

    Raises ``ValueError`` naming the units that are understood.
    """
    number, unit = parse_number(text)
    if not unit:
        return number
    if unit not in units:
        raise ValueError(f"“{unit}” is not understood here; use {', '.join(units)}")
    return number * units[unit]


def show(number: float | None, digits: int = 1) -> str:
    """A number for people: thousands apart, no needless zeros: 1,788 or 2.4."""
    if number is None:
        return ""
    text = f"{number:,.{digits}f}"
    if "." in text:
        return text.rstrip("0").rstrip(".")
    return text


def show_range(low: float | None, high: float | None, unit: str) -> str:
    """What a value may be: ``18 to 27 °C``, ``at most 300 s``; "" for anything."""
    if low is None and high is None:
        return ""
    if low is None:
        return f"at most {show(high, 6)} {unit}"
    if high is None:
        return f"at least {show(low, 6)} {unit}"
    return f"{show(low, 6)} to {show(high, 6)} {unit}"


def show_minutes(minutes: float | None) -> str:
    """A length of time in its largest whole unit: ``8 days``, ``90 min``, ``2.67 days``."""
    if minutes is None:
        return ""
    for size, one, many in ((1440, "day", "days"), (60, "h", "h")):
        if minutes >= size and (minutes % size == 0 or minutes > 2 * size):
            count = minutes / size
            return f"{show(count, 2)} {one if count == 1 else many}"
    return f"{show(minutes)} min"


def show_seconds(seconds: float | None) -> str:
    """A length of time that is not planned but follows: ``49 s``, ``16.5 min``, ``3.2 h``, ``4.1 days``."""
    if seconds is None:
        return ""
    for most, size, word in ((90, 1, "s"), (7200, 60, "min"), (172_800, 3600, "h")):
        if seconds < most:
            return f"{show(seconds / size, 0 if size == 1 else 1)} {word}"
    return f"{show(seconds / 86_400)} days"
