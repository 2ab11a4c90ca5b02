"""The app's own files, for the rules that hold for each of them; each is read once a run.

A rule is one test of all files that lists who breaks it as file and line: with a test a file,
most of the time of a run would go into beginning and ending tests.
"""

import ast
from functools import cache

from tests.paths import ROOT

APPS, PAGES = ROOT / "apps", ROOT / "templates"
TEMPLATES = sorted(PAGES.rglob("*.html"))
SOURCES = sorted(p for p in APPS.rglob("*.py") if "migrations" not in p.parts)


@cache
def text_of(path):
    return path.read_text()


@cache
def words_of(path):
    """Return a file's text on one line, one space between words, so that no break parts them."""
    return " ".join(text_of(path).split())


@cache
def place_of(path):
    return str(path.relative_to(ROOT))


def tree_of(path):
    """Return a module's tree; it is not kept, since all of them are 140 MB."""
    return ast.parse(text_of(path))


def lines_where(paths, is_broken):
    """Return "file:line" of each line that breaks a rule."""
    return [
        f"{place_of(path)}:{n}"
        for path in paths
        for n, line in enumerate(text_of(path).splitlines(), 1)
        if is_broken(line)
    ]


def expect_none(broken):
    """Fail with all places that break a rule, a line each: pytest shortens a long list."""
    assert not broken, "\n".join(["These break the rule:", *map(str, broken)])
