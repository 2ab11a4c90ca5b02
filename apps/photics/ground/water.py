"""How light meets water: Snell, Fresnel, and what a flat surface does to a point source.

Angles are from the vertical. `slope` is the tangent of the angle in air, which keeps every
formula free of singular points from straight down to grazing.
"""

import numpy as np

# Sea water in visible light at reef temperature and salinity [1]: 1.34 (Austin & Halikas 1976,
# from memory); fresh water is 1.333.
WATER_INDEX = 1.34


def fresnel(cos_in, *, index_from, index_to):
    """Return the unpolarised reflectance of a flat interface for cosines of incidence [1].

    Fresnel's equations; 1 beyond the critical angle. Any shape in, the same shape out.
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


def critical_angle_deg(index=WATER_INDEX):
    """Return the angle in water beyond which no light leaves through a flat surface [degrees]."""
    return float(np.degrees(np.arcsin(1.0 / index)))


def wall_escape_angle_deg(index=WATER_INDEX):
    """Return the least angle in air at which light can leave through an upright pane [degrees].

    Light that entered through the flat surface more steeply than this is totally reflected at
    every side pane, whatever its azimuth: sin(a) = sqrt(n^2 - 1).
    """
    return float(np.degrees(np.arcsin(np.sqrt(index**2 - 1.0))))


def reach_cm(slope, *, height_cm, depth_cm, index=WATER_INDEX):
    """Return the level distance a ray of this slope in air travels down to a depth [cm].

    Above the water height_cm * slope, below it depth_cm times the tangent after Snell's law.
    """
    return height_cm * slope + depth_cm * slope / np.sqrt(index**2 + (index**2 - 1.0) * slope**2)


def slope_to_reach(distance_cm, *, height_cm, depth_cm, index=WATER_INDEX, rounds=6):
    """Return the slope in air of the ray that lands distance_cm away at depth_cm [1].

    Newton's method on `reach_cm`, which is increasing and concave in the slope: from a start
    below the root every step stays below it, so the rounds close in without overshoot. Arrays
    broadcast; height must be above zero.
    """
    bend = index**2 - 1.0
    slope = np.maximum(
        distance_cm / (height_cm + depth_cm / index),
        (distance_cm - depth_cm / np.sqrt(bend)) / height_cm,
    )
    for _ in range(rounds):
        inner = 1.0 / (index**2 + bend * slope * slope)
        root = np.sqrt(inner)
        miss = distance_cm - slope * (height_cm + depth_cm * root)
        slope = slope + miss / (height_cm + depth_cm * index**2 * inner * root)
    return slope


def point_source_umol(
    distance_cm, *, height_cm, depth_cm, exponent=1.0, k_per_cm=0.0, index=WATER_INDEX
):
    """Return PAR on a level sensor in water under a point source over a flat surface.

    The source has axial intensity 1 and angular intensity cos^exponent; the answer is per cm2.
    distance_cm is the level distance from the axis; k_per_cm attenuates along the slant path.
    Flux is conserved between neighbouring rays: E = I(a) T(a) sin(a) / (x dx/da).
    """
    slope = slope_to_reach(
        distance_cm, height_cm=height_cm, depth_cm=depth_cm, index=index, rounds=12
    )
    cos_air = 1.0 / np.sqrt(1.0 + slope**2)
    inner = 1.0 / (index**2 + (index**2 - 1.0) * slope**2)
    spread = height_cm + depth_cm * np.sqrt(inner)  # distance / slope
    widening = height_cm + depth_cm * index**2 * inner**1.5  # d distance / d slope
    cos_water = np.sqrt(1.0 - (1.0 - cos_air**2) / index**2)
    passed = 1.0 - fresnel(cos_air, index_from=1.0, index_to=index)
    lost = np.exp(-k_per_cm * depth_cm / cos_water)
    return cos_air ** (exponent + 3.0) * passed * lost / (spread * widening)
