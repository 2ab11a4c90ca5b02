"""Layouts over tanks that are no boxes: within the outline, lit as the light field says."""

from dataclasses import replace

import numpy as np
import pytest

from apps.photics.ground.scene import Brace, Fixture, Rock, Tank, Window
from apps.photics.layout.choice import one_kind
from apps.photics.layout.light.light_lost import light_lost
from apps.photics.layout.placing import PANE_CM, resting_places
from apps.photics.layout.planned_light import planned_field
from apps.photics.layout.question import Limits, Question
from apps.photics.layout.score import NOTHING, Scorer
from apps.photics.layout.search import screen
from tests.photics.layouts import hung, panel, zone

ROUND = Tank(60, 60, 45, shape="cylinder")
CORNER = Tank(
    60, 60, 45, shape="outline", outline_cm=((0, 60), (0, 0), (15, 0), (60, 45), (60, 60))
)
LIT = Tank(
    60, 60, 45, shape="cylinder", cover_transmission=0.8, window=Window("left", 40.0),
    braces=(Brace(0, 25, 60, 8, 0.5),),
)  # fmt: skip


def question_of(tank, count=2):
    limits = Limits((15.0, 35.0), (0.0, 60.0), (0.0, 60.0), count)
    return Question(tank, (zone(tank, 100.0, 200.0, margin=0.0),), (panel(90.0),), limits)


def test_zones_hold_water_alone():
    inside = zone(CORNER, 80.0, 200.0, margin=0.0).points((), tank=CORNER)
    everywhere = zone(CORNER, 80.0, 200.0, margin=0.0).points()
    assert len(inside) < len(everywhere)
    assert not CORNER.outside(*inside[:, :2].T).any()


def test_a_zone_leaves_out_the_overflow():
    tank = Tank(60, 60, 45, overflow=Rock(40, 40, 0, 20, 20, 45))
    points = zone(tank, 80.0, 200.0, margin=0.0).points((), tank=tank)
    assert not tank.overflow.holds(*points.T).any()


@pytest.mark.parametrize("tank", [ROUND, CORNER, LIT], ids=["round", "corner", "lit"])
def test_the_search_scores_what_the_light_field_shows(tank):
    question = question_of(tank)
    scorer = Scorer(question)
    layout = hung(90.0, ((20.0, 32.0), (38.0, 41.0)), 22.0, level=0.7)
    lamps = 0.7 * scorer.light_by_kind(layout)[0][0]
    field = planned_field(question.tank, *layout.fixtures(question))
    assert lamps + scorer.daylight == pytest.approx(field.at(scorer.points).par_umol, rel=3e-3)
    mean = field.at(scorer.points).par_umol.mean()
    assert scorer.score(layout).zone_mean_umol[0] == pytest.approx(mean, rel=3e-3)


def test_no_fixture_hangs_over_a_corner_that_is_not_there():
    scorer = Scorer(question_of(CORNER, count=1))
    over, beside = (hung(90.0, (at,), 22.0) for at in ((25.0, 40.0), (50.0, 12.0)))
    assert scorer.best_level(over)[1] > NOTHING
    assert scorer.best_level(beside)[1] == NOTHING


def test_what_the_search_finds_hangs_over_the_water():
    found = screen(Scorer(question_of(CORNER, count=2)), one_kind(0, 90.0, 2))
    assert found
    for rated in found:
        assert not CORNER.outside(*np.transpose(rated.layout.places_cm)).any()


def test_a_narrower_opening_catches_less():
    lamp = Fixture(30, 30, 20, 120, 20, 20)
    assert light_lost(lamp, ROUND) > light_lost(lamp, Tank(60, 60, 45)) + 0.05


def test_corals_rest_within_the_panes_and_not_in_the_overflow():
    tank = replace(ROUND, overflow=Rock(22, 45, 0, 16, 15, 45))
    points = resting_places(tank, ()).points_cm
    assert (np.hypot(*(points[:, :2] - 30).T) <= 30.1 - PANE_CM).all()
    assert not tank.overflow.holds(*(points - [0, 0, 0.1]).T).any()
