"""Growth: a known rate comes back, chance is not called growth, sizes read from a photo."""

import numpy as np
import pytest
import statsmodels.api as sm

from apps.photics.colour.growth import DAYS_PER_MONTH, growth, outline_size

DAYS = np.arange(0, 360, 40.0)


def test_known_rate_comes_back():
    sizes = 3.0 * 1.04 ** (DAYS / DAYS_PER_MONTH)
    found = growth(DAYS, sizes, sd_log=np.full(len(DAYS), 0.03))
    assert found.factor == pytest.approx(1.04) and found.sure


def test_statsmodels_agrees_when_sizes_scatter_more_than_told():
    rng = np.random.default_rng(1)
    sizes = 3.0 * 1.02 ** (DAYS / DAYS_PER_MONTH) * np.exp(rng.normal(0, 0.1, len(DAYS)))
    sd = np.linspace(0.02, 0.05, len(DAYS))
    found = growth(DAYS, sizes, sd_log=sd)
    fitted = sm.WLS(np.log(sizes), sm.add_constant(DAYS / DAYS_PER_MONTH), 1 / sd**2).fit()
    assert np.log(found.factor) == pytest.approx(fitted.params[1])
    low, high = fitted.conf_int(0.10)[1]
    assert (np.log(found.low), np.log(found.high)) == pytest.approx((low, high))


def test_interval_holds_the_truth_nine_times_in_ten():
    rng = np.random.default_rng(2)
    held = []
    for _ in range(1000):
        sizes = 3.0 * 1.02 ** (DAYS / DAYS_PER_MONTH) * np.exp(rng.normal(0, 0.04, len(DAYS)))
        found = growth(DAYS, sizes, sd_log=np.full(len(DAYS), 0.04))
        held.append(found.low <= 1.02 <= found.high)
    assert 0.88 <= np.mean(held) <= 0.97


def test_three_sizes_on_a_line_by_chance_are_not_called_exact():
    found = growth([0, 30, 60], [3.0, 3.0, 3.0], sd_log=[0.05] * 3)
    assert found.low < 0.95 and found.high > 1.05 and not found.sure


@pytest.mark.parametrize("days", [[0, 30], [0, 0, 30], []])
def test_too_few_days_tell_nothing(days):
    assert growth(days, np.full(len(days), 3.0), sd_log=np.full(len(days), 0.03)) is None


def test_size_of_nothing_is_refused():
    with pytest.raises(ValueError, match="above zero"):
        growth([0, 30, 60], [3.0, 0.0, 3.0], sd_log=[0.05] * 3)


def test_square_beside_a_scale():
    square = [(0.2, 0.2), (0.4, 0.2), (0.4, 0.6), (0.2, 0.6)]
    # A picture twice as wide as high: the square is 200 px a side, the scale 100 px for 2 cm.
    across, area, sd = outline_size(
        square, [(0.5, 0.5), (0.6, 0.5)], scale_cm=2.0, width_px=1000, height_px=500
    )
    assert across == pytest.approx(4 * np.sqrt(2)) and area == pytest.approx(16.0)
    assert 0.05 < sd < 0.1


def test_scale_without_length_is_refused():
    with pytest.raises(ValueError, match="no length"):
        outline_size([(0, 0), (1, 0), (0, 1)], [(0.5, 0.5), (0.5, 0.5)], scale_cm=1,
                     width_px=100, height_px=100)  # fmt: skip
