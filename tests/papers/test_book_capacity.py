"""Chapter 8 of the build book: the screen's sections and numbers, every result, and what it rests on."""

from __future__ import annotations

import collections
import dataclasses

import pytest

from planner.catalogue.sections import section
from planner.comparing.summary import capacity_findings, mornings, sentence
from planner.engine.provenance import listed, rests_of
from planner.papers.book.rests import value_words
from planner.plan import Plan
from planner.record import facts as f
from planner.record import units
from sites.pages.extras import CAPACITY
from tests.papers.demo_facts import demo
from tests.papers.test_book import built, entries, told

ROOMS = (
    "placement",
    "concurrency",
    "surge",
    "storage",
    "leases",
    "line",
    "recovery",
    "activation",
    "facility",
    "lifecycles",
)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return Plan(
        dataclasses.replace(
            demo("mill"), assumed=(f.Assumed(key="sessions.line-free-share", value=0.25),)
        )
    )


@pytest.fixture(scope="module")
def book(plan):
    return built(plan.facts)


@pytest.fixture(scope="module")
def sections(book) -> dict[str, str]:
    """The text of each section of chapter 8, by its number."""
    titles = [entry.title for _, entry in entries(book.outline) if entry.title.startswith("8.")]
    ends = [*titles[1:], "9 Addresses and ports"]
    return {
        title.split()[0]: told(book, title, end) for title, end in zip(titles, ends, strict=True)
    }


def test_the_sections_are_the_screen_s(book):
    titles = [entry.title for _, entry in entries(book.outline) if entry.title.startswith("8.")]
    shown = [section(key) for key in CAPACITY]
    assert titles == [f"{one.number} {one.title}" for one in shown] + ["8.11 Assumptions"]


def test_what_each_host_carries_and_the_verdict(plan, book, sections):
    assert sentence(plan) in told(book, "8 Capacity", "8.1 What each host carries")
    for load in plan.placement.hosts:
        row = [
            load.name,
            *(units.show(one) for one in (load.memory_gib, load.own_gib, load.appliance_gib)),
        ]
        assert " ".join([*row, units.show(load.offers_gib), str(load.count)]) in sections["8.1"]
    for down in plan.placement.without:
        assert f"{down.name} yes 0" in sections["8.1"]
    for template in plan.facts.templates:
        assert (
            f"{template.name} {template.most} {plan.placement.more[template.id]}" in sections["8.2"]
        )


def test_people_seats_mornings_and_lines(plan, sections):
    for need in plan.concurrency.by_template:
        numbers = (
            units.show(need.people, 0),
            units.show(need.mean),
            units.show(need.needed, 0),
            str(need.most),
        )
        assert f"{need.name} {' '.join(numbers)} less than 0.01 %" in sections["8.3"]
    for one in mornings(plan):
        waits = [
            units.show_seconds(one.waits.median),
            units.show_seconds(one.waits.p95),
            units.show_seconds(one.waits.p99),
        ]
        row = f"{one.name} {units.show(one.waits.sign_ins, 0)} {' '.join(waits)} {one.standby} {one.smallest}"
        assert f"{row} {one.smallest_down}" in sections["8.4"]
    assert "people waiting for a desktop" in sections["8.4"]  # the drawing
    for line in plan.line.by_network:
        rates = (line.sessions, line.needs_mbit_s, line.usable_mbit_s, line.room_for)
        numbers = " ".join(units.show(one, 1) for one in rates)
        assert f"{line.name} {numbers} {units.show(line.delay_ms)} 150" in sections["8.7"]


def test_disks_and_leases(plan, sections):
    for store in plan.storage.stores:
        assert (
            f"{store.name} {units.show(store.usable_gib, 0)} {units.show(store.planned_gib, 0)}"
            in sections["8.5"]
        )
        assert (
            ", ".join(f"{word} {units.show(gib)}" for word, gib in store.parts) in sections["8.5"]
        )
    for need in plan.leases.by_network:
        name = plan.facts.named("network", need.network_id)
        assert (
            f"{name} {need.needed} {need.scope_size} {need.running} {need.old}" in sections["8.6"]
        )


def test_starting_again_licences_and_the_room(plan, sections):
    cold = plan.recovery.cold_start
    assert (
        f"{units.show_seconds(cold.seconds)}; the first desktop after {units.show_seconds(cold.first_seconds)}"
        in (sections["8.8"])
    )
    worst = plan.recovery.worst_failover
    assert (
        f"One host down, at worst {worst.name}: " in sections["8.8"]
        and f"{worst.built} wait for a new one" in sections["8.8"]
    )
    for one in plan.activation.licences:
        assert f"{one.name} {one.basis} {one.needed} {one.held} {one.short}" in sections["8.9"]
    assert plan.activation.key_server.records[0] in sections["8.9"]
    for image in plan.lifecycles.images:
        assert image.text in sections["8.9"]
    room = plan.facility
    assert (
        f"{units.show(room.watts, 0)} W, {units.show(room.amperes)} A at 230 V" in sections["8.10"]
    )
    assert (
        f"{units.show(room.heat_btu_h, 0)} BTU/h" in sections["8.10"]
        and room.inlet in sections["8.10"]
    )
    for caution in room.cautions:
        assert f"Caution: {caution}" in sections["8.10"]
    for lift in room.lifting:
        assert f"{units.show(lift.weight_kg)} {lift.words}" in sections["8.10"]


def test_every_result_says_what_it_rests_on(plan, sections):
    assert set(ROOMS) == set(listed())
    whole = " ".join(sections.values())
    for room in ROOMS:
        found = rests_of(plan, room)
        for words in (found.entry.facts, found.entry.how, found.entry.source):
            assert " ".join(words.split()) in whole, room
        for number in found.numbers:
            assert value_words(number) in whole, number.key
    assert "share of a link that sessions leave free 25 % (set for this site)" in sections["8.7"]


def test_every_planning_number_is_listed_with_its_origin(plan, sections):
    for one in plan.numbers.all.values():
        first = " ".join(one.name.split()[:3])  # a long name goes on below its value
        rows = [part[:160] for part in sections["8.11"].split(f"{first} ")[1:]]
        assert any(f"{value_words(one)} {one.origin_words}" in row for row in rows), one.key
    assert (
        "Share of a link that sessions leave free 25 % house rule set for this site"
        in sections["8.11"]
    )


def test_findings_about_it_are_named_with_how_many_of_a_kind():
    facts = demo("workshop")
    found = capacity_findings(Plan(facts))
    kinds = collections.Counter(one.key for one in found)
    assert max(kinds.values()) > 1
    page = told(built(facts), "8 Capacity", "8.1 What each host carries")
    for key, count in kinds.items():
        first = next(one for one in found if one.key == key)
        row = page.split(f" {first.title} ", 1)[1]
        more = f"and {count - 1} more of the kind, to note"
        assert more in row[:70] if count > 1 else more not in row[:30]
