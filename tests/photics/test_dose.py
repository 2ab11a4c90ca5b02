"""DLI against its published worked values."""

import doctest
import math

import numpy as np
import pytest

from apps.photics import dose


# Purdue Extension HO-238 (Torres & Lopez) defines DLI; these rows stand in several extension
# tables and follow from 1 umol m-2 s-1 x 1 h = 0.0036 mol m-2.
@pytest.mark.parametrize(
    ("par", "hours", "expected"),
    [
        (1, 1, 0.0036),
        (1, 24, 0.0864),
        (200, 16, 11.52),
        (1000, 16, 57.60),
        (100, 12, 4.32),
        (600, 12, 25.92),
        (38.1, 12, 1.64592),
    ],
)
def test_constant_light(par, hours, expected):
    assert dose.dli_mol(par, full_hours=hours) == pytest.approx(expected, rel=1e-12)


def test_ramped_day_is_exact():
    # 2 h up, 8 h at 100, 2 h down: 100 x 10 h x 0.0036 = 3.6, in closed form.
    hours = dose.ramped_day_hours(day_hours=12, ramp_hours=2)
    assert dose.dli_mol(100, full_hours=hours) == pytest.approx(3.6, rel=1e-12)


def test_half_sine_day_is_reached_by_fine_corners():
    # peak x hours x 2/pi x 0.0036, closed form: 13.750987 for 500 over 12 h.
    t = np.linspace(0, 12, 4001)
    hours = dose.curve_hours(t, np.sin(math.pi * t / 12))
    # The chords of 4,000 pieces lie below the sine by about 5e-8 of it.
    assert dose.dli_mol(500, full_hours=hours) == pytest.approx(13.750987, rel=1e-6)


def test_dark_day_is_zero():
    assert dose.ramped_day_hours(day_hours=0, ramp_hours=0) == 0


@pytest.mark.parametrize(("day", "ramp"), [(3, 2), (8, -1)])
def test_ramps_that_do_not_fit_are_refused(day, ramp):
    with pytest.raises(ValueError, match="ramps"):
        dose.ramped_day_hours(day_hours=day, ramp_hours=ramp)


def test_curve_refuses_hours_that_go_back():
    with pytest.raises(ValueError, match="ascend"):
        dose.curve_hours([0, 5, 4], [0, 1, 0])


def test_curve_refuses_a_negative_level():
    with pytest.raises(ValueError, match="below zero"):
        dose.curve_hours([0, 5], [0, -1])


def test_docstring_examples():
    assert doctest.testmod(dose).failed == 0
