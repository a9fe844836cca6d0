"""The styles: layers, colours that stand in one place, and their contrast."""

import pathlib
import re

import pytest

from sites.web.static_files import RUN_STYLES, STYLES
from tests.starts import ROOT

CSS = ROOT / "static/css"
LAYERS = ("tokens", "base", "parts", "pages", "print")
LAYER_OF = {"frame.css": "parts", "run.css": "pages"}  # the others are named after theirs
LONGEST_LINE = 120
COLOUR = re.compile(r"#[0-9a-f]{3,8}\b|\b(?:rgba?|hsla?|hwb|lab|lch|oklab|oklch|color)\(", re.I)
NAMED = re.compile(r"\b(?:white|black|red|green|blue|gr[ae]y|yellow|orange|brown|purple|pink)\b")

TEXTS = ("ink", "soft", "line", "pencil", "stopper", "concern", "proven")
GROUNDS = ("desk", "paper", "band")
OUTLINES = ("edge", "line", "ink", "stopper", "pencil", "concern", "proven")
FILLED = (("on-line", "line"), ("paper", "ink"))  # words on a button, words on the band above
TEXT_LEAST = 4.5  # WCAG 2.2, success criterion 1.4.3
OUTLINE_LEAST = 3.0  # WCAG 2.2, success criterion 1.4.11; focus, too


def files() -> list[pathlib.Path]:
    return sorted(CSS.glob("*.css"))


def without_comments(path: pathlib.Path) -> str:
    return re.sub(r"/\*.*?\*/", "", path.read_text(), flags=re.DOTALL)


# -- how they are written ------------------------------------------------------------------------


def test_every_file_is_named():
    assert {f"css/{path.name}" for path in files()} == {*STYLES, *RUN_STYLES}


def test_the_order_of_layers_is_said_first():
    assert STYLES[0] == "css/tokens.css"
    first = without_comments(CSS / "tokens.css").strip().splitlines()[0]
    assert first == f"@layer {', '.join(LAYERS)};"


@pytest.mark.parametrize("path", files(), ids=lambda path: path.name)
def test_a_file_stands_in_one_layer(path):
    """What stands outside of all layers would win over everything in them."""
    layer = LAYER_OF.get(path.name, path.stem)
    text = without_comments(path).replace(f"@layer {', '.join(LAYERS)};", "").strip()
    assert layer in LAYERS
    assert text.startswith(f"@layer {layer} {{\n") and text.endswith("\n}")
    inside = text.splitlines()[1:-1]
    assert all(not line or line.startswith("  ") for line in inside)
    assert "!important" not in text  # layers settle who wins


@pytest.mark.parametrize("path", files(), ids=lambda path: path.name)
def test_a_file_can_be_read(path):
    lines = path.read_text().splitlines()
    assert lines[0].startswith("/* ")
    assert max(len(line) for line in lines) <= LONGEST_LINE
    assert [line for line in lines if line.count(": ") > 1 and line.count(";") > 1] == []
    first_rule = next(at for at, line in enumerate(lines) if line.startswith("  "))
    assert lines[first_rule].strip().startswith("/* -- ") or path.name == "print.css"


@pytest.mark.parametrize("path", files(), ids=lambda path: path.name)
def test_colours_stand_in_the_tokens(path):
    values = re.findall(r":\s([^;{}]+);", without_comments(path))
    found = [value for value in values if COLOUR.search(value) or NAMED.search(value)]
    assert bool(found) == (path.name == "tokens.css"), found


# -- contrast ------------------------------------------------------------------------------------


def scheme(name: str) -> dict[str, str]:
    """The colours by day, in the dark, or on paper; where nothing else is said, as by day."""
    text = without_comments(CSS / "tokens.css")
    day, dark = text.split("@media (prefers-color-scheme: dark)")
    dark, paper = dark.split("@media print")
    parts = {"light": day, "dark": dark, "print": paper}
    token = re.compile(r"--([\w-]+): (#[0-9a-f]+);")
    return dict(token.findall(day)) | dict(token.findall(parts[name]))


def channels(colour: str) -> list[float]:
    digits = colour.removeprefix("#")
    if len(digits) == 3:
        digits = "".join(digit * 2 for digit in digits)
    return [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]


def luminance(colour: str) -> float:
    """Relative luminance, 0 to 1. Source: WCAG 2.2, definition of relative luminance
    (https://www.w3.org/TR/WCAG22/#dfn-relative-luminance)."""
    linear = []
    for channel in channels(colour):
        if channel <= 0.04045:
            linear.append(channel / 12.92)
        else:
            linear.append(((channel + 0.055) / 1.055) ** 2.4)
    red, green, blue = linear
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """1 to 21. Source: WCAG 2.2, definition of contrast ratio
    (https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio)."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#fff", "#000", 21.0),
        ("#fff", "#fff", 1.0),
        ("#777", "#fff", 4.48),  # the grey that just fails, and the one that just passes
        ("#767676", "#fff", 4.54),
        ("#00f", "#fff", 8.59),
    ],
)
def test_the_formula(one, other, ratio):
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)
    assert contrast(other, one) == contrast(one, other)


def too_weak(name: str, pairs, least: float) -> list[tuple[str, str, float]]:
    colours = scheme(name)
    found = []
    for front, ground in pairs:
        ratio = contrast(colours[front], colours[ground])
        if ratio < least:
            found.append((front, ground, round(ratio, 2)))
    return found


@pytest.mark.parametrize("name", ["light", "dark", "print"])
def test_texts_can_be_read(name):
    pairs = [(text, ground) for text in TEXTS for ground in GROUNDS]
    assert too_weak(name, [*pairs, *FILLED], TEXT_LEAST) == []


@pytest.mark.parametrize("name", ["light", "dark", "print"])
def test_outlines_and_the_keyboards_place_can_be_seen(name):
    pairs = [(outline, ground) for outline in OUTLINES for ground in GROUNDS]
    assert too_weak(name, pairs, OUTLINE_LEAST) == []


def test_what_is_worn_is_what_is_measured():
    """Every colour that a style gives to words, and every ground, is one of those above."""
    text = "\n".join(without_comments(path) for path in files())
    worn = set(re.findall(r"[\s;{]color: var\(--([\w-]+)\);", text))
    grounds = set(re.findall(r"background(?:-color)?: var\(--([\w-]+)\);", text))
    assert worn == {*TEXTS, *(front for front, _ in FILLED)}
    # rule: the empty part of a bar, beside its words; camera: around a picture
    assert grounds == {*GROUNDS, *(ground for _, ground in FILLED), "rule", "camera"}


@pytest.mark.parametrize("name", ["dark", "print"])
def test_every_colour_is_said_anew(name):
    """A colour of the day that was forgotten would shine in the dark."""
    text = (CSS / "tokens.css").read_text()
    start = {"dark": "prefers-color-scheme: dark", "print": "@media print"}[name]
    part = text.split(start)[1].split("@media")[0]
    said = set(re.findall(r"--([\w-]+): #", part))
    assert said == set(scheme("light")) - {"camera"}
