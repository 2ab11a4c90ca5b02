"""The grid rule against its published examples."""

import itertools

import pytest

from apps.surveys.plan.grid_rule import POINTS_MIN, rule_grid, spacing_cm

# EN 12464-1, p = 0.2 * 5^log10(d), for d in metres; worked out to four digits.
PUBLISHED = [(0.4, 0.1054), (0.6, 0.1399), (1, 0.2), (2, 0.3247), (5, 0.6160), (10, 1.0),
             (25, 1.8974), (50, 3.0801), (100, 5.0)]  # fmt: skip


@pytest.mark.parametrize(("side_m", "p_m"), PUBLISHED)
def test_spacing_is_the_standards(side_m, p_m):
    assert spacing_cm(100 * side_m) / 100 == pytest.approx(p_m, abs=5e-5)


def test_the_worked_room_of_five_by_four_metres():
    """Worked example of the rule as light planners publish it: 8 x 6 points, edges at p/2."""
    grid = rule_grid(length_cm=500, width_cm=400)
    assert (len(grid.x_cm), len(grid.y_cm), grid.count) == (8, 6, 48)
    assert grid.x_cm[0] == pytest.approx(30.80, abs=0.005)
    assert grid.x_cm[1] - grid.x_cm[0] == pytest.approx(62.63, abs=0.005)
    assert grid.y_cm[0] == pytest.approx(30.80, abs=0.005)
    assert grid.y_cm[1] - grid.y_cm[0] == pytest.approx(67.68, abs=0.005)


def test_spacing_ends_at_ten_metres():
    assert spacing_cm(100_000) == 1000.0


def test_a_long_level_goes_by_its_shorter_side():
    assert rule_grid(length_cm=300, width_cm=50).spacing_cm == spacing_cm(50)
    assert rule_grid(length_cm=100, width_cm=50).spacing_cm == spacing_cm(100)


@pytest.mark.parametrize(
    "sides", [(10, 10), (30, 30), (61, 46), (122, 61), (1000, 1000), (10, 900)]
)
def test_points_stand_inside_and_even(sides):
    grid = rule_grid(length_cm=sides[0], width_cm=sides[1])
    for places, side in zip((grid.x_cm, grid.y_cm), sides, strict=True):
        assert len(places) >= POINTS_MIN and places[0] > 0
        assert places[0] == pytest.approx(side - places[-1])
        assert all(a < b for a, b in itertools.pairwise(places))


def test_no_side_is_refused():
    with pytest.raises(ValueError, match="longer"):
        spacing_cm(0)
