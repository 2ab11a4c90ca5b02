"""The likeliest brightness of a window, by the evidence of fits."""

from dataclasses import dataclass

import numpy as np
import pytest

from apps.photics.ground.scene import Tank, Window
from apps.photics.rig.window_fit import DEVIATION, likeliest_window


@dataclass(frozen=True)
class Tried:
    evidence: float
    par_umol: float


def chosen(true_umol, *, sharp, stated_umol=20.0):
    """Return what is chosen where readings speak for `true_umol` so `sharp`ly [1/log^2]."""

    def fitted(tank, start):
        off = np.log(tank.window.par_umol / true_umol)
        return Tried(-0.5 * sharp * off**2, tank.window.par_umol)

    window = Window("left", stated_umol)
    return likeliest_window(Tank(60, 40, 40, window=window), window, fitted).par_umol


@pytest.mark.parametrize("true_umol", [14.0, 20.0, 27.0])
def test_sharp_readings_decide(true_umol):
    assert chosen(true_umol, sharp=1e4) == pytest.approx(true_umol, rel=0.01)


def test_readings_that_say_nothing_leave_what_was_stated():
    assert chosen(60.0, sharp=0.0) == pytest.approx(20.0)


def test_both_are_weighed():
    # As sure as what was stated: half way between, on a log scale.
    between = chosen(30.0, sharp=1.0 / DEVIATION**2)
    assert between == pytest.approx(np.sqrt(20.0 * 30.0), rel=1e-6)


def test_it_is_never_far_beyond_what_was_tried():
    assert chosen(500.0, sharp=1e3) < 20.0 * np.exp(0.81)
