"""Styles and scripts are where the pages name them, in the rooms of those pages."""

import re
from functools import cache

import pytest

from tests.paths import ROOT
from tests.sources import PAGES, TEMPLATES, text_of

STATIC = ROOT / "static"
NAMED = re.compile(r"""\{% static ['"]([^'"]+)['"]""")
# Lowest first, as imports point; allauth's pages are dressed by accounts.
APPS = (
    "accounts", "allauth", "clubs", "tanks", "lighting", "surveys", "lightmap", "corals",
    "outcomes", "planning", "sharing", "api", "transfer", "hosting",
)  # fmt: skip
IMPORTED = re.compile(r'from "(\.[^"]+)"')


def names(folder, pattern):
    return sorted(str(path.relative_to(STATIC)) for path in (STATIC / folder).glob(pattern))


SCRIPTS = names("js", "**/*.js")
SHEETS = [name for name in names("css", "*/**/*.css") if not name.startswith("css/pages/")]
SHARED = names("css/pages", "*.css")


@cache
def names_in(path):
    """Return the static files that a template names."""
    return set(NAMED.findall(text_of(path)))


def rooms_naming(name):
    """Return the folders of the templates that name a static file, each as a tuple of its parts."""
    pages = (path for path in TEMPLATES if name in names_in(path))
    return {path.relative_to(PAGES).parent.parts for path in pages}


def room_of(name):
    """Return where a file belongs: the lowest app that names it, its room if there is but one."""
    rooms = rooms_naming(name)
    app = min((room[0] for room in rooms), key=APPS.index)
    inside = {room for room in rooms if room[0] == app}
    return inside.pop() if len(inside) == 1 else (app,)


def test_every_static_name_of_a_template_is_a_file():
    """One behind an `if` is asked for only by the page it breaks."""
    named = {(str(path.relative_to(PAGES)), name) for path in TEMPLATES for name in names_in(path)}
    assert len(named) > 100
    assert {(page, name) for page, name in named if not (STATIC / name).is_file()} == set()


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_is_in_the_room_of_its_pages(name):
    assert tuple(name.split("/")[1:-1]) == room_of(name)


@pytest.mark.parametrize("name", SHARED)
def test_a_sheet_of_no_room_dresses_several_apps(name):
    assert len({room[:1] for room in rooms_naming(name)}) > 1


def imports_of(name):
    """Return the modules that a script imports, by their static names."""
    text, here = (STATIC / name).read_text(), (STATIC / name).parent
    return [str((here / path).resolve().relative_to(STATIC)) for path in IMPORTED.findall(text)]


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_script_is_in_the_room_of_its_pages(name):
    folder, rooms = tuple(name.split("/")[1:-1]), rooms_naming(name)
    if folder and rooms:
        assert folder == room_of(name)
    elif rooms:
        assert rooms == {()} or len({room[0] for room in rooms}) > 1


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_script_imports_from_no_app_above_it(name):
    app = name.split("/")[1:-1][:1]
    for other in imports_of(name):
        assert (STATIC / other).is_file(), other
        above = other.split("/")[1:-1][:1]
        assert not above or (app and APPS.index(above[0]) <= APPS.index(app[0])), other
