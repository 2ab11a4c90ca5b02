"""What a rig fitted to a survey tells beyond that survey: the tank's law and fixtures' outputs."""

import numpy as np

from apps.photics.layout.planned_light import AXIAL_TO_PPF, NORMAL_90
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.flux import OF_INTENSITY, flux_of, flux_slopes
from apps.photics.rig.rig import SHARED
from apps.photics.rig.tank_optics import OF_TANK, TankLaw


def fitted_law(calibrated):
    """Return the TankLaw of a Calibrated rig: the posterior of its fit to the readings."""
    mean, covariance = calibrated.posterior()
    at = [4 * calibrated.rig.many + k for k in OF_TANK]
    return TankLaw(
        tuple(float(value) for value in mean[at]),
        tuple(float(value) for value in np.sqrt(np.diag(covariance)[at])),
    )


def measured_output(calibrated, numbers):
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
    told = float(np.mean(logs))
    low, middle, high = (float(np.exp(told + by)) for by in (-wide, 0.0, wide))
    return OutputEstimate(middle, low, high, "a survey over this tank")


def log_output(rig, theta, k):
    """Return the log output of a fixture at full level and its derivatives by theta (4 F + 8,)."""
    many, fixture = rig.many, rig.fixtures[k]
    shared = theta[4 * many :]
    slope = np.zeros(4 * many + SHARED)
    slope[k] = 1.0
    slope[4 * many + OF_INTENSITY] = flux_slopes(fixture, shared)
    told = theta[k] - np.log(rig.levels[k]) + flux_of(fixture, shared) - AXIAL_TO_PPF
    return float(told), slope
