"""Why a point has the light it has: from which fixture, straight or by a pane, how spread."""

from dataclasses import dataclass

import numpy as np

from apps.photics.field.light_model import RigModel
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.estimate import Estimate
from apps.photics.optics.daylight import daylight_at


@dataclass(frozen=True)
class Contribution:
    """What one fixture adds at a point [umol m-2 s-1]."""

    fixture: int  # index among the rig's fixtures that were lit
    name: str
    direct_umol: float
    by_panes_umol: float
    by_bottom_umol: float


@dataclass(frozen=True)
class Explanation:
    """The PAR at a point in parts; contributions, correction and daylight add up to par_umol."""

    par_umol: float
    low_umol: float
    high_umol: float
    extrapolated: bool
    contributions: tuple[Contribution, ...]  # empty where no rig carries the map
    correction_umol: float  # what the readings nearby add to or take from the fixtures' light
    guessed: bool  # True where the fixtures are a guess from the readings
    daylight_umol: float = 0.0  # by the tank's window


def explain_point(
    fit: RigModel | None, point_cm: FloatArray, estimate: Estimate, guessed: bool
) -> Explanation:
    """Return the Explanation of an Estimate at one point (1, 3), by a rig's model or None.

    guessed: whether its fixtures are a guess from the readings.
    """
    par, low, high = (
        float(array[0]) for array in (estimate.par_umol, estimate.low_umol, estimate.high_umol)
    )
    contributions: tuple[Contribution, ...] = ()
    daylight = 0.0
    if fit is not None:
        daylight = float(daylight_at(point_cm, fit.rig.tank, fit.rig.rocks)[0])
        direct, panes, bottom = fit.rig.light_by_origin(point_cm, fit.theta)
        contributions = tuple(
            Contribution(
                k, fixture.name, float(direct[0, k]), float(panes[0, k]), float(bottom[0, k])
            )
            for k, fixture in enumerate(fit.rig.fixtures)
        )
    carried = sum(c.direct_umol + c.by_panes_umol + c.by_bottom_umol for c in contributions)
    correction = par - carried - daylight if contributions else 0.0
    return Explanation(
        par,
        low,
        high,
        bool(estimate.extrapolated[0]),
        contributions,
        correction,
        guessed,
        daylight,
    )


def direct_proportion(fit: RigModel | None, points_cm: FloatArray) -> FloatArray:
    """Return the proportion of the strongest straight light at points (m, 3), (m,) [1].

    By definition: of all light there. nan without a rig.
    """
    if fit is None:
        return np.full(len(points_cm), np.nan)
    direct, panes, bottom = fit.rig.light_by_origin(points_cm, fit.theta)
    everything = (direct + panes + bottom).sum(axis=1) + daylight_at(
        points_cm, fit.rig.tank, fit.rig.rocks
    )
    proportion: FloatArray = direct.max(axis=1) / everything
    return proportion
