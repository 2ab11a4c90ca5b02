"""One sign, one meaning: all that pages draw stand in docs/signs.md once, and none unused."""

import re
from functools import partial
from xml.etree import ElementTree

import pytest
from lucide.templatetags.lucide import lucide

from apps.common.templatetags.icons import OWN_ICONS, drawn_icon
from tests.paths import ROOT

TEMPLATES = {p: p.read_text() for p in (ROOT / "templates").rglob("*.html")}
SHEETS = "\n".join(p.read_text() for p in sorted((ROOT / "static" / "css").rglob("*.css")))
STATES, LETTERS, ICONS = (ROOT / "docs" / "signs.md").read_text().split("\n## ")[1:]
ICON = re.compile(r'\{% icon "([\w-]+)"')
# What a style sheet writes before or after a word; separators of a list are no signs.
CONTENT = re.compile(r'content: "([^"]*)"')
SEPARATORS = {"", ";", "!"}
# Drawn in templates: geometric shapes, ticks and stars. Arrows stand between numbers.
SHAPES = re.compile("[\u2190-\u21ff\u2295-\u22a1\u25a0-\u25ff\u2600-\u27bf]+")


def first_cells(table):
    """Return the first cell of each row of a table, its head left out."""
    rows = [line.split("|")[1].strip() for line in table.splitlines() if line.startswith("|")]
    return rows[2:]


def drawn_letters():
    """Return the signs of style sheets and templates, each row of dots as it stands."""
    written = {sign.strip() for sign in CONTENT.findall(SHEETS)} - SEPARATORS
    return written | {sign for text in TEMPLATES.values() for sign in SHAPES.findall(text)}


def used_icons():
    return {name for text in TEMPLATES.values() for name in ICON.findall(text)}


def test_every_letter_that_is_a_sign_has_one_meaning():
    listed = [sign for cell in first_cells(LETTERS) for sign in cell.split()]
    assert len(listed) == len(set(listed))
    # Plus and minus in a circle are listed as states.
    assert drawn_letters() - {"−"} == set(listed)


def test_every_icon_has_one_meaning():
    listed = [cell.strip("`") for cell in first_cells(ICONS)]
    assert len(listed) == len(set(listed))
    assert used_icons() == set(listed)


@pytest.mark.parametrize("name", [n for n in sorted(used_icons()) if n not in OWN_ICONS])
def test_an_icon_is_drawn_as_its_package_draws_it(name):
    canonical = partial(ElementTree.canonicalize, strip_text=True)
    assert canonical(drawn_icon(name, 18)) == canonical(lucide(name, size=18, aria_hidden="true"))


def test_no_two_signs_mean_the_same():
    rows = [line.rsplit("|", 2)[1].strip() for table in (STATES, LETTERS, ICONS)
            for line in table.splitlines() if line.startswith("| ")]  # fmt: skip
    meanings = [row for row in rows if row != "meaning"]
    assert len(meanings) == len(set(meanings))


@pytest.mark.parametrize("name", re.findall(r"`([\w-]+--[\w-]+|field__error)`", STATES))
def test_every_state_is_drawn(name):
    assert f".{name}::before" in SHEETS or f".{name}," in SHEETS or f".{name})" in SHEETS


def test_icons_of_our_own_are_used():
    assert set(OWN_ICONS) <= used_icons()
