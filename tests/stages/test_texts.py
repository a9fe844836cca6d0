"""What checks and steps say at the demo sites and at sites of which little is known: sentences that read well."""

from __future__ import annotations

import re

import pytest

from planner.plan import Plan
from planner.stages import read
from planner.stages.filling import MISSING
from tests.papers.demo_facts import SITES, demo
from tests.stages.examples import bare, bench, clinic, empty

MADE_UP = {"clinic": clinic, "made-up bench": bench, "empty": empty, "bare": bare}
NAMED = ("title", "value_name")  # no sentences: they end without a full stop
SENTENCES = ("why", "how", "proof", "do", "expect", "otherwise", "back", "caution")
# What stands twice and is right: names that the made-up sites give, and a name typed by somebody.
UNIT_WORDS = "units|desktops|disks|spares|people|digits|hosts|cores|lines|accounts|seconds|networks|sign-ins|machines"
PATTERNS = {
    "a doubled word": re.compile(r"\b([A-Za-z]{2,})[ ,;]+\1\b"),
    "one of many": re.compile(rf"(?<![\w.,:/-])1 (?:[a-z]+ )?(?:{UNIT_WORDS})\b"),
    "none as a number": re.compile(rf"(?<![\w.,:/-])0 (?:[a-z]+ )?(?:{UNIT_WORDS})\b"),
    "two blanks": re.compile(r"  |^ | $|\n"),
    "a list that ends nowhere": re.compile(r"[,;:] ?[.,;:)]|\( ?\)|“”"),
    "a blank before a mark": re.compile(r" [.,;:!?)]"),
    "two full stops": re.compile(r"\.\."),
    "an address of no name": re.compile(
        rf"https://(?!\S)|https://(?:the|not) |\b(?:a|an|the|of) {MISSING}"
    ),
    "brackets in brackets": re.compile(rf"\({MISSING}\) \({MISSING}\)|\(\("),
    "a placeholder": re.compile(r"[{}|]"),
}


def site(name: str):
    return MADE_UP[name]() if name in MADE_UP else demo(name)


def said(name: str) -> list[tuple[str, str, str]]:
    """Every text of every check and step of a site: its key, what it is, and its words."""
    stages = Plan(site(name)).stages
    found = [*stages.checks.values(), *stages.steps.values()]
    return [
        (one.key, text, getattr(one, text, ""))
        for one in found
        for text in (*NAMED, *SENTENCES)
        if getattr(one, text, "")
    ]


@pytest.mark.parametrize("name", [*SITES, *MADE_UP])
def test_texts_read_well_with_a_sites_own_values(name):
    texts = said(name)
    assert len(texts) > 400
    wrong = [
        (what, key, field, text)
        for key, field, text in texts
        for what, pattern in PATTERNS.items()
        if pattern.search(text)
    ]
    assert wrong == []
    unclosed = [
        text
        for _, _, text in texts
        if any(text.count(a) != text.count(b) for a, b in ("()", "“”", "[]"))
    ]
    assert unclosed == []


@pytest.mark.parametrize("name", [*SITES, *MADE_UP])
def test_sentences_end_with_a_full_stop_and_begin_with_a_capital(name):
    for key, field, text in said(name):
        if field in SENTENCES:
            assert text[-1] in ".?!", (key, field, text)
            assert not text.startswith(("a ", "the ", "its ", MISSING)), (key, field, text)
        elif field == "title" and not key.startswith(
            "supplier-wishes-done"
        ):  # its end is what somebody typed
            assert text[-1] not in ".,;:", (key, field, text)


@pytest.mark.parametrize(
    ("pattern", "text"),
    [
        ("a doubled word", "through through a gateway"),
        ("one of many", "in 1 hosts"),
        ("one of many", "1 rack units"),
        ("none as a number", "0 desktops"),
        ("two blanks", "a  b"),
        ("a list that ends nowhere", "ring them: ."),
        ("a list that ends nowhere", "the hosts ()"),
        ("an address of no name", f"https://the entry name ({MISSING})"),
        ("an address of no name", f"the {MISSING}"),
        ("a placeholder", "{host.name}"),
        ("two full stops", "driver.."),
    ],
)
def test_the_patterns_find_what_they_are_for(pattern, text):
    assert PATTERNS[pattern].search(text)


@pytest.mark.parametrize(
    "text",
    ["at 10.0.0.1, hosts follow", "desktops on 10.44.1.0 networks", "11 desktops", "10 hosts"],
)
def test_the_patterns_leave_what_is_right(text):
    assert not [what for what, pattern in PATTERNS.items() if pattern.search(text)]


def test_a_new_sites_titles_say_of_what_nothing_is_known():
    titles = {one.key: one.title for one in Plan(empty()).stages.checks.values()}
    assert (
        titles["signed-by-both"]
        == f"The decision maker ({MISSING}) and the lead have signed the handover"
    )
    assert titles["entry-name-resolves"].startswith(
        f"The entry name ({MISSING}) resolves to the service's address"
    )


def test_work_on_what_people_use_bears_a_caution():
    """Common practice, no source: lifting, mains power, static, heat, live systems, data and shared directories."""
    steps, checks = read().steps, read().checks
    for key in (
        "look-at-room",
        "restore-server",
        "restore-host-load",
        "send-port-sheet",
        "make-network",
        "set-scope",
        "enter-host-name",
        "enter-entry-name",
        "point-desktop-dns",
        "compare-clocks",
        "make-unit",
        "try-flows",
        "try-outside",
        "unpack-host",
        "test-power-cut",
        "warm-up-room",
        "raise-firmware",
        "change-host-secret",
        "check-datastore",
        "share-store",
        "make-label",
        "set-host-clock",
        "connect-hosts",
        "back-up-service",
        "copy-source",
        "join-image",
        "clean-image",
        "seal-image-alone",
        "compare-images",
        "tidy-desktops",
        "try-reset",
        "cut-line",
        "rehearse-morning",
        "switch-off-appliance",
        "change-secrets",
        "start-watching",
        "start-backups",
        "show-administrators",
    ):
        assert "caution" in steps[key].texts, key
    for key in (
        "power-cut-survived",
        "room-cool",
        "flows-open",
        "host-down-survived",
        "appliance-down-survived",
        "service-restored",
        "watching-runs",
        "backup-runs",
        "reset-works",
    ):
        assert "caution" in checks[key].texts, key


@pytest.mark.parametrize("key", ["power-hosts", "look-at-room"])
def test_mains_power_is_left_to_the_local_code_and_a_licensed_electrician(key):
    caution = "".join(map(str, read().steps[key].texts["caution"].parts))
    assert "licensed electrician" in caution and "local" in caution and "code" in caution
