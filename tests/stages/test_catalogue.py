"""The catalogue's checks and steps: whole, all of them used, and refused when they are not whole."""

from __future__ import annotations

import shutil

import pytest

from planner.catalogue import files as catalogue
from planner.catalogue.assumptions import listed
from planner.catalogue.files import CatalogueError
from planner.plan import Plan
from planner.stages import read, validate
from planner.stages.filling import MISSING
from tests.stages.examples import bare, bench, clinic, empty

SITES = {"clinic": clinic, "bench": bench, "empty": empty, "bare": bare}
CHECK = """
[made-up]
stage = 3
chapter = 3
title = "{host.name} stands"
why = "Because."
how = "Look."
proof = "A photo."
wants = "photo"
for = "host"
"""
STEP = """
[made-up-step]
stage = 3
chapter = 3
title = "Put it up"
do = "Lift."
expect = "It stands."
otherwise = "Lift again."
back = "Put it down."
minutes = [1, 2, 3]
attended = true
gives = ["handed-over"]
"""


def test_the_catalogue_is_whole():
    validate()


def test_the_catalogue_is_as_large_as_the_design_asks():
    """Source: the project's own design asks for at least 70 checks and 90 steps."""
    assert len(read().checks) >= 70
    assert len(read().steps) >= 90


@pytest.mark.parametrize("part", ["checks", "steps"])
def test_every_entry_is_shown_by_some_site(part):
    shown = {
        key.partition("@")[0]
        for make_site in SITES.values()
        for key in getattr(Plan(make_site()).stages, part)
    }
    assert set(getattr(read(), part)) - shown == set()


def test_every_check_is_settled_by_a_step():
    settled = {key for step in read().steps.values() for key in step.settles}
    assert set(read().checks) - settled == set()


def test_a_whole_site_leaves_no_value_open():
    """Both made-up sites know everything their checks and steps speak of."""
    for make_site in (clinic, bench):
        stages = Plan(make_site()).stages
        for one in (*stages.checks.values(), *stages.steps.values()):
            texts = [getattr(one, name) for name in type(one).__dataclass_fields__]
            assert not any(isinstance(text, str) and MISSING in text for text in texts), one
            assert not any(isinstance(text, str) and "{" in text for text in texts), one


def test_work_that_can_hurt_bears_a_caution():
    steps = read().steps
    for key in (
        "carry-host",
        "fix-host",
        "power-hosts",
        "build-array",
        "install-hypervisor",
        "make-join-account",
        "allow-sign-in",
        "set-scope",
        "take-host-down",
        "restore-service",
        "settle-old-machines",
        "seal-image",
    ):
        assert "caution" in steps[key].texts, key
    for key in (
        "host-lifted",
        "power-holds",
        "room-cool",
        "host-stands",
        "server-restorable",
        "host-load-restorable",
    ):
        assert "caution" in read().checks[key].texts, key
    lifted = Plan(clinic()).stages.steps
    assert any("NIOSH" in one.source for one in lifted.values())
    assert "licensed electrician" in lifted["power-hosts"].caution


def test_what_takes_down_or_loads_everything_runs_alone():
    """The service, a host, or all power is down, or all hosts are loaded on purpose; common practice, no source."""
    assert {key for key, one in read().steps.items() if one.alone} == {
        "test-power-cut",
        "rehearse-morning",
        "take-host-down",
        "switch-off-appliance",
    }
    steps = Plan(clinic()).stages.steps
    assert steps["test-power-cut"].alone and not steps["restore-service"].alone


# -- Refused -------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A copy of the catalogue to spoil."""
    for part in ("checks", "steps"):
        shutil.copytree(catalogue.FOLDER / part, tmp_path / part)
    shutil.copy(catalogue.FOLDER / "states.toml", tmp_path)
    monkeypatch.setattr(catalogue, "FOLDER", tmp_path)
    yield tmp_path
    monkeypatch.undo()
    catalogue.load.cache_clear()


def spoil(folder, part: str, text: str) -> None:
    (folder / part / "9-more.toml").write_text(text, encoding="utf-8")


def test_an_added_entry_is_taken(folder):
    spoil(folder, "checks", CHECK)
    spoil(folder, "steps", STEP)
    validate()


def test_a_check_may_say_what_a_value_may_be(folder):
    spoil(
        folder, "checks", CHECK.replace('"photo"', '"value"\nunit = "kg"\nlow = 0\nhigh = 23.5', 1)
    )
    validate()


def test_the_ranges_of_the_catalogue_are_those_of_their_sources():
    """Source: ASHRAE TC 9.9 Thermal Guidelines (recommended inlet 18 to 27 °C); RFC 4120 section 8.2
    (recommended clock skew five minutes between two parties, so half of it each). Both from memory."""
    checks = read().checks
    assert {
        key: (one.low, one.high, one.unit) for key, one in checks.items() if one.high is not None
    } == {"room-cool": (18, 27, "°C")}
    assert {key for key, one in checks.items() if one.high_from == "clock-seconds"} == {
        "clocks-agree",
        "host-clock",
        "service-clock",
    }
    assert 2 * listed()["clock.proof-seconds"].high == 5 * 60
    assert all(checks[key].source for key in ("room-cool", "clocks-agree", "host-clock"))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('for = "host"', 'for = "host"\nwhen = ["has-wings"]', "has-wings"),
        ('for = "host"', 'for = "host"\nwhen = ["template-resets"]', "template-resets"),
        ('for = "host"', 'when = ["host-works"]', "host-works"),
        ('for = "host"', 'for = "barn"', "barn"),
        ("{host.name}", "{host.colour}", "{host.colour}"),
        ("{host.name}", "{image.name}", "{image.name}"),
        ("{host.name}", "{nonsense}", "{nonsense}"),
        ("{host.name}", "{host.name.upper}", "host.name.upper"),
        ("{host.name}", "{host.name!r}", "host.name"),
        ("{host.name}", "{host[0]}", "host[0]"),
        ("{host.name}", "{host.name", "expected '}'"),
        ('why = "Because."', 'why = "  "', "“why” is missing"),
        ('proof = "A photo."', "", "“proof” is missing"),
        ("stage = 3", "stage = 9", "no stage 9"),
        ("stage = 3", "", "stage"),
        ("chapter = 3", "chapter = 14", "no chapter 14"),
        ('wants = "photo"', 'wants = "poem"', "poem"),
        ('wants = "photo"', 'wants = "photo"\nwho = "cat"', "cat"),
        ('wants = "photo"', 'wants = "photo"\ncolour = "red"', "colour"),
        ('for = "host"', 'for = "host"\nwhen = "host-works"', "“when” is no list"),
        ('wants = "photo"', 'wants = "photo"\nunit = "s"', "beside a wanted value"),
        ('wants = "photo"', 'wants = "value"\nunit = 3', "beside a wanted value"),
        ('wants = "photo"', 'wants = "value"\nlow = 3', "need a “unit”"),
        ('wants = "photo"', 'wants = "value"\nunit = "s"\nlow = 3\nhigh = 2', "the smaller first"),
        ('wants = "photo"', 'wants = "value"\nunit = "s"\nlow = "3"', "the smaller first"),
        ('wants = "photo"', 'wants = "value"\nunit = "s"\nhigh = true', "the smaller first"),
        ('wants = "photo"', 'wants = "value"\nunit = "s"\nhigh = inf', "the smaller first"),
    ],
)
def test_a_check_that_is_not_whole_is_refused(folder, old, new, said):
    assert old in CHECK
    spoil(folder, "checks", CHECK.replace(old, new, 1))
    with pytest.raises(CatalogueError, match="made-up") as refused:
        validate()
    assert "9-more.toml" in str(refused.value)
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("attended = true", 'attended = true\nafter = ["no-such-step"]', "no-such-step"),
        ("attended = true", 'attended = true\nafter = ["sign-handover"]', "later stage"),
        ("attended = true", 'attended = true\nafter = ["made-up-step"]', "after itself"),
        ("attended = true", 'attended = true\nsettles = ["no-such-check"]', "no-such-check"),
        ("attended = true", 'attended = true\nsettles = ["scope-agreed"]', "scope-agreed"),
        ("attended = true", 'attended = true\nsettles = ["room-cool"]', "another step"),
        ("attended = true", 'attended = true\nneeds = "powered"', "“needs” is no list"),
        ("attended = true", 'attended = true\nneeds = ["wings"]', "“wings”, which is not known"),
        ("attended = true", 'attended = true\nneeds = ["review-set"]', "later stage"),
        ('gives = ["handed-over"]', "", "gives no state"),
        ('gives = ["handed-over"]', 'gives = ["wings"]', "“wings”, which is not known"),
        ('["handed-over"]', '["review-set"]\nstate = 1', "state"),
        ('["handed-over"]', '["supply-heard"]\nsettles = ["room-cool"]', "another step"),
        (
            'gives = ["handed-over"]',
            'gives = ["host-free", "handed-over"]\ntakes = ["host-free"]',
            "takes “host-free” while “set-out-of-band” may rely on it",
        ),
        (
            'gives = ["handed-over"]',
            'gives = ["handed-over", "room-seen"]\nneeds = ["host-stands"]',
            "after itself",
        ),
        ("attended = true", 'attended = true\nwait = "a-bus"', "a-bus"),
        ("attended = true", 'attended = "yes"', "attended"),
        ("attended = true", "", "attended"),
        ("attended = true", 'attended = true\nalone = "yes"', "alone is true or false"),
        ("attended = true", "attended = true\nalone = 1", "alone is true or false"),
        ("[1, 2, 3]", "[3, 2, 1]", "minutes"),
        ("[1, 2, 3]", "[1, 2]", "minutes"),
        ("[1, 2, 3]", "[0, 2, 3]", "minutes"),
        ("[1, 2, 3]", '["1", 2, 3]', "minutes"),
        ('back = "Put it down."', "", "“back” is missing"),
    ],
)
def test_a_step_that_is_not_whole_is_refused(folder, old, new, said):
    assert old in STEP
    spoil(folder, "steps", STEP.replace(old, new, 1))
    with pytest.raises(CatalogueError) as refused:
        validate()
    assert "9-more.toml" in str(refused.value)
    assert said in str(refused.value)


def test_a_circle_of_steps_is_refused_with_its_way_round(folder):
    first = STEP.replace("attended = true", 'attended = true\nafter = ["third"]').replace(
        "made-up-step", "first"
    )
    second = STEP.replace("attended = true", 'attended = true\nafter = ["first"]').replace(
        "made-up-step", "second"
    )
    third = STEP.replace("attended = true", 'attended = true\nafter = ["second"]').replace(
        "made-up-step", "third"
    )
    spoil(folder, "steps", first + second + third)
    with pytest.raises(CatalogueError, match="first after third after second after first"):
        validate()


def test_a_key_that_stands_twice_is_refused(folder):
    spoil(folder, "checks", CHECK.replace("made-up", "scope-agreed"))
    with pytest.raises(CatalogueError, match="stands twice"):
        validate()
