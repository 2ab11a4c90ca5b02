"""One class of each kind of drawing part: a second `Mark` or `Box` would be told from the first."""

import re
from collections import Counter

import pytest

from apps.drawing.marks import LABEL_ROOM_FROM_PERCENT, Tick, polygon_points
from tests.paths import ROOT

SHARED = {"Mark": "marks", "Tick": "marks", "Box": "frame", "Frame": "frame", "Slant": "box"}


def test_each_part_of_a_drawing_is_one_class():
    classes = Counter(
        (name, path.relative_to(ROOT).as_posix())
        for path in (ROOT / "apps").rglob("*.py")
        for name in re.findall(r"^class (\w+)\b", path.read_text(), re.MULTILINE)
        if name in SHARED
    )
    assert classes == {(name, f"apps/drawing/{module}.py"): 1 for name, module in SHARED.items()}


@pytest.mark.parametrize(("at", "anchor"), [(0.0, "middle"), (93.9, "middle"), (94.1, "end")])
def test_a_label_at_the_right_end_lies_before_its_tick(at, anchor):
    assert 93.9 < LABEL_ROOM_FROM_PERCENT < 94.1
    assert Tick(at, "28 Nov").anchor == anchor


def test_corners_of_a_polygon_are_told_to_a_tenth():
    assert polygon_points([(0, 1.26), (2.04, 3)]) == "0.0,1.3 2.0,3.0"
