"""How light meets water: Snell, Fresnel, and what a flat surface does to a point source.

Angles are from the vertical. `slope` is the tangent of the angle in air, which keeps every
formula free of singular points from straight down to grazing.
"""

import numpy as np

from apps.photics.ground.arrays import ArrayLike, FloatArray, RealArray

# Sea water in visible light at reef temperature and salinity [1]: 1.34 (Austin & Halikas 1976,
# from memory); fresh water is 1.333.
WATER_INDEX = 1.34


def fresnel(cos_in: ArrayLike, *, index_from: float, index_to: float) -> FloatArray:
    """Return the unpolarised reflectance of a flat interface, of the shape of `cos_in` [1].

    `cos_in` cosines of incidence, any shape [1]; `index_from` and `index_to` the refractive indices
    on the side the light comes from and beyond [1]. Holds for media that do not absorb; 1 beyond
    the critical angle and for light from behind. Fresnel's equations (Born & Wolf, Principles of
    Optics, section 1.5.3).
    """
    cos_in = np.asarray(cos_in, float)
    ratio = index_from / index_to
    sin2_out = ratio**2 * (1.0 - cos_in**2)
    cos_out = np.sqrt(np.clip(1.0 - sin2_out, 0.0, None))
    with np.errstate(invalid="ignore", divide="ignore"):
        r_s = (ratio * cos_in - cos_out) / (ratio * cos_in + cos_out)
        r_p = (cos_in - ratio * cos_out) / (cos_in + ratio * cos_out)
    reflected = 0.5 * (r_s**2 + r_p**2)
    return np.where((sin2_out >= 1.0) | (cos_in <= 0.0), 1.0, reflected)


def slope_at_distance(
    distance_cm: RealArray,
    *,
    height_cm: RealArray,
    depth_cm: RealArray,
    index: float = WATER_INDEX,
    rounds: int = 6,
) -> RealArray:
    """Return the slope in air of the ray that lands so far away at a depth [1].

    `distance_cm` level distance from the source [cm], `height_cm` of the source above the water,
    above zero [cm], `depth_cm` of the point, zero or more [cm]: arrays that broadcast, the answer
    has the shape of all together. `index` of the water, above 1 [1]; `rounds` of Newton's method.

    A ray of slope s lands at height_cm s + depth_cm s / sqrt(index^2 + (index^2 - 1) s^2) by
    Snell's law, which is increasing and concave in s: from a start below the root every step
    stays below it, so the rounds close in without overshoot.
    """
    bend = index**2 - 1.0
    slope: RealArray = np.maximum(
        distance_cm / (height_cm + depth_cm / index),
        (distance_cm - depth_cm / np.sqrt(bend)) / height_cm,
    )
    for _ in range(rounds):
        inner = 1.0 / (index**2 + bend * slope * slope)
        root = np.sqrt(inner)
        miss = distance_cm - slope * (height_cm + depth_cm * root)
        slope = slope + miss / (height_cm + depth_cm * index**2 * inner * root)
    return slope
