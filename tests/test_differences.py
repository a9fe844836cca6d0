"""What differs between two plans, and what the fingerprint calls another plan, are the same."""

import dataclasses

import pytest

from planner.comparing.differences import compare
from planner.record import facts as f
from tests.factories import make, site_facts

HOST = make(f.Host, name="mill-h1", memory_gib=96.0)
NOT_PLANNED = [cls for cls in f.RECORDS.values() if not cls.planned]


@pytest.mark.parametrize("cls", NOT_PLANNED, ids=lambda cls: cls.kind)
def test_what_is_not_planned_is_no_difference(cls):
    before = site_facts(HOST)
    after = site_facts(HOST, make(cls))
    assert compare(before, after) == compare(after, before) == []
    assert f.fingerprint(before) == f.fingerprint(after)


def test_there_is_such_a_kind():
    assert {cls.kind for cls in NOT_PLANNED} == {"built", "ownstep", "owncheck", "stepplan"}


@pytest.mark.parametrize("kind", [kind for kind in f.LISTS if f.RECORDS[kind].planned])
def test_a_planned_record_is_a_difference_and_moves_the_fingerprint(kind):
    before = site_facts(HOST)
    after = site_facts(HOST, make(f.RECORDS[kind]))
    [found] = compare(before, after)
    assert (found.kind, found.before, found.after) == (f.KIND_WORDS[kind], "", "there")
    assert f.fingerprint(before) != f.fingerprint(after)


def test_one_changed_value_is_one_difference():
    more = dataclasses.replace(HOST, memory_gib=128.0)
    [found] = compare(site_facts(HOST), site_facts(more))
    assert (found.record, found.field) == ("mill-h1", "Memory")
    assert (found.before, found.after) == ("96 GiB", "128 GiB")
