"""One class of each kind of drawing part: a second `Mark` or `Box` would be told from the first."""

import re
from collections import Counter

import pytest

from apps.drawing.marks import LABEL_ROOM_FROM_PERCENT, Mark, Tick, parted, polygon_points
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


def test_of_marks_that_overlap_the_first_keeps_its_text():
    first, over, beside = (Mark(x, "0.0", x) for x in ("0.0", "11.9", "12.0"))
    away = Mark("50.0", "0.0", "away", here=False)
    bare = [mark for mark in parted([first, over, beside, away], 6.0) if not mark.text]
    assert [mark.x for mark in bare] == [over.x, away.x]


def test_a_bare_mark_is_drawn_below_those_with_a_text():
    marks = parted([Mark("0.0", "0.0", "1"), Mark("3.0", "0.0", "2")], 6.0)
    assert [mark.text for mark in marks] == ["", "1"]
