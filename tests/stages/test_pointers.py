"""Every “8.4” in the catalogue and on the pages leads to a section that is there and holds what is said beside it."""

from __future__ import annotations

import pathlib
import re
import tomllib
from collections.abc import Iterator

import pytest

from planner.catalogue import files as catalogue
from planner.record.chapters import SECTIONS

ROOT = pathlib.Path(__file__).resolve().parents[2]
POINTER = re.compile(r"(?<![\d.,/])\b(1?\d\.\d{1,2})\b(?![.,]?\d)(?!\s*(?:GiB|kg|cm|%|V\b))")
SENTENCE = re.compile(r"(?<=[.;:])\s+(?=[A-Z“])")
NO_POINTERS = ("source", "seen", "read", "name", "edition", "number", "key", "words", "editions")
ELSEWHERE = {"0.1", "0.2", "0.3", "3.8"}  # the customer's page; a release of Python
SHEET = "3.5"  # of _times.html: a step's number, as an example
# What is said beside a pointer: one of these words at least stands in its sentence, or it points wrong.
SAID = {
    "1.1": "go-live",
    "1.2": "hours",
    "1.3": "aloud|scope|through",
    "1.4": "contact|technician|call|correct|named",
    "2.1": "network|dhcp|range|link|purpose|firewall",
    "2.2": "device|gateway|with its address",
    "3.1": "host|power|weight|template",
    "3.2": "disk|datastore",
    "4.1": "directory|tls",
    "4.2": "server",
    "5.1": "gateway|service|choose|ports|public address|beside the password",
    "5.3": "appliance",
    "5.5": "credential|secret|set each|days|set a new one|set anew|put them|line by line|5.5 is for",
    "6.1": "image|machine|supplier|activat|system|numbers|size",
    "6.2": "application|licences|usual hour",
    "7.1": "template|desktop|reset|read the list",
    "7.2": "people|seat|sign-ins|kbit",
    "8.4": "morning",
    "8.5": "disk|array|gib",
    "8.6": "lease",
    "8.7": "line|delay",
    "8.8": "order|power cut|rebuild",
    "8.10": "lift|people|two|alone|rack|kg",
    "8.11": "assumption|reach|height",
    "9.3": "flow",
    "10.9": "plan|lower",
    "11.3": "built",
    "11.4": "changed",
}


def sections() -> set[str]:
    """Numbers of all sections: of records, of what is worked out, and those that pages write themselves."""
    found = {one.number for one in SECTIONS}
    found |= {one["number"] for one in catalogue.load("sections").values()}
    written = re.compile(r'class="number">(1?\d\.\d{1,2})<')
    for path in (ROOT / "templates").rglob("*.html"):
        found |= set(written.findall(path.read_text(encoding="utf-8")))
    return found


def texts(value: object, name: str = "") -> Iterator[str]:
    if isinstance(value, dict):
        for key, one in value.items():
            yield from texts(one, key)
    elif isinstance(value, str) and name not in NO_POINTERS:
        yield value


def pointers() -> Iterator[tuple[str, str, str]]:
    """File, number, and the sentence that it stands in."""
    for path in sorted((ROOT / "fixtures" / "catalogue").rglob("*.toml")):
        if path.name == "lifecycles.toml":
            continue
        for text in texts(tomllib.loads(path.read_text(encoding="utf-8"))):
            for sentence in SENTENCE.split(text):
                for number in POINTER.findall(sentence):
                    yield str(path.relative_to(ROOT)), number, sentence
    for path in sorted((ROOT / "templates").rglob("*.html")):
        for line in path.read_text(encoding="utf-8").splitlines():
            for number in POINTER.findall(re.sub(r"<[^>]*>|{[%{][^}]*[%}]}", " ", line)):
                yield str(path.relative_to(ROOT)), number, line.strip()


FOUND = list(pointers())
KNOWN = sections()


def test_there_are_pointers_to_look_at():
    assert len(FOUND) > 80 and {"8.4", "8.6", "8.7", "5.5", "1.4"} <= {one[1] for one in FOUND}


@pytest.mark.parametrize(("where", "number", "sentence"), FOUND)
def test_a_pointer_leads_to_a_section_that_is_there(where, number, sentence):
    if number in ELSEWHERE or (number == SHEET and where.endswith("_times.html")):
        return
    assert number in KNOWN, f"{where}: {sentence}"


@pytest.mark.parametrize(
    ("where", "number", "sentence"), [one for one in FOUND if one[0].startswith("fixtures")]
)
def test_what_is_said_beside_it_is_what_the_section_holds(where, number, sentence):
    assert re.search(SAID[number], sentence.casefold()), f"{where}: {number} in “{sentence}”"


# What stood there and led wrong: the leases were in “chapter 2”, the morning and the lines in “chapter 7”.
@pytest.mark.parametrize(
    ("folder", "key", "number"),
    [
        ("checks", "morning-rehearsed", "8.4"),
        ("steps", "rehearse-morning", "8.4"),
        ("steps", "sign-in-from-home", "8.7"),
        ("checks", "scope-fits", "8.6"),
        ("checks", "datastore-space", "8.5"),
        ("steps", "build-array", "8.5"),
        ("steps", "check-datastore", "8.5"),
    ],
)
def test_what_is_worked_out_is_pointed_at_where_it_stands(folder, key, number):
    words = " ".join(texts(catalogue.load(folder)[key]))
    assert number in words and not re.search(r"chapter [27]\b|\b3\.2\b", words)


def test_the_day_points_at_the_contacts():
    text = (ROOT / "templates" / "stages" / "day.html").read_text(encoding="utf-8")
    assert "contacts in 1.4" in text
