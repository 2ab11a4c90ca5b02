"""Output of a fixture little is known of, ageing, and salt between cleanings."""

import doctest

import numpy as np
import pytest
from scipy.stats import linregress

from apps.photics.day.ageing import aged_proportion
from apps.photics.rig import fixture_light as module
from apps.photics.rig.fixture_light import fouling_rate, output_estimate


def width(found):
    return (found.high_umol_s - found.low_umol_s) / found.ppf_umol_s


def test_less_told_is_a_wider_guess():
    told = output_estimate(watts=100, ppf_umol_s=220, efficacy_umol_j=2)
    some = output_estimate(watts=100, efficacy_umol_j=2)
    little = output_estimate(watts=100)
    assert (told.ppf_umol_s, some.ppf_umol_s) == (220, 200)
    assert width(told) < width(some) < width(little)


def test_nothing_told_is_no_guess():
    assert output_estimate() is None
    assert output_estimate(efficacy_umol_j=2) is None


def test_watts_alone_give_what_measured_lamps_gave():
    """Nelson & Bugbee 2014: LED fixtures 0.89 to 1.70, best fluorescent 0.95, halide 1.46."""
    led, tube, halide = (output_estimate(kind=k, watts=100) for k in ("led", "tube", "halide"))
    assert led.ppf_umol_s == pytest.approx(135)
    assert led.low_umol_s <= 89 and led.high_umol_s >= 170
    assert tube.low_umol_s <= 95 <= tube.high_umol_s
    assert halide.low_umol_s <= 146 <= halide.high_umol_s


def test_tube_gives_less_than_led_for_the_same_watts():
    tube, led = (output_estimate(kind=kind, watts=54).ppf_umol_s for kind in ("tube", "led"))
    assert tube < led


def test_ageing_compounds_and_its_hours_are_the_inverse():
    left = aged_proportion(np.array([0, 1000, 3500]), loss_percent=8)
    assert left[:2].tolist() == [1, 0.92]
    assert 1000 * np.log(left[2]) / np.log(0.92) == pytest.approx(3500, rel=1e-12)


def test_tube_without_loss_never_gets_there():
    assert aged_proportion(9000, loss_percent=0) == 1


def test_known_fouling_is_recovered_with_its_stated_coverage():
    # 400 made-up histories of five surveys; 90 % intervals should hold the truth in 86-94 %
    # (three standard errors of 400 draws).
    draws, truth = np.random.default_rng(5), 0.002
    days, deviation = np.array([10.0, 25, 40, 60, 90]), np.full(5, 0.03)
    held = 0
    for _ in range(400):
        found = fouling_rate(days, -truth * days + draws.normal(0, deviation), deviation)
        held += found.low <= truth <= found.high
    assert 0.86 <= held / 400 <= 0.945


def test_equal_deviations_are_plain_least_squares_through_the_origin():
    days, ratio = np.array([10.0, 30, 80]), np.array([-0.05, -0.01, -0.2])
    found = fouling_rate(days, ratio, np.full(3, 0.01))
    # A regression over the points and their mirror images goes through the origin.
    mirrored = linregress(np.r_[days, -days], np.r_[ratio, -ratio])
    assert found.rate == pytest.approx(-mirrored.slope, rel=1e-12)


def test_surveys_that_scatter_widen_the_interval():
    days, deviation = [30, 60, 90], [0.01] * 3
    calm = fouling_rate(days, [-0.03, -0.06, -0.09], deviation)
    wild = fouling_rate(days, [-0.2, 0.1, -0.09], deviation)
    assert wild.high - wild.low > 5 * (calm.high - calm.low)
    assert calm.shows_loss and not wild.shows_loss


def test_loss_and_factor_tell_the_same():
    found = fouling_rate([30], [-0.1], [0.02])
    assert 1 - found.monthly_loss[0] == pytest.approx(found.factor(30)[0]) == np.exp(-0.1)
    assert found.factor(30)[1] < found.factor(30)[0] < found.factor(30)[2]


def test_surveys_on_clean_lights_tell_nothing():
    assert fouling_rate([0, 0], [0.01, -0.01], [0.02, 0.02]) is None
    assert fouling_rate([], [], []) is None


@pytest.mark.parametrize(
    ("days", "ratio", "deviation"), [([-1], [0], [1]), ([1], [np.nan], [1]), ([1], [0], [0])]
)
def test_surveys_that_cannot_be_are_refused(days, ratio, deviation):
    with pytest.raises(ValueError):
        fouling_rate(days, ratio, deviation)


def test_docstring_examples():
    assert doctest.testmod(module).failed == 0
