"""Names say what a thing is: not that it was told, asked or found."""

import ast

import pytest

from tests.sources import SOURCES, expect_none, place_of, text_of

NO_NAMES = {"told", "asked", "found"}
# Columns and JSON keys keep their name, since rows, exports and programs outside know them.
SEEN_OUTSIDE = {"told", "told_as", "asked", "plan_asked"}


def fields_of(tree):
    """Return the ids of the names that a class body sets: columns and keys, if any are."""
    return {
        id(target)
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef)
        for line in node.body
        if isinstance(line, ast.Assign | ast.AnnAssign)
        for target in (line.targets if isinstance(line, ast.Assign) else [line.target])
    }


def named(node, fields):
    """Return the (name, whether it may be one seen outside) pairs that a node gives or uses."""
    match node:
        case ast.Name(id=name):
            return [(name, id(node) in fields)]
        case ast.Attribute(attr=name):
            return [(name, True)]
        case ast.keyword(arg=str(name)):
            return [(name, True)]
        case ast.arg(arg=name) | ast.FunctionDef(name=name) | ast.ClassDef(name=name):
            return [(name, False)]
        case ast.alias(name=name, asname=other):
            return [(part, False) for part in (*name.split("."), other or "")]
    return []


def empty_names(source):
    """Return (line, name) of every name of a module that has one of NO_NAMES in it."""
    if not any(word in source.lower() for word in NO_NAMES):
        return []
    tree = ast.parse(source)
    fields = fields_of(tree)
    return [
        (node.lineno, name)
        for node in ast.walk(tree)
        for name, may_be_seen in named(node, fields)
        if NO_NAMES & set(name.lower().split("_")) and not (may_be_seen and name in SEEN_OUTSIDE)
    ]


def test_names_say_what_a_thing_is():
    expect_none(
        [
            f"{place_of(path)}:{line}: {name}"
            for path in SOURCES
            for line, name in empty_names(text_of(path))
        ]
    )


@pytest.mark.parametrize(
    "line",
    [
        "found = fit(points)",
        "def f(told): pass",
        "def asked_mix(): pass",
        "from apps.lighting.rig import rig_told",
        "f(is_found=True)",
        "row.signs_told",
        "NAMES_TOLD = 20",
        "def f():\n    told = 1",
    ],
)
def test_an_empty_name_is_caught(line):
    assert len(empty_names(line)) == 1


@pytest.mark.parametrize("line", ["row.told", "class Hung:\n    told = 1", "Plan(asked={})"])
def test_a_column_keeps_its_name(line):
    assert empty_names(line) == []
