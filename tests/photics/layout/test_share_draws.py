"""Shares in band by draws: what is certain, what errs together, what errs point by point."""

import numpy as np
import pytest
from scipy.stats import norm

from apps.photics.layout.light.share_draws import drawn_zone

FLAT = np.log(np.full(50, 200.0))


def test_light_that_is_known_has_one_share():
    log_par = np.log([100.0, 150.0, 200.0, 400.0])
    drawn = drawn_zone(log_par, np.zeros((4, 1)), low_umol=120, high_umol=300, common=0.0)
    assert (drawn.surely, drawn.likely, drawn.perhaps) == (0.5, 0.5, 0.5)
    assert drawn.mean_low_umol == pytest.approx(212.5) == drawn.mean_high_umol


def test_the_mean_of_an_even_zone_has_the_interval_of_its_one_cause():
    drawn = drawn_zone(FLAT, np.full((50, 1), 0.2), low_umol=1, high_umol=1e4, common=0.0)
    wide = 200.0 * np.exp(0.2 * norm.ppf([0.05, 0.95]))
    # Four hundred draws put the ends within a few percent.
    assert (drawn.mean_low_umol, drawn.mean_high_umol) == pytest.approx(tuple(wide), rel=0.04)


def test_what_errs_together_leaves_all_or_nothing():
    drawn = drawn_zone(FLAT, np.full((50, 1), 0.4), low_umol=150, high_umol=np.inf, common=0.0)
    # ln(200/150) is 0.72 deviations: in band in 76 of 100 draws, all of it or none.
    assert (drawn.surely, drawn.likely, drawn.perhaps) == (0.0, 1.0, 1.0)


def test_what_errs_point_by_point_leaves_a_sure_share():
    drawn = drawn_zone(FLAT, 0.4 * np.eye(50), low_umol=150, high_umol=np.inf, common=0.0)
    assert 0.6 < drawn.surely < norm.cdf(0.72) < drawn.perhaps < 0.9


def test_no_top_and_a_high_top_are_alike():
    tops = [
        drawn_zone(FLAT, np.full((50, 1), 0.2), low_umol=180, high_umol=top, common=0.05)
        for top in (np.inf, 1e6)
    ]
    assert tops[0] == tops[1]
