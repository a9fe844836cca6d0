"""A choice is an enumeration: chapters, facts, columns and comparisons take its words from there."""

from __future__ import annotations

import ast
import importlib
import typing

import pytest

from planner.record import chapters
from planner.record import facts as f
from planner.record.choices import Choice
from sites.models import RECORD_MODELS
from sites.models.work import HouseWork
from tests.test_rooms import MODULES, ROOT

CHOSEN = [
    pytest.param(kind, field, id=f"{kind}.{field.name}")
    for kind in f.RECORDS
    for field in chapters.fields_of(kind).values()
    if field.kind.chosen
]


def enumeration_of(kind: str, name: str) -> type[Choice] | None:
    """What a fact's annotation names: in ``Annotated[str, ResetRule]`` the rule."""
    hint = typing.get_type_hints(f.RECORDS[kind], include_extras=True)[name]
    held = [hint, *typing.get_args(hint)]
    named = [one for each in held for one in getattr(each, "__metadata__", ())]
    return named[0] if named else None


@pytest.mark.parametrize(("kind", "field"), CHOSEN)
def test_a_field_takes_its_choices_from_the_enumeration_of_its_fact(kind, field):
    named = enumeration_of(kind, field.name)
    assert named is not None and issubclass(named, Choice)
    assert field.choices == named.as_choices()


@pytest.mark.parametrize(("kind", "field"), CHOSEN)
def test_a_column_has_room_for_every_choice(kind, field):
    column = RECORD_MODELS[kind]._meta.get_field(field.name)
    for key in field.choices:
        if not field.kind.several:
            column.clean(int(key) if getattr(field.kind, "keeps_number", False) else key, None)


def test_the_house_asks_by_the_same_choices():
    for name in ("wants", "who"):
        room = HouseWork._meta.get_field(name).max_length
        assert all(len(key) <= room for key in enumeration_of("owncheck", name).as_choices())


# -- no literal in the place of a member -----------------------------------------------------------


def classes() -> dict[str, type[Choice]]:
    """Every enumeration of the product by its name."""
    for name, path in MODULES.items():
        if "(Choice):" in path.read_text():
            importlib.import_module(name)
    return {one.__name__: one for one in Choice.__subclasses__()}


ENUMERATIONS = classes()
# The script that looks at the ground is carried elsewhere and has nothing of the house beside it.
ALONE = "planner.papers.probe.script"
TREES = {
    path: ast.parse(path.read_text())
    for name, path in MODULES.items()
    if not name.startswith(ALONE)
}


def called(node: ast.expr) -> str:
    """The name of what is compared: ``reset_rule`` of ``template.reset_rule``."""
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def named_in(annotation: ast.expr) -> set[str]:
    """The enumerations that an annotation names."""
    names = {called(node) for node in ast.walk(annotation) if isinstance(node, ast.expr)}
    return names & set(ENUMERATIONS)


def annotated() -> dict[str, set[str]]:
    """For each name that is annotated with an enumeration anywhere, the enumerations."""
    found: dict[str, set[str]] = {}
    for tree in TREES.values():
        for node in ast.walk(tree):
            name = ""
            if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
                name, annotation = node.target.id, node.annotation
            elif isinstance(node, ast.arg) and node.annotation:
                name, annotation = node.arg, node.annotation
            if name:
                found.setdefault(name, set()).update(named_in(annotation))
    return {name: named for name, named in found.items() if named}


ANNOTATED = annotated()
WORDS = {
    name: {key for one in named for key in ENUMERATIONS[one].as_choices()}
    for name, named in ANNOTATED.items()
}


def literals(node: ast.expr) -> list[str]:
    """The texts that a side of a comparison consists of."""
    sides = node.elts if isinstance(node, ast.Tuple | ast.List | ast.Set) else [node]
    return [one.value for one in sides if isinstance(one, ast.Constant) and one.value]


def sides(tree: ast.AST) -> typing.Iterator[tuple[int, list[ast.expr]]]:
    """What is held against each other, by comparing or by matching."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            yield node.lineno, [node.left, *node.comparators]
        elif isinstance(node, ast.Match):
            cases = [one for case in node.cases for one in ast.walk(case.pattern)]
            matched = [one.value for one in cases if isinstance(one, ast.MatchValue)]
            yield node.lineno, [node.subject, *matched]


def typed_again(tree: ast.AST) -> typing.Iterator[tuple[int, str, str]]:
    """Comparisons with a literal where a member is meant: the line, the name, the literal.

    The kind of a record is none: its word stands in its class.
    """
    for line, compared in sides(tree):
        said = {text for side in compared for text in literals(side)}
        for name in map(called, compared):
            meant = WORDS.get(name, set()) - (set(f.RECORDS) if name == "kind" else set())
            for text in said & meant:
                yield line, name, text


def test_no_choice_is_typed_again():
    found = [
        (str(path.relative_to(ROOT)), *one)
        for path, tree in TREES.items()
        for one in typed_again(tree)
    ]
    assert found == []


@pytest.mark.parametrize(
    "line",
    [
        'template.reset_rule == "kept"',
        '"dns" in server.roles',
        'check.state not in ("proven", "excused")',
        'match template.reset_rule:\n    case "nightly" | "weekly":\n        pass',
    ],
)
def test_a_literal_in_the_place_of_a_member_is_found(line):
    assert list(typed_again(ast.parse(line)))


def beside_another(tree: ast.AST) -> typing.Iterator[tuple[int, str, str]]:
    """Comparisons with a member of an enumeration that the name is annotated with nowhere."""
    for line, compared in sides(tree):
        members = [node for side in compared for node in ast.walk(side)]
        meant = {
            called(node.value)
            for node in members
            if isinstance(node, ast.Attribute) and called(node.value) in ENUMERATIONS
        }
        for name in map(called, compared):
            for one in meant - ANNOTATED.get(name, meant):
                yield line, name, one


def test_each_is_held_against_its_own_members():
    found = [
        (str(path.relative_to(ROOT)), *one)
        for path, tree in TREES.items()
        for one in beside_another(tree)
    ]
    assert found == []
    assert list(beside_another(ast.parse("template.reset_rule == Weight.STOPPER")))


@pytest.mark.parametrize("line", ['record.kind == "site"', "template.reset_rule == ResetRule.KEPT"])
def test_what_is_no_choice_is_let_be(line):
    assert not list(typed_again(ast.parse(line)))


def test_a_member_is_the_text_that_is_kept():
    for one in ENUMERATIONS.values():
        for member in one:
            assert member == member.value == str(member) == f"{member}"
            assert type(member.value) is str and hash(member) == hash(member.value)
            assert one(member.value) is member and one.holds(member.value)
            assert one.words_of(member.value) == member.words
        assert not one.holds("no such choice")
        assert one.words_of("no such choice") == "no such choice"
