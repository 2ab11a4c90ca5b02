"""Labels at line ends: never on each other, and moved no further than that takes."""

from itertools import pairwise

from apps.drawing.line_ends import APART_PX, LineEnd, spread


def ys(*wanted, height=100.0):
    return [end.y for end in spread([LineEnd(y, "", "") for y in wanted], height=height)]


def test_ends_far_apart_stay_where_they_are():
    assert ys(10, 50, 90) == [10, 50, 90]


def test_ends_that_would_lie_on_each_other_are_parted():
    placed = ys(50, 51, 52)
    assert [b - a for a, b in pairwise(placed)] == [APART_PX, APART_PX]


def test_ends_at_the_foot_push_upward():
    assert ys(99, 100) == [100 - APART_PX, 100]


def test_order_from_the_top_is_kept():
    assert [e.text for e in spread([LineEnd(9, "low", ""), LineEnd(2, "high", "")], height=50)] == [
        "high",
        "low",
    ]
