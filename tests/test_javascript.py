"""The house's JavaScript: its unit tests by Node's own runner, and what holds for all modules."""

import collections
import re

import pytest

from sites.web.static_files import joined, with_imports
from tests.programs import run
from tests.starts import ROOT

MODULES = ROOT / "static/js"
ENTRIES = ("js/deskwright.js", "js/run.js", "js/sign-out.js", "js/run-worker.js")
MOST_LINES = 200
LONGEST_LINE = 100
TOP_LEVEL = re.compile(r"^(?:async )?(?:function|const|let|class) (\w+)", re.MULTILINE)


def sources() -> dict[str, str]:
    return {path.name: path.read_text() for path in sorted(MODULES.glob("*.js"))}


def test_unit_tests():
    scripts = sorted((ROOT / "tests/js").glob("*.test.mjs"))
    assert scripts
    ran = run("node", "--test", "--test-reporter=tap", *scripts)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    passed = re.search(r"^# pass (\d+)$", ran.stdout, re.MULTILINE)
    assert int(passed[1]) > len(scripts)


def test_every_module_is_asked_for():
    """By a page or by the worker; what nobody asks for is not served."""
    assert {name.removeprefix("js/") for name in with_imports(*ENTRIES)} == set(sources())


@pytest.mark.parametrize("name", sources())
def test_a_module_is_one_thought(name):
    lines = sources()[name].splitlines()
    assert len(lines) < MOST_LINES
    assert max(len(line) for line in lines) <= LONGEST_LINE


@pytest.mark.parametrize("name", sources())
def test_a_module_hangs_nothing_on_the_window(name):
    assert not re.search(r"\b(?:window|self|globalThis)\.\w+ = ", sources()[name])


def test_the_worker_is_one_program():
    """No browser needs to know modules for it, and no name in it is given twice."""
    program = joined("js/run-worker.js")
    ran = run("node", "--check", "-", given=program)
    assert ran.returncode == 0, ran.stderr
    assert not re.search(r"^(?:import|export)\b", program, re.MULTILINE)
    names = collections.Counter(TOP_LEVEL.findall(program))
    assert {"judge", "findCopy", "sheetOf"} <= set(names)
    assert [name for name, count in names.items() if count > 1] == []


@pytest.mark.parametrize("name", with_imports("js/run-worker.js"))
def test_what_is_joined_is_imported_by_its_own_name(name):
    """``joined`` takes the lines of imports away: the name must be the same on both sides."""
    source = sources()[name.removeprefix("js/")]
    for found in re.findall(r"^import ([^;]*) from ", source, re.MULTILINE):
        assert re.fullmatch(r"\{[\w\s,]+\}", found) and " as " not in found
    assert not re.search(r"^export (?:default|\{|\*)", source, re.MULTILINE)
