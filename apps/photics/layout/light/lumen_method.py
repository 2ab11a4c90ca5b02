"""A quick estimate of a plan's light by the lumen method of indoor lighting.

E = N F U M / A: the light of N fixtures of output F over the area A, as far as it is used (U) and
maintained (M). Method: CIE 52:1982, as CIBSE SLL Lighting Handbook (2018), chapter 14, tells it.
What reaches the surface depends on the room index alone, K = L W / (H (L + W)); it is the share
that one of two opposite rectangles gets of the other's even, diffuse light (Howell, A Catalog of
Radiation Heat Transfer Configuration Factors, 2010, C-11).
"""

from collections.abc import Iterable

import numpy as np

from apps.photics.ground.scene import Tank

# What is left between two cleanings [1]: chosen as a tenth lost to salt and dust.
MAINTENANCE = 0.9
# What the surface lets in of light from above [1]: by Fresnel's law, averaged over what fixtures
# send down.
SURFACE_PASSES = 0.95
# The beam whose light is diffuse [degrees], by definition of a cosine law.
DIFFUSE_DEG = 120.0
# No fixture is taken to hang lower [cm]: chosen, because a room has some height.
HEIGHT_LEAST_CM = 1.0
CM2_PER_M2 = 1e4  # by definition of the units
# One fixture for the estimate: output [umol/s], beam [degrees], height [cm].
Lamp = tuple[float, float, float]


def utilisation(tank: Tank, *, height_cm: float, beam_deg: float) -> float:
    """Return the share of the fixtures' light that reaches the water's surface [1].

    `height_cm` above the water [cm], `beam_deg` full width at half maximum [degrees]. A beam
    narrower than a diffuse one sees the tank from as much nearer as its tangent is smaller: our own
    choice.
    """
    near = np.tan(np.radians(beam_deg) / 2.0) / np.tan(np.radians(DIFFUSE_DEG) / 2.0)
    height = max(height_cm * float(near), HEIGHT_LEAST_CM)
    return opposite_share(tank.length_cm / height, tank.width_cm / height)


def opposite_share(x: float, y: float) -> float:
    """Return what one of two opposite rectangles gets of the other's diffuse light [1].

    `x` and `y` [1] their sides over the distance between them. Formula C-11 of Howell (2010).

    >>> round(opposite_share(1.0, 1.0), 4)
    0.1998
    """
    a, b = np.sqrt(1.0 + x * x), np.sqrt(1.0 + y * y)
    corner = 0.5 * np.log((a * b) ** 2 / (1.0 + x * x + y * y))
    sides = x * b * np.arctan(x / b) + y * a * np.arctan(y / a)
    ends = x * np.arctan(x) + y * np.arctan(y)
    return float(2.0 / (np.pi * x * y) * (corner + sides - ends))


def estimated_umol(
    tank: Tank,
    lamps: Iterable[Lamp],
    *,
    depth_cm: float,
    k_per_cm: float,
    maintenance: float = MAINTENANCE,
) -> float:
    """Return the mean PAR of a tank's level under fixtures by the lumen method [umol m-2 s-1].

    `lamps` (output [umol/s], beam [degrees], height [cm]) of each, `depth_cm` of the level [cm],
    `k_per_cm` the water's diffuse attenuation [1/cm], `maintenance` what is left of the light [1].
    Panes are taken to mirror all that meets them, so nothing is lost aside but in the air.
    """
    arriving = sum(
        output * utilisation(tank, height_cm=height, beam_deg=beam)
        for output, beam, height in lamps
    )
    passed = SURFACE_PASSES * float(np.exp(-k_per_cm * depth_cm)) * tank.cover_transmission
    return float(CM2_PER_M2 * arriving / tank.area_cm2 * passed * maintenance)
