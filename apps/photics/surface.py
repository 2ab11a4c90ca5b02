"""The light field: PAR with its interval at every point of a tank, from a handful of readings."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from .estimate import (
    Disagreement,
    Estimate,
    FieldSummary,
    GridEstimate,
    NotEnoughReadings,
    SectionEstimate,
)
from .reach import Reach, reach_of
from .readings import prepare_readings
from .scene import Tank
from .trend import fit_smooth

__all__ = [
    "Disagreement",
    "Estimate",
    "FieldSummary",
    "GridEstimate",
    "LightField",
    "NotEnoughReadings",
    "SectionEstimate",
    "fit_light_field",
]

# Share of the truth the interval must hold [1].
COVERAGE = 0.90
# A reading disagrees when its misfit is this many deviations and also this large [log PAR].
DISAGREE_DEVIATIONS = 3.5
DISAGREE_LOG = 0.3


@dataclass(frozen=True)
class LightField:
    """PAR anywhere in the water; made by `fit_light_field`."""

    tank: Tank
    model: object
    reach: Reach
    summary: FieldSummary

    def at(self, points_cm):
        """Return the Estimate at points (m, 3) or (3,) of x, y, depth [cm]; arrays (m,)."""
        points = np.atleast_2d(np.asarray(points_cm, float))
        mean, deviation = self.model.predict(points)
        half = student.ppf(0.5 + COVERAGE / 2, self.model.degrees) * deviation
        return Estimate(
            np.exp(mean), np.exp(mean - half), np.exp(mean + half), self.reach.beyond(points)
        )

    def grid(self, depth_cm, step_cm):
        """Return the GridEstimate at one depth, nodes no further apart than step_cm [cm]."""
        x, y = nodes(self.tank.length_cm, step_cm), nodes(self.tank.width_cm, step_cm)
        parts = self.cut(x[None, :], y[:, None], depth_cm)
        return GridEstimate(x, y, float(depth_cm), *parts)

    def section(self, y_cm, step_cm):
        """Return the SectionEstimate on the upright cut at one y, nodes at most step_cm apart."""
        x, depth = nodes(self.tank.length_cm, step_cm), nodes(self.tank.depth_cm, step_cm)
        parts = self.cut(x[None, :], y_cm, depth[:, None])
        return SectionEstimate(x, depth, float(y_cm), *parts)

    def cut(self, x_cm, y_cm, depth_cm):
        """Return the four Estimate arrays on broadcast coordinates, shaped like them."""
        axes = np.broadcast_arrays(x_cm, y_cm, depth_cm)
        found = self.at(np.stack([axis.ravel() for axis in axes], axis=1))
        arrays = (found.par_umol, found.low_umol, found.high_umol, found.extrapolated)
        return tuple(array.reshape(axes[0].shape) for array in arrays)


def nodes(length_cm, step_cm):
    """Return evenly spaced nodes from wall to wall, at most step_cm apart [cm]."""
    if not step_cm > 0:
        raise ValueError("The step of a grid must be above zero.")
    return np.linspace(0.0, length_cm, int(np.ceil(length_cm / step_cm)) + 1)


def fit_light_field(points_cm, par_umol, *, tank, fixtures=(), rocks=(), spread=None):
    """Fit the light field of a tank to meter readings.

    points_cm (n, 3): x, y, depth [cm]; par_umol (n,) [umol m-2 s-1]; spread (n,): deviation of
    the values averaged into each reading, nan where unknown. Raises NotEnoughReadings below
    four different spots and ValueError for values no meter gives. Same input, same output.
    """
    readings = prepare_readings(points_cm, par_umol, spread, tank)
    model = fit_smooth(readings.points_cm, readings.log_par, readings.extra_variance, tank)
    return LightField(tank, model, reach_of(readings.points_cm, tank), summarise(readings, model))


def summarise(readings, model):
    """Return the FieldSummary of a fitted model for the readings as given."""
    misfit, deviation = model.leave_one_out()
    expected = np.exp(readings.log_par - misfit)
    error = 100.0 * np.abs(np.expm1(-misfit))
    place = readings.place
    disagreeing = tuple(
        Disagreement(
            int(index),
            float(readings.par_umol[row]),
            float(expected[row]),
            float(np.exp(misfit[row])),
        )
        for index, row in enumerate(place)
        if abs(misfit[row]) > max(DISAGREE_LOG, DISAGREE_DEVIATIONS * deviation[row])
    )
    return FieldSummary(
        "smooth trend through the readings",
        float(np.median(error[place])),
        expected[place],
        error[place],
        (),
        disagreeing,
        readings.notes,
    )
