"""Colour as numbers: coded sRGB to linear light to CIE XYZ to CIELAB, and chroma and hue.

The white is D65 throughout, that of sRGB itself; `to_lab` takes any other, such as D50.
"""

import numpy as np
from numpy.typing import ArrayLike

from apps.photics.ground.arrays import FloatArray

# sRGB's curve (IEC 61966-2-1:1999): straight below the toe, a power above it.
SRGB_TOE = 0.04045
SRGB_SLOPE = 12.92
SRGB_OFFSET = 0.055
SRGB_POWER = 2.4
# Linear sRGB to XYZ, primaries of ITU-R BT.709 under D65, seven digits (IEC 61966-2-1).
XYZ_OF_RGB = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
# Tristimulus values of white, 2 degree observer (CIE 15:2004, Y = 1).
D65 = np.array([0.95047, 1.0, 1.08883])
D50 = np.array([0.96422, 1.0, 0.82521])
# Where CIELAB's cube root gives way to a straight line (CIE 15:2004, as fractions).
LAB_EPSILON = 216.0 / 24389.0
LAB_KAPPA = 24389.0 / 27.0


def linear_of_srgb(coded: ArrayLike) -> FloatArray:
    """Return linear light (..., 3) of `coded` sRGB (..., 3), both 0 to 1 [1].

    Reference: IEC 61966-2-1:1999.

    >>> round(float(linear_of_srgb(0.5)), 4)
    0.214
    """
    code = np.asarray(coded, float)
    curved = ((np.maximum(code, 0.0) + SRGB_OFFSET) / (1.0 + SRGB_OFFSET)) ** SRGB_POWER
    linear: FloatArray = np.where(code <= SRGB_TOE, code / SRGB_SLOPE, curved)
    return linear


def srgb_of_linear(linear: ArrayLike) -> FloatArray:
    """Return coded sRGB (..., 3) of `linear` light (..., 3), held to 0 to 1 [1].

    Reference: IEC 61966-2-1:1999.
    """
    light = np.clip(np.asarray(linear, float), 0.0, 1.0)
    curved = (1.0 + SRGB_OFFSET) * light ** (1.0 / SRGB_POWER) - SRGB_OFFSET
    coded: FloatArray = np.where(light <= SRGB_TOE / SRGB_SLOPE, light * SRGB_SLOPE, curved)
    return coded


# Linear light of every code a camera file can hold, 256 because codes have eight bits.
LINEAR_OF_CODE = linear_of_srgb(np.arange(256) / 255.0)


def xyz_of_linear(linear: ArrayLike) -> FloatArray:
    """Return XYZ (..., 3) [1] of `linear` sRGB (..., 3) [1]; white is D65 with Y = 1.

    Reference: IEC 61966-2-1:1999.
    """
    xyz: FloatArray = np.asarray(linear, float) @ XYZ_OF_RGB.T
    return xyz


def to_lab(xyz: ArrayLike, *, white: ArrayLike = D65) -> FloatArray:
    """Return CIELAB (..., 3) as L*, a*, b* of `xyz` (..., 3) against a `white` (3,) of its scale.

    L* from 0, black, to 100, the white. Negative XYZ, which noise may give, follows the straight
    part below the toe. Reference: CIE 15:2004 (ISO/CIE 11664-4).

    >>> to_lab(D65).round(6).tolist()
    [100.0, 0.0, 0.0]
    """
    ratio = np.asarray(xyz, float) / np.asarray(white, float)
    root = np.cbrt(np.maximum(ratio, LAB_EPSILON))
    curve = np.where(ratio > LAB_EPSILON, root, (LAB_KAPPA * ratio + 16.0) / 116.0)
    x, y, z = np.moveaxis(curve, -1, 0)
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def lab_of_linear(linear: ArrayLike) -> FloatArray:
    """Return CIELAB (..., 3) of `linear` sRGB (..., 3) [1] under D65, by `to_lab`."""
    return to_lab(xyz_of_linear(linear))


def linear_of_lab(lab: ArrayLike) -> FloatArray:
    """Return linear sRGB (..., 3) [1] of CIELAB `lab` (..., 3) under D65.

    It may lie outside 0 to 1. Reference: CIE 15:2004, inverted.
    """
    colour = np.asarray(lab, float)
    y = (colour[..., 0] + 16.0) / 116.0
    curve = np.stack([y + colour[..., 1] / 500.0, y, y - colour[..., 2] / 200.0], axis=-1)
    cubed = curve**3
    ratio = np.where(cubed > LAB_EPSILON, cubed, (116.0 * curve - 16.0) / LAB_KAPPA)
    linear: FloatArray = (ratio * D65) @ np.linalg.inv(XYZ_OF_RGB).T
    return linear


def chroma(lab: FloatArray) -> FloatArray:
    """Return the chroma C*ab (...) of CIELAB `lab` (..., 3): 0 is grey. CIE 15:2004."""
    away: FloatArray = np.hypot(lab[..., 1], lab[..., 2])
    return away


def hue_deg(lab: FloatArray) -> FloatArray:
    """Return the hue angle (...) of CIELAB `lab` (..., 3) [degrees, 0 to 360]: 0 red, 90 yellow.

    Reference: CIE 15:2004.
    """
    angle: FloatArray = np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) % 360.0
    return angle
