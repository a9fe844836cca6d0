"""The catalogue is whole, and what is not is said at the start."""

import pytest
from django.core.checks import run_checks

from planner import catalogue_check as whole
from planner import review
from planner.catalogue import files as catalogue
from planner.review import base


def test_the_catalogue_is_whole():
    assert whole.faults() == []


def test_a_rule_without_words_is_named_at_the_start(monkeypatch):
    monkeypatch.setitem(base.RULES, "no-words-for-this", lambda plan: iter(()))
    assert whole.faults() == ["findings: the rule no-words-for-this has no entry"]
    assert [one.id for one in run_checks() if one.id.startswith("sites.")] == ["sites.E001"]


def test_words_without_a_rule_are_named(monkeypatch):
    key = next(iter(review.RULES))
    monkeypatch.delitem(base.RULES, key)
    assert whole.faults() == [f"findings: {key} has no rule"]


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("assumptions", '["a.b"]\nname = "x"\n', "assumptions: a.b"),
        ("assumptions", "[oops", "assumptions.toml"),
        ("rests", "[storage]\ntitle = 1\n", "rests: storage"),
    ],
)
def test_a_broken_file_is_named(monkeypatch, tmp_path, name, text, said):
    (tmp_path / f"{name}.toml").write_text(text)
    monkeypatch.setattr(catalogue, "FOLDER", tmp_path)
    for part in (catalogue.load, whole.assumptions.listed, whole.rests.listed):
        part.cache_clear()
    try:
        part = getattr(whole, name).listed
        [fault] = whole._fault(part)
        assert fault.startswith(said)
    finally:
        monkeypatch.undo()
        for part in (catalogue.load, whole.assumptions.listed, whole.rests.listed):
            part.cache_clear()
