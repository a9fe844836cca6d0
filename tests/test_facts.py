"""The plan's short code: whatever a text holds, there is one, and it tells a change."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.record import facts as f
from planner.record.facts import plain as plain_facts
from tests.factories import TODAY, site_facts


def named(name: str) -> f.SiteFacts:
    return site_facts(f.Host(id=1, name=name))


@pytest.mark.parametrize("name", ["mill-h1", "\ud800", "Hämmerli \udfff", "\x00", "😀", "a\udce4b"])
def test_every_text_has_a_code(name):
    """A lone surrogate is no character, but an old file or a foreign program may leave one behind."""
    code = f.fingerprint(named(name))
    assert re.fullmatch("[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}", code)
    assert code != f.fingerprint(named(name + "x"))
    assert code == f.fingerprint(named(name))


def test_different_surrogates_have_different_codes():
    assert len({f.fingerprint(named(chr(one))) for one in range(0xD800, 0xE000, 64)}) == 32


@given(st.text(alphabet=st.characters(), max_size=30))  # surrogates and all
def test_any_text_has_a_code(text):
    assert len(f.fingerprint(named(text))) == 9


def test_the_code_is_forty_bits_of_the_plans_digest():
    """Worked out anew: the first forty bits of SHA-256 (FIPS 180-4), five at a time, in Crockford's letters."""
    facts = f.SiteFacts(today=TODAY, site=f.Site(id=1, name="Mill"))
    unset = (None, "", [])
    plan = {
        key: value
        for key, value in f.to_json(facts).items()
        if key not in f.NOT_PLANNED and value not in unset
    }
    plan = {
        key: {k: v for k, v in one.items() if v not in unset} if isinstance(one, dict) else one
        for key, one in plan.items()
    }
    text = json.dumps(plan, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    bits = "".join(f"{byte:08b}" for byte in hashlib.sha256(text.encode()).digest()[:5])
    letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # Source: D. Crockford, Base 32 (no I, L, O, U)
    code = "".join(letters[int(bits[at : at + 5], 2)] for at in range(0, 40, 5))
    assert f.fingerprint(facts) == f"{code[:4]}-{code[4:]}"


def test_what_is_said_about_the_plan_does_not_move_it():
    facts = named("mill-h1")
    said = dataclasses.replace(facts, answers=(f.Answer(check="flows-open", state="proven"),))
    assert f.fingerprint(facts) == f.fingerprint(said)


def test_a_field_that_nobody_filled_moves_no_fingerprint(monkeypatch):
    """A release that adds a field leaves every printed book valid until the field is filled in."""
    facts = f.SiteFacts(
        today=TODAY, site=f.Site(id=1), hosts=(f.Host(id=2, name="h1", cores_per_socket=0),)
    )
    plain = f.to_json(facts)
    for unset in (None, "", []):
        grown = {**plain, "hosts": [{**plain["hosts"][0], "colour": unset}], "gardens": unset}
        monkeypatch.setattr(plain_facts, "to_json", lambda _, grown=grown: grown)
        after = f.fingerprint(facts)
        monkeypatch.undo()
        assert after == f.fingerprint(facts)
    for value in (0, False, "red"):  # nought and no are answers
        grown = {**plain, "hosts": [{**plain["hosts"][0], "colour": value}]}
        monkeypatch.setattr(plain_facts, "to_json", lambda _, grown=grown: grown)
        after = f.fingerprint(facts)
        monkeypatch.undo()
        assert after != f.fingerprint(facts)
