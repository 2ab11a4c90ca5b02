"""The usual zones of tanks of any measures, and whether fixtures that can serve them do."""

import pytest

from apps.photics.ground.scene import Tank
from apps.photics.layout.advice.recommended import lit_answer, recommended
from apps.photics.layout.answers import answers
from apps.photics.layout.choice import price_of
from apps.photics.layout.question import Limits, Question
from apps.photics.layout.search import Search
from apps.photics.layout.usual_zones import usual_zones
from tests.photics.layouts import panel

MEASURES = [(45, 45, 45), (60, 60, 60), (90, 45, 50), (120, 60, 60), (180, 60, 60)]


@pytest.mark.parametrize("size", MEASURES)
def test_usual_zones_are_served_by_fixtures_that_can(size):
    tank = Tank(*size)
    limits = Limits((15.0, 40.0), (0.0, size[0]), (0.0, size[1]), count=6)
    mid = panel(110.0, 55.0, price=250.0)
    question = Question(tank, usual_zones(tank), (mid,), limits)
    search = Search(question)
    state = search.run(stop=search.has_refined)
    lit = [lit_answer(question, one) for one in answers(search.scorer, state.refined)]
    number, _ = recommended(question, lit)
    assert lit[number].served
    prices = [price_of(question, one.layout.choice) for one in lit if one.served]
    assert price_of(question, lit[number].layout.choice) <= 1.25 * min(prices)


def test_the_usual_zones_have_the_usual_bands_of_what_lives_there():
    bands = [(zone.low_umol, zone.high_umol) for zone in usual_zones(Tank(90, 45, 50))]
    assert bands == [(200, 350), (75, 150), (50, 150)]


def test_only_the_edge_of_the_sps_zone_is_hard():
    high, *low = usual_zones(Tank(90, 45, 50))
    assert not high.high_is_soft and all(zone.high_is_soft for zone in low)
    assert all(high.weight > zone.weight for zone in low)
