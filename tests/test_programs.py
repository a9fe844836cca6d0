"""Where programs are looked for, and what happens without them."""

from __future__ import annotations

import pytest

from tests import programs
from tests.namespaces import Lab


def test_a_missing_program_skips_unless_nothing_may_be_skipped(monkeypatch):
    monkeypatch.delenv("DESKWRIGHT_NO_SKIP", raising=False)
    with pytest.raises(pytest.skip.Exception, match="no-such-program is not installed"):
        programs.program("no-such-program")
    monkeypatch.setenv("DESKWRIGHT_NO_SKIP", "yes")
    with pytest.raises(pytest.fail.Exception, match="nothing may be skipped here"):
        programs.program("no-such-program")


def test_administrators_programs_are_found_too():
    assert {"/usr/sbin", "/sbin"} <= set(programs.PLACES.split(":"))


def test_networks_of_our_own_take_root(monkeypatch):
    monkeypatch.setattr("os.geteuid", lambda: 1000)
    monkeypatch.delenv("DESKWRIGHT_NO_SKIP", raising=False)
    with pytest.raises(pytest.skip.Exception, match="take root"):
        Lab()
    monkeypatch.setenv("DESKWRIGHT_NO_SKIP", "yes")
    with pytest.raises(pytest.fail.Exception, match="nothing may be skipped here"):
        Lab()
