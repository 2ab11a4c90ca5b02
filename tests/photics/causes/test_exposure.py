"""The light a coral was used to."""

import numpy as np
import pytest

from apps.photics.causes.exposure import NEW_LIGHT_PROPORTION, acclimated_light, coral_exposure


def test_steady_light_is_what_a_coral_is_used_to():
    exposure = coral_exposure([1, 1, 1], [0, 7, 30], [8.0, 8.0, 8.0])
    assert exposure.log2_ratio.tolist() == [0.0, 0.0, 0.0]


def test_used_to_light_reaches_a_new_level_by_its_time_constant():
    used = acclimated_light([0, 1e-6, 16], [5.0, 10.0, 10.0], time_constant_days=16)
    assert used[2] == pytest.approx(10 - 5 * np.exp(-1), rel=1e-6)


def test_fresh_step_counts_new_light_for_its_share_of_the_gap():
    used = acclimated_light([0, 8], [4.0, 8.0], time_constant_days=16)
    assert used[1] == pytest.approx(8 - 4 * np.exp(-8 * NEW_LIGHT_PROPORTION / 16))


def test_rise_and_fall_are_told_apart():
    exposure = coral_exposure([1, 1, 2, 2], [0, 7, 0, 7], [4.0, 8.0, 8.0, 4.0])
    assert exposure.rise[1] > 0.7 and exposure.fall[1] == 0
    assert exposure.fall[3] > 0.7 and exposure.rise[3] == 0


def test_corals_do_not_mix():
    exposure = coral_exposure([1, 2, 1, 2], [0, 0, 7, 7], [4.0, 16.0, 4.0, 16.0])
    assert np.ptp(exposure.log2_ratio) == 0


def test_a_dark_spot_has_a_finite_ratio():
    assert np.isfinite(coral_exposure([1, 1, 2], [0, 7, 0], [0.0, 8.0, 8.0]).log2_ratio).all()


@pytest.mark.parametrize(("days", "constant"), [([0, 0], 16), ([7, 0], 16), ([0, 7], 0)])
def test_impossible_history_is_refused(days, constant):
    with pytest.raises(ValueError):
        acclimated_light(days, [1.0, 2.0], time_constant_days=constant)
