"""Parts of the book: what each holds, and what must not be in it. Acceptance tests, what changed, the on-site day."""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools

import pytest

from planner.comparing.as_built import as_built
from planner.comparing.differences import compare
from planner.papers.book import PARTS, Issue, build_book
from planner.papers.book.notes import Notes
from planner.papers.book.run_sheet import _minutes
from planner.plan import Plan
from planner.record import chapters
from planner.record import facts as f
from planner.stages.day_words import length_words
from tests.papers.demo_facts import demo
from tests.papers.test_book import FULL, PRINTED, SITE_URL, before, built, entries, text_of, told

SLUGS = [part.slug for part in PARTS]
FREE = ("text", "long", "email")


def titles(reader) -> list[str]:
    return [entry.title for level, entry in entries(reader.outline) if level == 0]


def marked(facts: f.SiteFacts) -> tuple[f.SiteFacts, dict[str, list[str]]]:
    """Every text of contacts, credentials, notes, proofs and names of people replaced by a word of its own."""
    numbers = itertools.count(1)
    words: dict[str, list[str]] = {}

    def word(kind: str) -> str:
        words.setdefault(kind, []).append(f"zq{kind}{next(numbers)}qz")
        return words[kind][-1]

    def changed(record: f.Record) -> f.Record:
        values = {"note": word("note")}
        if record.kind in ("contact", "credential"):
            names = [
                one.name
                for one in chapters.fields_of(record.kind).values()
                if one.kind.word in FREE
            ]
            values |= {name: word(record.kind) for name in names if name != "note"}
        if record.kind == "seatgroup" and record.seat_kind == "person":
            values["name"] = word("person")
        return dataclasses.replace(record, **values)

    lists = {}
    for name in f.RECORD_FIELDS:
        value = getattr(facts, name)
        lists[name] = tuple(map(changed, value)) if isinstance(value, tuple) else changed(value)
    answers = tuple(
        dataclasses.replace(one, by=word("by"), proof=word("proof")) for one in facts.answers
    )
    accepted = tuple(
        dataclasses.replace(one, by=word("by"), reason=word("reason")) for one in facts.acceptances
    )
    signed = tuple(dataclasses.replace(one, by=word("by")) for one in facts.signatures)
    site = dataclasses.replace(changed(facts.site), way_in=word("way"))
    return dataclasses.replace(
        facts, site=site, answers=answers, acceptances=accepted, signatures=signed, **lists
    ), words


@pytest.fixture(scope="module")
def secretive() -> tuple[f.SiteFacts, dict[str, list[str]]]:
    person = dataclasses.replace(
        FULL.seat_groups[0], id=901, name="x", seat_kind="person", people=1
    )
    facts = dataclasses.replace(FULL, seat_groups=(*FULL.seat_groups, person))
    # a finding on a network that somebody accepted: its name is printed in the whole book
    token = next(one.token for one in Plan(facts).review.findings if one.chapter == 2)
    accepted = f.Acceptance(
        finding=token, reason="x", look_again=None, by="x", at=dt.datetime(2027, 1, 4, 9)
    )
    return marked(dataclasses.replace(facts, acceptances=(*facts.acceptances, accepted)))


@pytest.fixture(scope="module")
def printed(secretive) -> dict[str, str]:
    """The text of each part, from the same facts."""
    facts, _ = secretive
    issue = Issue(name="B", fingerprint="1111-2222", on=PRINTED, by="zqby0qz", reason="zqwhy0qz")
    return {
        slug: " ".join(
            text_of(
                built(
                    facts,
                    parts=slug,
                    revision_letter="C",
                    reason="zqwhy1qz",
                    issued_on=PRINTED,
                    issued_by="zqby1qz",
                    printed_by="zqby2qz",
                    revisions=[issue],
                    papers=[issue],
                    previous=before(facts),
                    previous_letter="B",
                    site_url=SITE_URL,
                )
            )
        )
        for slug in SLUGS
    }


# -- what is in a part -------------------------------------------------------------------------


def test_parts_are_named_and_explained():
    assert SLUGS == ["whole", "run-sheets", "network", "customer"]
    assert len({part.title for part in PARTS}) == len(PARTS)
    assert all(
        len(part.title) <= 40 and part.holds.endswith(".") for part in PARTS
    )  # a printed paper's name has 40
    with pytest.raises(KeyError):
        build_book(Plan(FULL), printed_on=PRINTED, parts="secrets")


@pytest.mark.parametrize("part", PARTS, ids=SLUGS)
def test_every_part_says_what_it_is_and_of_which_plan(part):
    reader = built(FULL, parts=part.slug, revision_letter="C")
    last = len(reader.pages)
    assert reader.metadata.title == f"{part.title}: Larkfield Vets, Mill Street"
    cover = " ".join(reader.pages[0].extract_text().split())
    assert part.title in cover and (part.slug == "whole" or part.holds in cover)
    for number in (1, 2, 3, last):  # every page of the whole book is looked at elsewhere
        page = " ".join(reader.pages[number - 1].extract_text().split())
        assert (
            f"Revision C Fingerprint {f.fingerprint(FULL)}" in page
            and f"Page {number} of {last}" in page
        )
    assert len(reader.page_labels) == last


@pytest.mark.parametrize(
    ("slug", "wanted"),
    [
        ("run-sheets", ["Contents", "Read first", "People and keys", "10 Stages", "Appendix"]),
        (
            "network",
            [
                "Contents",
                "Read first",
                "2 Networks",
                "9 Addresses and ports",
                "11 Revisions and papers",
                "Appendix",
            ],
        ),
        (
            "customer",
            [
                "Contents",
                "0 Customer",
                "1 Brief",
                "6 Images",
                "7 Desktops and seating",
                "8 Capacity",
                "10 Stages",
                "11 Revisions and papers",
            ],
        ),
    ],
)
def test_a_part_has_its_chapters(slug, wanted):
    assert titles(built(FULL, parts=slug)) == wanted


def test_contents_of_every_part_lead_to_their_pages():
    for slug in SLUGS:
        reader = built(FULL, parts=slug)
        found = [entry for _, entry in entries(reader.outline) if entry.title != "Contents"]
        links = [note.get_object() for page in reader.pages[1:2] for note in page["/Annots"]]
        assert len(links) == len(found), slug


# -- what is not -----------------------------------------------------------------------------------


def test_the_whole_book_has_it_all(printed, secretive):
    _, words = secretive
    for kind in ("contact", "credential", "note", "proof", "by", "reason", "way", "person"):
        assert any(word in printed["whole"] for word in words[kind]), kind
    assert "zqby1qz" in printed["whole"] and "zqwhy0qz" in printed["whole"]


def test_the_network_owner_sees_no_people_and_no_credentials(printed):
    found = {word for word in printed["network"].split() if "zq" in word}
    assert not found
    assert "10.44.1.11" in printed["network"] and "3389/TCP" in printed["network"]
    assert "printer-1" in printed["network"] and "Drawing of the site" in printed["network"]


def test_the_customer_sees_nothing_of_the_inside(printed, secretive):
    facts, words = secretive
    for kind in ("credential", "note", "proof", "reason"):
        assert not [word for word in words[kind] if word in printed["customer"]], kind
    inside = {claim.text for claim in Plan(facts).addressing.claims}
    assert inside and not [address for address in inside if address in printed["customer"]]
    for finding in Plan(facts).review.findings:
        assert finding.why not in printed["customer"]
    assert all(
        word in printed["customer"] for word in words["contact"][:2]
    )  # it is the customer's own list
    assert "Acceptance tests" in printed["customer"] and "For the customer" in printed["customer"]


@pytest.mark.parametrize("name", ["mill", "harbour"])
def test_the_demo_s_customer_part_names_no_address_and_no_account(name):
    facts = demo(name)
    whole = " ".join(text_of(built(facts, parts="customer")))
    for claim in Plan(facts).addressing.claims:
        assert f" {claim.text} " not in whole, claim
    for one in facts.credentials:
        assert one.account not in whole and one.where_kept not in whole
    assert facts.directory.join_account not in whole


def test_run_sheets_say_whom_to_ring_and_where_secrets_are(printed, secretive):
    facts, words = secretive
    for kind in ("contact", "credential"):
        assert all(word in printed["run-sheets"] for word in words[kind]), kind
    stages = Plan(facts).stages
    for one in (*stages.checks.values(), *stages.steps.values()):
        assert " ".join(one.title.split()) in printed["run-sheets"]
    for finding in Plan(facts).review.open("stopper"):  # their notes are not here: their words are
        assert finding.title in printed["run-sheets"] and finding.text in printed["run-sheets"]


def test_a_finding_has_the_same_number_in_every_part():
    whole = Notes(Plan(FULL)).numbers
    for part in PARTS:
        facts = part.reduced(FULL) if part.reduced else FULL
        notes = Notes(Plan(facts), Plan(FULL), part.notes)
        for finding in notes.printed():
            if finding.token in whole:
                assert notes.numbers[finding.token] == whole[finding.token]
    network = Notes(Plan(FULL), Plan(FULL), frozenset(("2.1",)))
    assert {one.chapter for one in network.printed()} == {2}
    assert not Notes(Plan(FULL), Plan(FULL), frozenset()).printed()


# -- what changed ----------------------------------------------------------------------------------


def test_what_changed_is_told_field_by_field():
    old = before(FULL)
    found = compare(old, FULL)
    assert len(found) > 1
    reader = built(FULL, previous=old, previous_letter="B")
    section = told(reader, "11.4 What changed since revision B", "11.5 As it was built")
    assert f"Compared with revision B, fingerprint {f.fingerprint(old)}." in section
    for one in found:
        assert f"{one.chapter} {one.record} ({one.kind}) {one.field or 'the record'}" in section
        assert f"{one.before or 'not there'} {one.after}" in section
    assert "64 GiB 96 GiB" in section and "not there there" in section
    built_section = told(reader, "11.3 Built values", "11.4 What changed since revision B")
    assert (
        "mill-h1 (host) Management address 10.44.1.11 10.44.1.13 it answered already"
        in built_section
    )


def test_nothing_changed_and_nothing_before_are_said():
    same = " ".join(text_of(built(FULL, parts="network", previous=FULL, previous_letter="B")))
    assert (
        f"Nothing that is planned here differs from revision B, fingerprint {f.fingerprint(FULL)}."
        in same
    )
    assert "There is no earlier revision to compare with." in " ".join(
        text_of(built(FULL, parts="network"))
    )


def test_the_network_owner_is_told_only_what_is_theirs():
    whole = " ".join(
        text_of(built(FULL, parts="network", previous=before(FULL), previous_letter="B"))
    )
    section = whole.split("11.4 What changed since revision B")[-1]
    assert "printer-1 (device)" in section and "64 GiB" not in section


# -- acceptance, drift, sign-off -------------------------------------------------------------------


def test_acceptance_tests_are_the_checks_of_the_pilot():
    whole = " ".join(text_of(built(FULL, parts="customer")))
    section = whole.split(" 11.7 Acceptance tests ")[-1].split(" 11.8 Sign-off ")[0]
    stage = Plan(FULL).stages.stage(7)
    assert stage.total > 5 and f"{stage.total} tests" in section
    words = {
        "open": "Open",
        "proven": "Proven",
        "trust": "On trust",
        "excused": "Excused",
        "failed": "Failed",
    }
    for check in stage.checks:
        place = section.split(f" {check.number} ", 1)[1]
        assert " ".join(check.title.split()[:4]) in place and words[check.state] in place
    assert f"{stage.counts['proven']} of {stage.total} proven" in whole


def test_an_answer_for_another_value_is_open_again():
    check = next(one for one in Plan(FULL).stages.checks.values() if one.value)
    answers = (
        f.Answer(
            check=check.key, state="proven", by="T. Holt", proof="seen", value="something else"
        ),
    )
    reader = built(dataclasses.replace(FULL, answers=answers), parts="run-sheets")
    section = told(reader, "10.1 Survey", "10.2 Ground")
    assert (
        check.stage == 1
        and f"Open again: proven for something else, the plan says {check.value} now." in section
    )


def test_the_review_of_what_was_built_is_told():
    """Two hosts at one address: the plan is clean of it, the building is not."""
    other = f.Host(
        id=902, name="mill-h2", network_id=FULL.hosts[0].network_id, address="10.44.1.13"
    )
    facts = dataclasses.replace(FULL, hosts=(*FULL.hosts, other))
    section = told(built(facts), "11.5 As it was built", "11.6 Findings, open and accepted")
    come = {
        one.title
        for one in Plan(as_built(facts)).review.findings
        if "10.44.1.13 is claimed twice" in one.title
    }
    assert come and not come & {one.title for one in Plan(facts).review.findings}
    assert "The review of what was built notes what the plan's does not:" in section
    assert all(title in section for title in come)


# -- run sheets and the day ------------------------------------------------------------------------


def test_who_asks_and_where_a_time_comes_from_is_said():
    asked = dataclasses.replace(
        FULL,
        house_checks=(f.HouseCheck(id=1, name="The sheet hangs there", stage=3),),
        own_steps=(f.OwnStep(id=1, name="Move the tank", stage=3, likely_minutes=20.0),),
        estimates=(
            f.Estimate(step="fix-host", least_minutes=1.0, likely_minutes=2.0, longest_minutes=3.0),
        ),
        step_plans=(f.StepPlan(id=1, step="power-hosts", likely_minutes=9.0),),
    )
    words = (
        "Asked by your house.",
        "Asked at this site alone.",
        "Time by your house.",
        "Time set here.",
    )
    section = told(built(asked, parts="run-sheets"), "10.3 Hosts", "10.4 Service")
    assert all(one in section for one in words)
    plain = told(built(FULL, parts="run-sheets"), "10.3 Hosts", "10.4 Service")
    assert not any(one in plain for one in words)


def test_a_time_set_here_is_the_whole_and_tells_no_wait():
    facts = demo("mill")
    step = next(one for one in Plan(facts).stages.steps.values() if one.wait_minutes)
    key = step.key.partition("@")[0]
    here = dataclasses.replace(facts, step_plans=(f.StepPlan(id=1, step=key, likely_minutes=2.0),))
    found = Plan(here).stages.steps[step.key]
    assert _minutes(found).startswith("about 2 min;") and "wait" not in _minutes(found)


def test_steps_say_their_waits_and_the_day_is_drawn():
    facts = demo("mill")
    steps = [step for step in Plan(facts).stages.steps.values() if step.wait_minutes]
    assert steps
    for step in steps:
        assert f"{length_words(max(step.wait_minutes, 1))} of it a wait" in _minutes(step)
    reader = built(facts, parts="run-sheets")
    section = told(reader, "10.6 Desktops", "10.7 Pilot")
    there = [step for step in steps if step.stage == 6]
    assert there and all(_minutes(step) in section for step in there)
    [cut] = [step for step in Plan(facts).stages.steps.values() if step.key == "test-power-cut"]
    assert _minutes(cut).endswith("; stand by; nothing else runs beside it")
    assert _minutes(cut) in section
    drawing = told(reader, "The on-site day", "10.1 Survey")
    day = Plan(facts).day
    assert all(person.name in drawing for person in day.people) and "work ends" in drawing
    assert all(bar.number in drawing for bar in day.bars)


def test_a_day_that_cannot_be_laid_out_says_why():
    section = told(built(FULL, parts="run-sheets"), "The on-site day", "10.1 Survey")
    assert section.startswith(
        "It is not laid out yet: it needs when work starts (1.2) and when work ends (1.2)."
    )
