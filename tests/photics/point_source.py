"""Closed forms of light under a flat surface, to hold the light field against."""

import numpy as np

from apps.photics.ground.water import WATER_INDEX, fresnel, slope_at_distance
from apps.photics.optics.beam import LN2, half_logcos


def beam_exponent(beam_deg):
    """Return m of the intensity cos^m whose full width at half maximum is beam_deg [1]."""
    return LN2 / half_logcos(beam_deg)


def critical_angle_deg(index=WATER_INDEX):
    """Return the angle in water beyond which no light leaves through a flat surface [degrees]."""
    return float(np.degrees(np.arcsin(1.0 / index)))


def wall_escape_angle_deg(index=WATER_INDEX):
    """Return the least angle in air at which light can leave through an upright pane [degrees].

    Light that entered through the flat surface more steeply than this is totally reflected at
    every side pane, whatever its azimuth: sin(a) = sqrt(n^2 - 1).
    """
    return float(np.degrees(np.arcsin(np.sqrt(index**2 - 1.0))))


def point_source_umol(
    distance_cm, *, height_cm, depth_cm, exponent=1.0, k_per_cm=0.0, index=WATER_INDEX
):
    """Return PAR on a level sensor in water under a point source over a flat surface.

    The source has axial intensity 1 and angular intensity cos^exponent; the answer is per cm2.
    distance_cm is the level distance from the axis; k_per_cm attenuates along the slant path.
    Flux is conserved between neighbouring rays: E = I(a) T(a) sin(a) / (x dx/da).
    """
    slope = slope_at_distance(
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
