"""How rays leave their emitters, bend at a flat surface and land, and how that shapes their light.

`slope` is the tangent of the angle in air, by Snell's law. Arrays are (k images, e emitters),
lengths in cm.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import RealArray
from apps.photics.ground.water import WATER_INDEX
from apps.photics.optics.beam import (
    BEND,
    LOG_INTO_WATER,
    SLOPE_INTO_WATER,
    look_up,
)
from apps.photics.optics.shade import REACH_PER_DEPTH

# Exact.
N2 = WATER_INDEX**2
# Chosen, because they leave the slope off by 1e-6 from emitters 10 cm above the water, 1e-4 from
# 5 cm and, far out, 2 % from 1 cm.
NEWTON_ROUNDS = 4


@dataclass(frozen=True)
class RayGeometry:
    """The way of rays by their level parts, the height they leave at and the depth they end at.

    Arrays that broadcast to (k, e), lengths [cm], slopes and cosines [1].
    """

    dx: RealArray
    dy: RealArray
    height: RealArray
    depth: RealArray
    away: RealArray  # level distance
    slope: RealArray
    inner: RealArray
    root: RealArray
    spread: RealArray  # away over slope
    widening: RealArray  # what away gains with slope
    cos: RealArray  # in air
    cos2: RealArray
    sin2_water: RealArray
    cos_water: RealArray

    def received(self, intensity: RealArray, *, lost: RealArray) -> RealArray:
        """Return the light on a level sensor at the ends of the rays, (k, e) [intensity per cm2].

        `intensity` (k, e) in any unit; `lost` (k, e) on the way through the water [nepers]. Flux
        is conserved between neighbouring rays: E = I(a) T(a) sin(a) / (x dx/da).
        """
        light = intensity * self.cos2 * self.cos * np.exp(look_up(LOG_INTO_WATER, self.cos) - lost)
        light /= self.spread * self.widening
        return light

    def by_away(self, by_slope: RealArray, *, lost: RealArray) -> RealArray:
        """Return the derivative of log light by level distance, (k, e) [1/cm].

        `by_slope` (k, e) that of the intensity's log by the ray's slope [1]; `lost` (k, e) on the
        way through the water [nepers].
        """
        slope, cos2, inner, root = self.slope, self.cos2, self.inner, self.root
        d_inner = -2.0 * BEND * slope * inner * inner
        d_root = 0.5 * d_inner / root
        by_away: RealArray = (
            by_slope
            - 3.0 * slope * cos2
            - look_up(SLOPE_INTO_WATER, self.cos) * slope * cos2 * self.cos
            - lost / self.cos_water**2 * slope * cos2 * cos2 / N2
            - self.depth * d_root / self.spread
            - self.depth * N2 * 1.5 * root * d_inner / self.widening
        ) / self.widening
        return by_away

    def by_place(
        self, by_away: RealArray, *, by_azimuth: RealArray | None
    ) -> tuple[RealArray, RealArray]:
        """Return derivatives of log light by the emitters' x and y, (k, e) each [1/cm].

        `by_away` (k, e) by level distance [1/cm]; `by_azimuth` (k, e) by the way turning about the
        plumb line [1/rad], None where fixtures send alike all round.
        """
        toward: RealArray = -by_away / np.maximum(self.away, 1e-9)
        if by_azimuth is None:
            return toward * self.dx, toward * self.dy
        swing = by_azimuth / np.maximum(self.away, 1e-9) ** 2
        return toward * self.dx + swing * self.dy, toward * self.dy - swing * self.dx

    def by_height(self, by_away: RealArray) -> RealArray:
        """Return the derivative of log light by the emitters' height, (k, e) [1/cm].

        `by_away` (k, e) by level distance [1/cm].
        """
        by_height: RealArray = -by_away * self.slope - 1.0 / self.spread - 1.0 / self.widening
        return by_height

    def by_depth(self, by_away: RealArray, *, k_per_cm: float) -> RealArray:
        """Return the derivative of log light by depth, (k, e) [1/cm].

        `by_away` (k, e) by level distance [1/cm]; `k_per_cm` attenuation of the water [1/cm].
        """
        by_depth: RealArray = (
            -by_away * self.slope * self.root
            - k_per_cm / self.cos_water
            - self.root / self.spread
            - N2 * self.inner * self.root / self.widening
        )
        return by_depth


def ray_geometry_of(
    dx: RealArray, dy: RealArray, *, height: RealArray, depth: RealArray
) -> RayGeometry:
    """Return the RayGeometry of rays from emitters to points, arrays that broadcast to (k, e).

    `dx` and `dy` from emitter to point, `height` of the emitter above the water, above zero, and
    `depth` of the point, zero or more [cm].
    """
    away = np.sqrt(dx * dx + dy * dy)
    slope = slope_in_air(away, height=height, depth=depth)
    inner = 1.0 / (N2 + BEND * slope * slope)
    root = np.sqrt(inner)
    spread, widening = height + depth * root, height + depth * N2 * inner * root
    cos2 = 1.0 / (1.0 + slope * slope)
    sin2_water = (1.0 - cos2) / N2
    return RayGeometry(
        dx, dy, height, depth, away, slope, inner, root, spread, widening, np.sqrt(cos2), cos2,
        sin2_water, np.sqrt(1.0 - sin2_water),
    )  # fmt: skip


def slope_in_air(away: RealArray, *, height: RealArray, depth: RealArray) -> RealArray:
    """Return the tangent, in air, of rays that a flat surface bends to points so far away [1].

    `away` level distance from emitter to point, `height` of the emitter above the water, above
    zero, and `depth` of the point, zero or more [cm]: arrays that broadcast, the answer has the
    shape of all together. Newton's steps on Snell's law, as in `water.slope_at_distance`.
    """
    slope: RealArray = np.maximum(
        away / (height + depth / WATER_INDEX), (away - depth * REACH_PER_DEPTH) / height
    )
    deep = depth * N2
    for _ in range(NEWTON_ROUNDS):
        # In place: half of what a fit's rays cost is memory, and this is the most of it.
        inner = BEND * slope
        inner *= slope
        inner += N2
        inner = 1.0 / inner
        root = np.sqrt(inner)
        widening = deep * inner
        widening *= root
        widening += height
        root *= depth
        root += height
        root *= slope
        slope += (away - root) / widening
    at_least_down: RealArray = np.maximum(slope, 0.0)
    return at_least_down
