"""DLI against its published worked values."""

import doctest

import pytest

from apps.photics.ground import dose


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


def test_dark_day_is_zero():
    assert dose.ramped_day_hours(day_hours=0, ramp_hours=0) == 0


@pytest.mark.parametrize(("day", "ramp"), [(3, 2), (8, -1)])
def test_ramps_that_do_not_fit_are_refused(day, ramp):
    with pytest.raises(ValueError, match="ramps"):
        dose.ramped_day_hours(day_hours=day, ramp_hours=ramp)


def test_docstring_examples():
    assert doctest.testmod(dose).failed == 0
