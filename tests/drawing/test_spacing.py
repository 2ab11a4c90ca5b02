"""Letters on a drawing: none over another, each at its point or with a line that leads there."""

from itertools import combinations

from apps.drawing.frame import Box
from apps.drawing.marks import Mark
from apps.drawing.spacing import spaced, square

WATER = Box(0, 0, 300, 100)


def at(x, y, text="A"):
    return Mark(f"{x:.1f}", f"{y:.1f}", text)


def boxes_of(marks, side=18):
    return [square(float(mark.x), float(mark.y), side) for mark in marks]


def letters(marks, taken=(), within=WATER):
    return spaced(marks, side=18, taken=taken, within=within)


def test_letters_with_room_stay_at_their_points():
    marks = (at(10, 10), at(28, 10), at(2, 99))
    assert letters(marks) == marks


def test_letters_in_a_tight_row_stand_beside_each_other():
    row = [at(10 + 16 * n, 50, f"{n}") for n in range(14)]
    result = letters(row)
    assert [mark.text for mark in result] == [mark.text for mark in row]
    assert not any(one.meets(other) for one, other in combinations(boxes_of(result), 2))
    moved = [(mark, was) for mark, was in zip(result, row, strict=True) if mark != was]
    assert moved and all(mark.path.startswith(f"M{was.x} {was.y}L") for mark, was in moved)


def test_a_letter_on_one_point_with_others_stays_near_within_the_water():
    result = letters([at(0, 0, "abcdefgh"[n]) for n in range(8)])
    assert not any(one.meets(other) for one, other in combinations(boxes_of(result), 2))
    assert all(WATER.holds(box) for box in boxes_of(result[1:]))


def test_a_letter_makes_room_for_a_number():
    number = square(50, 50, 18)
    (result,) = letters([at(50, 50)], taken=[number])
    assert result.path and not boxes_of([result])[0].meets(number)


def test_without_any_room_it_stays_at_its_point():
    mark = at(50, 50)
    assert letters([mark], taken=[WATER]) == (mark,)
