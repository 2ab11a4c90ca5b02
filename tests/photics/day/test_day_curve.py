"""Day curves: exact sums over any window, nights, odd days, and what is refused."""

import doctest
import math
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from apps.photics.day import curve as module
from apps.photics.day.curve import (
    DARK,
    DayCurve,
    DayCurveError,
    Stretch,
    day_curve,
    ramped_day,
    stretches,
)
from apps.photics.ground.dose import dli_mol

EXACT = 1e-12
TRAPEZOID = ((480, 0), (600, 1), (1080, 1), (1200, 0))


@st.composite
def curves(draw):
    """Any curve of a few points, straight or smooth, that may pass midnight."""
    count = draw(st.integers(2, 6))
    first = draw(st.integers(0, 1439))
    steps = draw(st.lists(st.integers(0, 1440 // count), min_size=count - 1, max_size=count - 1))
    minutes = np.cumsum([first, *steps])
    levels = draw(st.lists(st.sampled_from([0, 0.1, 0.25, 0.5, 1]), min_size=count, max_size=count))
    ramp = draw(st.sampled_from(list(module.RAMPS)))
    return DayCurve(tuple(zip(minutes.tolist(), levels, strict=True)), ramp=ramp)


# Constant rows of the published DLI tables (definition: Torres & Lopez, Purdue Extension HO-238).
@pytest.mark.parametrize(
    ("par", "hours", "expected"),
    [(1, 24, 0.0864), (300, 16, 17.28), (2000, 12, 86.40), (38.1, 12, 1.64592), (200, 10, 7.2)],
)
def test_timer_day_gives_the_published_dose(par, hours, expected):
    curve = ramped_day(start_minute=0, day_hours=hours, ramp_hours=0)
    assert dli_mol(par, full_hours=curve.full_hours) == pytest.approx(expected, rel=EXACT)


# Closed forms: trapezoid 100 x 10 h; half-sine peak x h x 2 / pi; sin-squared and triangle half.
@pytest.mark.parametrize(
    ("par", "ramp_hours", "ramp", "expected"),
    [
        (100, 2, "straight", 3.6),
        (500, 6, "straight", 10.8),
        (500, 6, "half-sine", 500 * 12 * 2 / math.pi * 0.0036),
        (500, 6, "sin-squared", 10.8),
    ],
)
def test_shaped_day_gives_the_closed_form(par, ramp_hours, ramp, expected):
    curve = ramped_day(start_minute=420, day_hours=12, ramp_hours=ramp_hours, ramp=ramp)
    assert dli_mol(par, full_hours=curve.full_hours) == pytest.approx(expected, rel=EXACT)


def test_half_sine_value_as_published():
    # Computed once more by an independent program: 13.7509870831 for 500 over 12 h.
    curve = ramped_day(start_minute=420, day_hours=12, ramp_hours=6, ramp="half-sine")
    assert dli_mol(500, full_hours=curve.full_hours) == pytest.approx(13.7509870831, abs=1e-10)


def test_sampled_half_sine_sums_its_chords():
    # n chords of a half-sine: T / n x sum of sin(pi k / n) = (T / n) / tan(pi / (2 n)).
    n, hours = 48, 12.0
    k = np.arange(n + 1)
    # sin(pi) is 1e-16, not the 0 that it stands for, and may be below it.
    levels = np.abs(np.sin(math.pi * k / n))
    curve = DayCurve(tuple(zip(360 + k * 60 * hours / n, levels, strict=True)))
    expected = hours / n / math.tan(math.pi / (2 * n))
    assert curve.full_hours == pytest.approx(expected, rel=EXACT)


@pytest.mark.parametrize("ramp", list(module.RAMPS))
def test_window_inside_a_ramp_is_exact(ramp):
    curve = DayCurve(((600, 0.2), (720, 0.9), (780, 0.3)), ramp=ramp)
    found = curve.hours_between(630, seconds=6600)
    parts = [quad(curve.level_at, a, b, epsabs=1e-13)[0] for a, b in ((630, 720), (720, 740))]
    assert found == pytest.approx(sum(parts) / 60, rel=1e-11)  # quad's own accuracy


def test_night_shift_passes_midnight():
    curve = day_curve([(1080, 0), (1200, 1), (240, 1), (360, 0)])
    assert curve.full_hours == pytest.approx(10, rel=EXACT)
    # From midnight to 03:00 and from 18:00 to 20:00 of one calendar day.
    assert curve.hours_between(0, seconds=3 * 3600) == pytest.approx(3, rel=EXACT)
    assert curve.hours_between(1080, seconds=2 * 3600) == pytest.approx(1, rel=EXACT)
    assert curve.level_at([0, 300, 720, 1140]).tolist() == [1, 0.5, 0, 0.5]


def local_day(zone, year, month, day):
    """Return the stretches of a calendar day as a bridge module would make them."""
    zone, epoch = ZoneInfo(zone), datetime(1970, 1, 1, tzinfo=UTC)
    noons = [datetime(year, month, day, tzinfo=zone) + timedelta(days=d) for d in (0, 1)]
    start, end = (int((n.astimezone(UTC) - epoch).total_seconds()) for n in noons)
    table = [
        (at, int(datetime.fromtimestamp(at, zone).utcoffset().total_seconds()))
        for at in range(start, end, 1800)
    ]
    return stretches(start, end, table)


@pytest.mark.parametrize(
    ("day", "hours", "lit"),
    # Europe/Berlin 2026: 29 March skips 02-03, 25 October runs 02-03 twice.
    [((2026, 3, 28), 24, 4), ((2026, 3, 29), 23, 3), ((2026, 10, 25), 25, 5)],
)
def test_day_of_odd_length_is_summed_over_its_true_hours(day, hours, lit):
    whole = local_day("Europe/Berlin", *day)
    assert sum(s.seconds for s in whole) == hours * 3600
    # Full light from 23:00 to 02:00, then half until 04:00: the odd hour burns at half.
    curve = day_curve([(1380, 1), (120, 1), (120, 0.5), (240, 0.5)])
    assert curve.hours_over(whole) == pytest.approx(3 + 0.5 * (lit - 2), rel=EXACT)


def test_daytime_curve_is_untouched_by_the_odd_hour():
    curve = DayCurve(TRAPEZOID)
    assert curve.hours_over(local_day("Europe/Berlin", 2026, 3, 29)) == pytest.approx(10, rel=EXACT)


def test_stretches_need_an_offset_that_holds_at_the_start():
    with pytest.raises(ValueError, match="must hold at the start"):
        stretches(0, 10, [(5, 0)])


def test_stretches_leave_out_offsets_outside_the_window():
    table = [(-100, 0), (50, 3600), (500, 0)]
    assert stretches(60, 100, table) == (Stretch(61.0, 40),)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(curves(), st.integers(0, 1439), st.integers(0, 200_000), st.integers(0, 200_000))
def test_windows_add_up(curve, minute, first, second):
    whole = curve.hours_between(minute, seconds=first + second)
    parts = curve.hours_between(minute, seconds=first)
    parts += curve.hours_between(minute + first / 60, seconds=second)
    assert whole == pytest.approx(parts, abs=1e-11)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(curves(), st.integers(0, 1439))
def test_any_whole_day_is_the_full_hours(curve, minute):
    found = curve.hours_between(minute, seconds=86_399) + curve.hours_between(
        minute + 86_399 / 60, seconds=1
    )
    assert found == pytest.approx(curve.full_hours, abs=1e-11)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(curves())
def test_hours_above_half_agree_with_counted_minutes(curve):
    at = np.arange(0, 1440, 0.25)
    counted = np.mean(curve.level_at(at) >= curve.peak / 2) * 24 if curve.peak else 0
    # Each crossing may be off by the quarter minute of the count.
    assert curve.hours_above_half == pytest.approx(counted, abs=0.25 / 60 * 12)


def test_figures_of_a_trapezoid():
    curve = DayCurve(TRAPEZOID)
    figures = curve.photoperiod_hours, curve.peak, curve.hours_above_half
    assert figures == (12.0, 1.0, 10.0)


def test_windows_are_summed_as_arrays():
    curve = DayCurve(TRAPEZOID)
    found = curve.hours_between(np.array([0, 540]), seconds=np.array([86_400, 3600]))
    np.testing.assert_allclose(found, [10, 0.75], rtol=EXACT)


def test_dark_curve_has_no_light():
    figures = DARK.full_hours, DARK.peak, DARK.photoperiod_hours, DARK.hours_above_half
    assert figures == (0, 0, 0, 0)
    assert DARK.level_at(700) == 0 and DARK.hours_between(0, seconds=90_000) == 0


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ([(600, 0), (540, 1), (900, 1)], "longer than a day"),
        ([(600, 0), (660, 1), (630, 0)], "10:30 comes after 11:00"),
        ([(600, 0), (1500, 1)], "between 00:00 and 24:00"),
        ([(600, 0), (700, 1.2)], "120 % at 11:40"),
        ([(600, 0), (700, -0.1)], "-10 % at 11:40"),
        ([(600, 0), (700, math.nan)], "must be numbers"),
        ([(math.nan, 0), (700, 1)], "between 00:00 and 24:00"),
        ([(600, 1)], "2 to 96 points; this one has 1"),
        ([(m, 0.5) for m in range(97)], "this one has 97"),
        ([(0, 1), (1440, 1)], "night must be dark"),
    ],
)
def test_odd_points_are_refused_in_plain_words(points, said):
    with pytest.raises(DayCurveError, match=said):
        day_curve(points)


def test_every_wrong_level_is_named():
    with pytest.raises(DayCurveError) as refused:
        day_curve([(600, 2), (700, 3)])
    assert len(refused.value.problems) == 2


def test_named_moonlight_may_burn_all_night():
    curve = day_curve([(0, 0.02), (1440, 0.02)], moonlight=True, name="moonlight")
    assert curve.full_hours == pytest.approx(0.48, rel=EXACT)


def test_bright_moonlight_is_refused():
    with pytest.raises(DayCurveError, match="Moonlight stays at 5 % or below"):
        day_curve([(0, 0.2), (1440, 0.2)], moonlight=True)


def test_unknown_ramp_is_refused():
    with pytest.raises(DayCurveError, match="A ramp is one of straight"):
        DayCurve(TRAPEZOID, ramp="cubic")


def test_ramps_that_do_not_fit_are_refused():
    with pytest.raises(DayCurveError, match="Two ramps must fit"):
        ramped_day(start_minute=0, day_hours=3, ramp_hours=2)


def test_midnight_may_be_typed_either_way():
    late, early = day_curve([(1320, 1), (1440, 1)]), day_curve([(1320, 1), (0, 1)])
    assert late.full_hours == early.full_hours == 2


def test_docstring_examples():
    assert doctest.testmod(module).failed == 0
