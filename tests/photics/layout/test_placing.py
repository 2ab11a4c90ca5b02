"""Places a coral can rest on, and how likely its light is right there."""

import numpy as np
import pytest
from scipy.stats import t as student

from apps.photics.field.light_field import HALF_WIDTH, INTERVAL_DEGREES
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.layout.placing import (
    PANE_CM,
    best_apart,
    chance_within,
    resting_places,
    rock_loss,
    worth,
)

TANK = Tank(60, 40, 40)
LOW, HIGH = Rock(10, 10, 20, 20, 20, 20), Rock(15, 15, 12, 8, 8, 8)
LAMP = Fixture(30, 20, 20, 90, 20, 20)


def test_a_bare_tank_rests_on_its_bottom_away_from_the_panes():
    found = resting_places(TANK, ())
    assert set(found.points_cm[:, 2]) == {40}
    assert found.points_cm[:, 0].min() > PANE_CM
    assert found.points_cm[:, 1].max() < 40 - PANE_CM


def test_no_place_lies_inside_a_rock_or_under_its_foot():
    found = resting_places(TANK, (LOW, HIGH))
    for rock in (LOW, HIGH):
        assert not rock.holds(*(found.points_cm - [0, 0, 0.1]).T).any()


def test_a_rock_on_a_rock_takes_the_lower_tops_room():
    alone = resting_places(TANK, (LOW,))
    both = resting_places(TANK, (LOW, HIGH))
    assert (both.rock == 0).sum() < (alone.rock == 0).sum()
    assert (both.rock == 1).any()


def test_places_out_of_an_arms_reach_are_left_out():
    assert resting_places(TANK, (LOW,), deepest_cm=25).points_cm[:, 2].max() == 20


def test_a_point_known_without_doubt_is_within_or_not():
    near = [150.0, 250.0]
    found = chance_within(near, near, near, band_low_umol=100, band_high_umol=200)
    assert found.tolist() == pytest.approx([1.0, 0.0])


def test_the_chance_is_that_of_the_fields_own_law():
    # One end at the middle, the other far off: a half.
    half = chance_within([100.0], [70.0], [140.0], band_low_umol=100, band_high_umol=1e6)
    assert half[0] == pytest.approx(0.5, abs=1e-6)
    deviation = np.log(2.0) / HALF_WIDTH
    expected = student.cdf(np.log(1.5) / deviation, INTERVAL_DEGREES) - 0.5
    part = chance_within([100.0], [50.0], [200.0], band_low_umol=100, band_high_umol=150)
    assert part[0] == pytest.approx(expected)


def test_a_place_under_a_shelf_loses_its_light_and_one_beside_it_little():
    shelf = Rock(20, 10, 10, 20, 20, 3)
    points = [[30, 20, 38], [55, 38, 38], [30, 20, 10]]
    found = rock_loss(points, tank=TANK, fixtures=[LAMP], rocks=(shelf,))
    # Some still comes slantwise and by the panes.
    assert found[0] > 0.5
    assert found[1] < 0.3
    # On top of it nothing is lost but what the bottom sends up.
    assert found[2] < 0.05


def test_without_a_lit_fixture_no_shade_is_claimed():
    assert rock_loss([[30, 20, 38]], tank=TANK, fixtures=[], rocks=(LOW,)).tolist() == [0.0]


def test_each_doubling_of_light_halves_what_a_place_is_worth():
    found = worth([0.8, 0.8, 0.8], [100, 200, 50], from_umol=100)
    assert found.tolist() == pytest.approx([0.8, 0.4, 0.4])


def test_without_a_light_before_the_chance_alone_counts():
    assert worth([0.3, 0.6], [10, 900]).tolist() == [0.3, 0.6]


def test_the_best_places_stand_apart():
    points = [[0, 0, 0], [1, 0, 0], [20, 0, 0], [40, 0, 0]]
    assert best_apart(points, np.array([0.9, 0.8, 0.7, 0.0]), most=5, apart_cm=10) == [0, 2]
