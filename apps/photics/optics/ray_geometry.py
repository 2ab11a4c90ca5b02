"""How rays leave their emitters, bend at a flat surface and land, and how that shapes their light.

`slope` is the tangent of the angle in air. Arrays are (k images, e emitters), lengths in cm.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.water import WATER_INDEX
from apps.photics.optics.beam import (
    BEND,
    LOG_INTO_WATER,
    SLOPE_INTO_WATER,
    look_up,
)
from apps.photics.optics.shade import REACH_PER_DEPTH

N2 = WATER_INDEX**2
NEWTON_ROUNDS = 4


@dataclass(frozen=True)
class Course:
    """The way of rays by their level parts, the height they leave at and the depth they reach."""

    dx: np.ndarray
    dy: np.ndarray
    height: np.ndarray
    depth: np.ndarray
    away: np.ndarray  # level distance
    slope: np.ndarray
    inner: np.ndarray
    root: np.ndarray
    spread: np.ndarray  # away over slope
    widening: np.ndarray  # what away gains with slope
    cos: np.ndarray  # in air
    cos2: np.ndarray
    sin2_water: np.ndarray
    cos_water: np.ndarray

    def received(self, intensity, lost):
        """Return light of an intensity (k, e) on a level sensor, `lost` nepers on the way."""
        light = intensity * self.cos2 * self.cos * np.exp(look_up(LOG_INTO_WATER, self.cos) - lost)
        light /= self.spread * self.widening
        return light

    def by_away(self, by_slope, lost):
        """Return the derivative of log light by level distance [1/cm]; by_slope is the lobe's."""
        slope, cos2, inner, root = self.slope, self.cos2, self.inner, self.root
        d_inner = -2.0 * BEND * slope * inner * inner
        d_root = 0.5 * d_inner / root
        return (
            by_slope
            - 3.0 * slope * cos2
            - look_up(SLOPE_INTO_WATER, self.cos) * slope * cos2 * self.cos
            - lost / self.cos_water**2 * slope * cos2 * cos2 / N2
            - self.depth * d_root / self.spread
            - self.depth * N2 * 1.5 * root * d_inner / self.widening
        ) / self.widening

    def by_place(self, by_away, by_azimuth):
        """Return derivatives of log light by the emitters' x and y [1/cm].

        by_azimuth: by the way turning about the plumb line, None for lobes all round.
        """
        toward = -by_away / np.maximum(self.away, 1e-9)
        if by_azimuth is None:
            return toward * self.dx, toward * self.dy
        swing = by_azimuth / np.maximum(self.away, 1e-9) ** 2
        return toward * self.dx + swing * self.dy, toward * self.dy - swing * self.dx

    def by_height(self, by_away):
        """Return the derivative of log light by the emitters' height [1/cm]."""
        return -by_away * self.slope - 1.0 / self.spread - 1.0 / self.widening

    def by_depth(self, by_away, k_per_cm):
        """Return the derivative of log light by depth [1/cm], in water of this attenuation."""
        return (
            -by_away * self.slope * self.root
            - k_per_cm / self.cos_water
            - self.root / self.spread
            - N2 * self.inner * self.root / self.widening
        )


def course_of(dx, dy, height, depth):
    """Return the Course of rays; arrays that go together."""
    away = np.sqrt(dx * dx + dy * dy)
    slope = slope_in_air(away, height, depth)
    inner = 1.0 / (N2 + BEND * slope * slope)
    root = np.sqrt(inner)
    spread, widening = height + depth * root, height + depth * N2 * inner * root
    cos2 = 1.0 / (1.0 + slope * slope)
    sin2_water = (1.0 - cos2) / N2
    return Course(
        dx, dy, height, depth, away, slope, inner, root, spread, widening, np.sqrt(cos2), cos2,
        sin2_water, np.sqrt(1.0 - sin2_water),
    )  # fmt: skip


def slope_in_air(away, height, depth):
    """Return the tangent, in air, of rays that a flat surface bends to points so far away [1].

    away: level distance from emitter to point [cm]; height of the emitter and depth of the point
    [cm], arrays of shapes that go together. Newton's steps on Snell's law.
    """
    slope = np.maximum(
        away / (height + depth / WATER_INDEX), (away - depth * REACH_PER_DEPTH) / height
    )
    for _ in range(NEWTON_ROUNDS):
        inner = 1.0 / (N2 + BEND * slope * slope)
        root = np.sqrt(inner)
        widening = height + depth * N2 * inner * root
        slope = slope + (away - slope * (height + depth * root)) / widening
    return np.maximum(slope, 0.0)
