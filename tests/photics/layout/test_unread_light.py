"""Light by stated outputs: alone, and narrowed by one to three readings."""

from dataclasses import replace

import numpy as np
import pytest

from apps.photics.field.light_field import NotEnoughReadings, fit_light_field
from apps.photics.field.next_points import next_points
from apps.photics.field.readings import SurveyReadings
from apps.photics.ground.scene import Fixture, Tank
from apps.photics.layout.planned_light import planned_field
from apps.photics.layout.unread_light import field_of_few, unread_field
from apps.photics.rig.fixture_light import output_estimate

TANK = Tank(90, 50, 50)
PANELS = tuple(Fixture(x, 25, 22, 90, 20, 20) for x in (25, 65))
RATED = (output_estimate(ppf_umol_s=100.0),) * 2
BY_WATTS = (output_estimate(watts=74.0),) * 2
PLACES = np.array([(25, 25, 10), (45, 25, 25), (80, 40, 40), (5, 5, 45)], float)


def width(estimate):
    return np.log(estimate.high_umol / estimate.low_umol)


def few(points, par, outputs=RATED, **more):
    one = SurveyReadings(points, par)
    return field_of_few([one], tank=TANK, fixtures=PANELS, outputs=outputs, **more)


@pytest.mark.parametrize("outputs", [RATED, BY_WATTS])
def test_before_any_reading_it_is_the_planned_light(outputs):
    unread, planned = (f(TANK, PANELS, outputs) for f in (unread_field, planned_field))
    here, there = unread.at(PLACES), planned.at(PLACES)
    np.testing.assert_allclose(here.par_umol, there.par_umol, rtol=1e-9)
    # Two panels of one description differ a little beyond what a plan allows for.
    assert (width(here) >= width(there)).all() and (width(here) < 1.1 * width(there)).all()
    assert not unread.measured
    everywhere = np.stack(np.meshgrid([0, 45, 90], [0, 25, 50], [0, 25, 50]), -1).reshape(-1, 3)
    assert not unread.at(everywhere).extrapolated.any()


def test_watts_alone_are_wide_and_a_rated_output_less_so():
    rated, watts = (unread_field(TANK, PANELS, o).at(PLACES) for o in (RATED, BY_WATTS))
    assert (np.exp(width(rated)) < 2.2).all() and (np.exp(width(watts)) < 3.4).all()
    assert (width(watts) > width(rated)).all()


@pytest.mark.parametrize("outputs", [RATED, BY_WATTS])
def test_each_reading_narrows_it_and_brings_it_to_the_truth(outputs):
    """Truth a fifth brighter than stated, read without noise."""
    unread = unread_field(TANK, PANELS, outputs)
    truth = unread.at(PLACES).par_umol * 1.2
    widths, errors = [width(unread.at(PLACES)).mean()], [np.log(1.2)]
    for count in (1, 2, 3):
        light = few(PLACES[:count], truth[:count], outputs).at(PLACES)
        widths.append(width(light).mean())
        errors.append(np.abs(np.log(light.par_umol / truth)).mean())
    assert (np.diff(widths) < 0).all() and (np.diff(errors) < 0).all()
    assert errors[-1] < 0.03


def test_without_stated_outputs_three_readings_carry_no_map():
    with pytest.raises(NotEnoughReadings):
        fit_light_field(PLACES[:3], [300.0, 200.0, 100.0], tank=TANK, fixtures=PANELS)


def test_a_light_nobody_read_is_followed_through_a_change():
    unread = unread_field(TANK, PANELS, RATED)
    after = unread.forecast([PANELS[0], replace(PANELS[1], level=0.5)])
    half = unread_field(TANK, (PANELS[0], replace(PANELS[1], level=0.5)), RATED)
    np.testing.assert_allclose(after.at(PLACES).par_umol, half.at(PLACES).par_umol, rtol=1e-6)
    assert not after.measured and after.summary.method == unread.summary.method


def test_where_to_read_first_is_known_before_any_reading():
    places = next_points(unread_field(TANK, PANELS, BY_WATTS), 3)
    assert places.shape == (3, 3)


def test_few_readings_say_the_error_they_foresee_not_how_they_fit_each_other():
    truth = unread_field(TANK, PANELS, RATED).at(PLACES).par_umol
    assert few(PLACES[:2], truth[:2]).summary.typical_error_percent > 4


@pytest.mark.parametrize("make", [unread_field, planned_field])
def test_in_the_dark_there_is_no_light_to_map(make):
    dark = [replace(panel, level=0.0) for panel in PANELS]
    with pytest.raises(ValueError, match="lit"):
        make(TANK, dark, RATED)


def test_all_readings_of_zero_carry_no_map():
    with pytest.raises(NotEnoughReadings, match="zero"):
        few(PLACES[:2], [0.0, 0.0])
