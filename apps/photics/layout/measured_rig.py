"""What a rig fitted to a survey knows beyond that survey: the tank's law and fixtures' outputs."""

from collections.abc import Iterable

import numpy as np

from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.normal import NORMAL_90
from apps.photics.layout.planned_light import AXIAL_TO_PPF
from apps.photics.rig.calibration import Calibrated
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.flux import OF_INTENSITY, flux_of, flux_slopes
from apps.photics.rig.nominal import SHARED
from apps.photics.rig.rig import Rig
from apps.photics.rig.tank_optics import OF_TANK, TankLaw


def fitted_law(calibrated: Calibrated) -> TankLaw:
    """Return the TankLaw of a Calibrated rig: the posterior of its fit to the readings."""
    mean, covariance = calibrated.posterior()
    at = [4 * calibrated.rig.many + k for k in OF_TANK]
    k, pane, bottom = (float(value) for value in mean[at])
    of_k, of_pane, of_bottom = (float(value) for value in np.sqrt(np.diag(covariance)[at]))
    return TankLaw((k, pane, bottom), (of_k, of_pane, of_bottom))


def measured_output(calibrated: Calibrated, numbers: Iterable[int]) -> OutputEstimate:
    """Return the OutputEstimate of like fixtures, by their numbers in a Calibrated rig.

    Their mean at full level [umol/s] with a 90 % interval that allows for how far gain, optic,
    water and panes can be told apart, and for how far the fixtures differ from each other. The
    meter's own error of scale is not in it.
    """
    mean, covariance = calibrated.posterior()
    rig = calibrated.rig
    logs, slopes = zip(*(log_output(rig, mean, k) for k in numbers), strict=True)
    slope = np.mean(slopes, axis=0)
    apart = float(np.var(logs, ddof=1)) if len(logs) > 1 else 0.0
    wide = NORMAL_90 * np.sqrt(slope @ covariance @ slope + apart)
    middle_log = float(np.mean(logs))
    low, middle, high = (float(np.exp(middle_log + by)) for by in (-wide, 0.0, wide))
    return OutputEstimate(middle, low, high, "a survey over this tank", measured=True)


def log_output(rig: Rig, theta: FloatArray, k: int) -> tuple[float, FloatArray]:
    """Return the log output of fixture `k` at full level [log umol/s] and its slopes (4 F + 8,).

    `theta` (4 F + 8,) the rig's parameters; the slopes are the derivatives by each of them.
    """
    many, fixture = rig.many, rig.fixtures[k]
    shared = theta[4 * many :]
    slope = np.zeros(4 * many + SHARED)
    slope[k] = 1.0
    slope[4 * many + OF_INTENSITY] = flux_slopes(fixture, shared, rig.ring)
    output = theta[k] - np.log(rig.levels[k]) + flux_of(fixture, shared, rig.ring) - AXIAL_TO_PPF
    return float(output), slope
