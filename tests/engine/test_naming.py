"""Naming: ranges of computer names and who shares them. Rules of names: tests/references."""

from __future__ import annotations

from hypothesis import example, given, settings
from hypothesis import strategies as st

from planner.engine.names.naming import computer_names
from planner.record import facts as f
from tests.factories import make, plan_of


def template(prefix="mill-fd-", digits=3, most=36, **values):
    return make(f.Template, name_prefix=prefix, name_digits=digits, most=most, **values)


def test_a_range_is_filled():
    names = computer_names(template())
    assert (names.first, names.last, names.count, names.capacity) == (
        "mill-fd-001",
        "mill-fd-036",
        36,
        999,
    )
    assert names.faults == () and names.enough_digits is True and names.digits_needed == 2


def test_too_few_digits_end_the_range():
    names = computer_names(template(digits=1, most=12))
    assert (names.last, names.count, names.enough_digits, names.digits_needed) == (
        "mill-fd-9",
        9,
        False,
        2,
    )


def test_unknown_parts_give_no_names():
    for names in map(
        computer_names, (template(prefix=""), template(digits=None), template(digits=0))
    ):
        assert (names.first, names.last, names.count, names.capacity) == (None, None, None, None)
    names = computer_names(template(most=None))
    assert (names.first, names.last, names.count) == ("mill-fd-001", "mill-fd-999", None)


def test_sixteen_characters_are_one_too_many():
    assert computer_names(template(prefix="a" * 12)).faults == ()
    assert computer_names(template(prefix="a" * 13)).faults == ("long",)


def all_names(record: f.Template) -> set[str]:
    """Written out, for comparison: every name of a template, in small letters."""
    if record.most is None:
        return {f"{record.name_prefix}{1:0{record.name_digits}d}".lower()}
    most = min(record.most, 10**record.name_digits - 1)
    return {f"{record.name_prefix}{n:0{record.name_digits}d}".lower() for n in range(1, most + 1)}


PREFIXES = st.sampled_from(["a", "A", "a0", "a1", "a00", "a01", "a-", "ab", "1", "10", "100"])
TEMPLATES = st.builds(
    template,
    prefix=PREFIXES,
    digits=st.integers(1, 3),
    most=st.sampled_from([None, 0, 1, 7, 10, 11, 99, 120, 999]),
)
NAMES = st.builds(
    "{}{}".format, PREFIXES, st.sampled_from(["", "1", "01", "07", "010", "120", "000", "x"])
)


@settings(max_examples=300, deadline=None)
@given(TEMPLATES, TEMPLATES)
@example(template("a", 3, 120), template("a1", 2, 20))
@example(template("a", 3, 99), template("a1", 2, 20))
def test_two_templates_share_names_as_when_written_out(one, other):
    shared = all_names(one) & all_names(other)
    clashes = plan_of(one, other).naming.clashes
    assert len(clashes) == (1 if shared else 0)
    if clashes:
        assert clashes[0].count == len(shared) and clashes[0].name.lower() == min(shared)
        assert {clashes[0].template_id, clashes[0].other.id} == {one.id, other.id}


@settings(max_examples=300, deadline=None)
@given(st.lists(TEMPLATES, max_size=3), NAMES)
def test_a_machine_has_a_desktops_name_as_when_written_out(templates, name):
    host = make(f.Host, name=name)
    taken = any(name.lower() in all_names(one) for one in templates)
    clashes = plan_of(host, *templates).naming.clashes
    assert any(clash.other.kind == "host" for clash in clashes) == taken


def test_of_two_with_one_prefix_the_larger_counts():
    host = make(f.Host, name="mill-fd-090")
    clashes = plan_of(host, template(most=5), template(most=100)).naming.clashes
    assert [(clash.other.kind, clash.name) for clash in clashes] == [
        ("template", "mill-fd-001"),
        ("host", "mill-fd-090"),
    ]


def test_a_hundred_thousand_names_are_not_written_out():
    """Ranges only: a million desktops against each other take no longer than ten."""
    one, other = template("d", 7, 1_000_000), template("d0", 6, 900_000)
    [clash] = plan_of(one, other).naming.clashes
    assert (clash.name, clash.count) == ("d0000001", 900_000)


def test_machines_with_one_name():
    found = plan_of(
        make(f.Host, name="mill-1"),
        make(f.Server, name=" MILL-1"),
        make(f.Device, name="x"),
        make(f.Device, name=""),
    ).naming.same
    assert [(same.name, [record.kind for record in same.records]) for same in found] == [
        ("mill-1", ["host", "server"])
    ]
