"""The typefaces: small, licensed, and all that a page needs to set type without a shift."""

import re

from tests.paths import ROOT

STATIC = ROOT / "static"
FACES = sorted((STATIC / "fonts").glob("*.woff2"))
SHEET = (STATIC / "css" / "fonts.css").read_text()
KB_MAX = 60


def test_all_typefaces_together_are_small():
    assert len(FACES) == 2
    assert sum(face.stat().st_size for face in FACES) <= KB_MAX * 1000


def test_each_typeface_has_its_open_licence_beside_it():
    for face in FACES:
        licence = face.with_name(f"{face.stem}-licence.txt").read_text()
        assert "SIL OPEN FONT LICENSE Version 1.1" in licence and "Copyright" in licence


def test_each_typeface_has_a_stand_in_of_its_measures():
    named = set(re.findall(r'url\("\.\./fonts/([\w-]+\.woff2)"\)', SHEET))
    assert named == {face.name for face in FACES}
    assert SHEET.count("size-adjust:") == SHEET.count("ascent-override:") == len(FACES)


def test_both_are_asked_for_before_the_style_sheets_and_offline():
    base = (ROOT / "templates" / "base.html").read_text()
    offline = (ROOT / "reeflog" / "offline_views.py").read_text()
    for face in FACES:
        assert base.index(f"fonts/{face.name}") < base.index("stylesheet")
        assert f'"fonts/{face.name}"' in offline
