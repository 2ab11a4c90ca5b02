"""Where to read next, and how much surer the map would be for it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.lightmap.page.looks import half_width_percent
from apps.lightmap.pins import Pin
from apps.photics.field.light_field import HALF_WIDTH, LightField
from apps.photics.field.next_points import joint_covariance, model_parts, next_points, wanted
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.normal import NORMAL_90

FEWEST, MOST = 3, 6


@dataclass(frozen=True)
class NextPoint:
    """A point to read next, numbered by how much it adds, and how sure its PAR is now."""

    number: int
    x_cm: float
    y_cm: float
    depth_cm: float
    half_width_percent: float

    @property
    def letter(self) -> str:
        """The mark on the drawings: corals have the numbers."""
        return "ABCDEF"[self.number - 1]


@dataclass(frozen=True)
class NextReadings:
    """The points, and half the 90 % interval's width where it counts, before and after [%]."""

    points: tuple[NextPoint, ...]
    before_percent: float
    after_percent: float
    by_corals: bool

    @property
    def what(self) -> str:
        """What would be known better, in words."""
        return "the light at your corals" if self.by_corals else "the light over the whole tank"

    @property
    def choices(self) -> range:
        return range(FEWEST, MOST + 1)


def next_readings(field: LightField, count: int, pins: Sequence[Pin]) -> NextReadings:
    """Return the NextReadings of a LightField for Pins that matter most."""
    corals = np.array([(pin.x_cm, pin.y_cm, pin.depth_cm) for pin in pins], float).reshape(-1, 3)
    places = next_points(field, count, spots_cm=corals if len(corals) else None)
    now = field.at(places)
    sure = half_width_percent(now.par_umol, now.low_umol, now.high_umol)
    targets = corals if len(corals) else wanted(field, None, None)[0]
    before, after = typical_half_widths(field, places, targets)
    points = tuple(
        NextPoint(number, float(x), float(y), float(depth), half_width_percent=float(half))
        for number, ((x, y, depth), half) in enumerate(zip(places, sure, strict=True), start=1)
    )
    return NextReadings(points, before, after, by_corals=len(corals) > 0)


def typical_half_widths(
    field: LightField,
    places_cm: FloatArray,
    targets_cm: FloatArray,
    *,
    scale_deviation: float = 0.0,
) -> tuple[float, float]:
    """Return the mean half width at targets (t, 3) before and after readings at places [%].

    A reading's value moves the map, not how sure it is, so both are known beforehand; of a forecast
    too. scale_deviation: how far all of the light may be off alike beside it [log], which readings
    tell; a meter's own scale they don't.
    """
    models, weights = model_parts(field.model)
    covariance, noise = joint_covariance(models, weights, places_cm, targets_cm)
    covariance = covariance + scale_deviation**2
    many = len(places_cm)
    before = np.diag(covariance)[many:]
    seen = covariance[:many, :many] + np.diag(noise)
    across = covariance[many:, :many]
    after = before - (across * np.linalg.solve(seen, across.T).T).sum(axis=1)
    meter = NORMAL_90 * field.meter_deviation
    return half_width_of(before, meter), half_width_of(after, meter)


def half_width_of(variance: FloatArray, meter: float) -> float:
    """Return the mean half width of intervals for variances of log PAR [%].

    meter: half the width that a meter's scale brings to each [log].
    """
    own = HALF_WIDTH * np.sqrt(np.maximum(variance, 0.0))
    return float(np.mean(100.0 * np.sinh(np.hypot(own, meter))))
