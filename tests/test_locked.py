"""What the two commands of the README install: every package with its version and the hashes of its files."""

import pathlib
import re

import pytest

HOME = pathlib.Path(__file__).parents[1]
LOCKED = {"run": "requirements.txt", "tests": "tests/requirements.txt"}
WANTED = re.compile(r"(?P<name>[\w.-]+)(?:\[[\w,]+\])?==(?P<version>[^\s;]+)")


def called(name: str) -> str:
    """A package's name as indexes compare it (PyPA, *Names and normalization*)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def wanted(path: str) -> dict[str, str]:
    """The packages a file of ours names, with those of the file it goes on from."""
    found = {}
    for line in (HOME / path).read_text(encoding="utf-8").splitlines():
        if line.startswith("-r "):
            found |= wanted(str(pathlib.Path(path).parent / line[3:]))
        elif line:
            named = WANTED.match(line)
            assert named, f"{path}: {line} names no version"
            found[called(named["name"])] = named["version"]
    return found


def locked(name: str) -> list[str]:
    text = (HOME / ".locked" / f"{name}.txt").read_text(encoding="utf-8")
    return text.replace("\\\n", " ").splitlines()


@pytest.mark.parametrize("name", LOCKED)
def test_what_is_wanted_is_locked_at_that_version(name):
    there = {called(named["name"]): named["version"] for named in map(WANTED.match, locked(name))}
    assert len(there) > 20
    assert wanted(LOCKED[name]).items() <= there.items(), "run .ci/lock"


@pytest.mark.parametrize("name", LOCKED)
def test_every_locked_package_has_hashes_and_no_index_is_named(name):
    for line in locked(name):
        assert WANTED.match(line), line
        assert re.search(r"--hash=sha256:[0-9a-f]{64}\b", line), line
        assert "://" not in line, line


def test_both_commands_install_what_is_locked():
    commands = [
        line.strip()
        for line in (HOME / "README.md").read_text(encoding="utf-8").splitlines()
        if line.startswith("    python3 -m venv")
    ]
    assert ["-r .locked/run.txt" in commands[0], "-r .locked/tests.txt" in commands[1]] == [
        True
    ] * 2
