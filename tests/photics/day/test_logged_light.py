"""Sums of logged light against closed forms; silences are not counted."""

import numpy as np
import pytest

from apps.photics.day.logged_light import logged_light

DAY = 86_400
MINUTES = np.arange(0, 1441) * 60.0


def test_trapezoid_day_is_exact_at_its_corners_and_minutes():
    """2 h up, 8 h at 100, 2 h down: 3.6 mol, in closed form."""
    par = np.interp(MINUTES / 3600, [8, 10, 18, 20], [0, 100, 100, 0])
    found = logged_light(MINUTES, par, start=0, end=DAY)
    assert found.dli_mol == pytest.approx(3.6, abs=1e-12)
    assert found.full_hours == pytest.approx(10.0) and found.is_whole


def test_half_sine_day():
    """Peak x hours x 2/pi x 0.0036 = 13.750987 for 500 over 12 h; minutes cut each arc short."""
    hours = MINUTES / 3600 - 6
    par = 500 * np.where((hours > 0) & (hours < 12), np.sin(np.pi * hours / 12), 0.0)
    # The trapezoid of a sine falls short by (pi / 720)^2 / 12, some 2e-6 of it.
    found = logged_light(MINUTES, par, start=0, end=DAY)
    assert found.dli_mol == pytest.approx(13.750987, rel=3e-6)


def test_triangle_day():
    par = np.interp(MINUTES / 3600, [6, 12, 18], [0, 500, 0])
    assert logged_light(MINUTES, par, start=0, end=DAY).dli_mol == pytest.approx(10.8)


@pytest.mark.parametrize(
    ("par", "hours", "mol"), [(1, 1, 0.0036), (200, 16, 11.52), (1000, 24, 86.4)]
)
def test_published_sums_of_constant_light(par, hours, mol):
    """Torres & Lopez, Purdue Extension HO-238."""
    t = np.linspace(0, hours * 3600, 100)
    assert logged_light(t, np.full(100, par), start=0, end=hours * 3600).dli_mol == pytest.approx(
        mol
    )


def test_windows_share_a_reading_between_them():
    t, par = np.array([0.0, 1000.0, 2000.0]), np.array([0.0, 100.0, 50.0])
    whole = logged_light(t, par, start=0, end=2000).dli_mol
    parts = [logged_light(t, par, start=a, end=b).dli_mol for a, b in ((0, 700), (700, 2000))]
    assert sum(parts) == pytest.approx(whole)


def test_a_silence_is_not_counted_and_told():
    t = np.concatenate([np.arange(0, 6 * 3600, 600), np.arange(12 * 3600, DAY + 1, 600)])
    found = logged_light(t, np.full(len(t), 100.0), start=0, end=DAY)
    assert not found.is_whole
    assert found.covered_hours == pytest.approx(24 - 6 - 1 / 6)
    assert found.dli_mol == pytest.approx(100 * found.covered_hours * 0.0036)


@pytest.mark.parametrize("few", [[], [5]])
def test_nothing_to_sum(few):
    found = logged_light(few, [9] * len(few), start=0, end=10)
    assert (found.dli_mol, found.full_hours, found.covered_hours) == (0, 0, 0)


@pytest.mark.parametrize(
    ("t", "par", "end"), [([0, 0], [1, 1], 9), ([1, 0], [1, 1], 9), ([0, 1], [1], 9), ([0], [1], 0)]
)
def test_unsound_series_are_refused(t, par, end):
    with pytest.raises(ValueError, match=r"\w"):
        logged_light(t, par, start=0, end=end)
