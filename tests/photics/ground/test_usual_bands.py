"""The usual bands: daily light by group, and the PAR it is in a day's hours."""

import pytest

from apps.photics import limits
from apps.photics.ground.usual_bands import (
    USUAL_DLI_MOL,
    band_dli_mol,
    band_hours,
    band_umol,
    dli_band_umol,
)

# By hand from the definition, PAR = mol x 1e6 / (3600 x hours), to the nearest 5: at 10 h the SPS
# band is 6.5e6 / 36000 = 180.6 to 11.3e6 / 36000 = 313.9.
BY_HAND = [
    (9.0, {"soft": (50, 150), "lps": (75, 150), "sps": (200, 350), "other": (50, 200)}),
    (10.0, {"soft": (45, 135), "lps": (65, 135), "sps": (180, 315), "other": (45, 180)}),
    (7.5, {"soft": (60, 180), "lps": (90, 180), "sps": (240, 420), "other": (60, 240)}),
]


@pytest.mark.parametrize(("hours", "bands"), BY_HAND)
def test_a_usual_band_is_its_daily_light_in_the_days_hours(hours, bands):
    assert {group: band_umol(group, full_hours=hours) for group in USUAL_DLI_MOL} == bands


@pytest.mark.parametrize("group", sorted(USUAL_DLI_MOL))
@pytest.mark.parametrize("hours", [4.0, 6.0, 8.0, 9.0, 12.0])
def test_rounding_moves_an_end_by_two_and_a_half_umol_at_most(group, hours):
    exact = [mol * 1e6 / (3600 * hours) for mol in USUAL_DLI_MOL[group]]
    assert band_umol(group, full_hours=hours) == pytest.approx(exact, abs=2.5)


@pytest.mark.parametrize("hours", [None, 0.0, 9.0])
def test_where_nobody_stated_hours_nine_are_taken(hours):
    assert band_hours(hours) == 9.0 and band_umol("sps", full_hours=hours) == (200, 350)


@pytest.mark.parametrize(("hours", "counts_as"), [(1.9, 2.0), (2.1, 2.1)])
def test_a_day_shorter_than_two_hours_counts_as_two(hours, counts_as):
    low, high = band_umol("sps", full_hours=hours)
    assert band_hours(hours) == counts_as and low < high <= limits.BAND_MAX_UMOL


def test_the_daily_light_of_a_usual_band_is_the_same_wherever_it_is_typed():
    assert dli_band_umol((6.5, 11.3), full_hours=10.0) == (180.0, 315.0)
    # Of any other band nothing is rounded: 6 mol in 10 h are PAR 166.7.
    assert dli_band_umol((6.0, 12.0), full_hours=10.0) == pytest.approx((166.67, 333.33), abs=0.01)


@pytest.mark.parametrize("group", sorted(USUAL_DLI_MOL))
@pytest.mark.parametrize("hours", [7.5, 8.0, 9.0, 10.0])
def test_the_par_of_a_usual_band_leads_back_to_its_daily_light(group, hours):
    ends = band_umol(group, full_hours=hours)
    assert band_dli_mol(ends, full_hours=hours) == USUAL_DLI_MOL[group]


def test_the_daily_light_of_a_band_of_ones_own_is_exact():
    assert band_dli_mol((100.0, 210.0), full_hours=10.0) == pytest.approx((3.6, 7.56))
