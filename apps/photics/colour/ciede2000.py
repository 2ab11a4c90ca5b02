"""CIEDE2000: how different two colours look."""

import numpy as np
from numpy.typing import ArrayLike

from apps.photics.ground.arrays import FloatArray

# Chroma at which the grey axis' correction has half its weight, to the seventh power (CIE 142).
TURN = 25.0**7


def ciede2000(first: ArrayLike, second: ArrayLike) -> FloatArray:
    """Return the colour difference dE00 (...) of CIELAB colours `first` and `second` (..., 3).

    0 is the same, about 1 the least a trained eye tells side by side, black to white 100. Made
    for differences up to about 5; larger ones are ordered well but not evenly spaced. Parametric
    factors kL = kC = kH = 1. Shapes broadcast.
    References: CIE 142-2001; Sharma, Wu & Dalal 2005, doi:10.1002/col.20070, whose order of
    steps and rules for hue (an undefined one counts as 0) this follows.

    >>> round(float(ciede2000([50.0, 2.5, 0.0], [73.0, 25.0, -18.0])), 4)
    27.1492
    """
    one, two = np.broadcast_arrays(np.asarray(first, float), np.asarray(second, float))
    l1, a1, b1 = np.moveaxis(one, -1, 0)
    l2, a2, b2 = np.moveaxis(two, -1, 0)
    greyness = 1.5 - 0.5 * saturation((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2.0)
    a1, a2 = a1 * greyness, a2 * greyness
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = hue(a1, b1), hue(a2, b2)
    grey = c1 * c2 == 0.0

    turn = h2 - h1
    turn = np.where(np.abs(turn) > 180.0, turn - np.sign(turn) * 360.0, turn)
    d_hue = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(np.where(grey, 0.0, turn)) / 2.0)
    l_mid, c_mid = (l1 + l2) / 2.0, (c1 + c2) / 2.0
    h_mid = np.where(grey, h1 + h2, middle_hue(h1, h2))

    s_l, s_c, s_h = weights(l_mid, c_mid, h_mid)
    d_l, d_c, d_h = (l2 - l1) / s_l, (c2 - c1) / s_c, d_hue / s_h
    squared = d_l**2 + d_c**2 + d_h**2 + rotation(c_mid, h_mid) * d_c * d_h
    # The three terms can round to just below zero for equal colours.
    difference: FloatArray = np.sqrt(np.maximum(squared, 0.0))
    return difference


def saturation(chroma: FloatArray) -> FloatArray:
    """Return how far a `chroma` C* (...) is beyond grey [1, 0 to 1]. CIE 142-2001."""
    power = chroma**7
    beyond: FloatArray = np.sqrt(power / (power + TURN))
    return beyond


def hue(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the hue angle (...) of `a`, `b` (...) [degrees, 0 to 360]; that of grey is 0."""
    angle: FloatArray = np.degrees(np.arctan2(b, a)) % 360.0
    return angle


def middle_hue(h1: FloatArray, h2: FloatArray) -> FloatArray:
    """Return the hue halfway along the shorter arc from `h1` to `h2` (...), all [degrees]."""
    total = h1 + h2
    around = np.where(total < 360.0, total + 360.0, total - 360.0)
    middle: FloatArray = np.where(np.abs(h1 - h2) <= 180.0, total, around) / 2.0
    return middle


def weights(
    l_mid: FloatArray, c_mid: FloatArray, h_mid: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return S_L, S_C and S_H (...): how coarse the eye is in lightness, chroma and hue [1].

    Means of the two colours: lightness `l_mid` (...), chroma `c_mid` (...) and hue `h_mid` (...)
    [degrees]. CIE 142-2001.
    """
    away = (l_mid - 50.0) ** 2
    angle = np.radians(h_mid)
    t = (
        1.0
        - 0.17 * np.cos(angle - np.radians(30.0))
        + 0.24 * np.cos(2.0 * angle)
        + 0.32 * np.cos(3.0 * angle + np.radians(6.0))
        - 0.20 * np.cos(4.0 * angle - np.radians(63.0))
    )
    s_l = 1.0 + 0.015 * away / np.sqrt(20.0 + away)
    return s_l, 1.0 + 0.045 * c_mid, 1.0 + 0.015 * c_mid * t


def rotation(c_mid: FloatArray, h_mid: FloatArray) -> FloatArray:
    """Return the term R_T (...) that turns the ellipses of blue [1].

    Mean chroma `c_mid` (...) and hue `h_mid` (...) [degrees]. CIE 142-2001.
    """
    tilt_deg = 30.0 * np.exp(-(((h_mid - 275.0) / 25.0) ** 2))
    term: FloatArray = -2.0 * saturation(c_mid) * np.sin(np.radians(2.0 * tilt_deg))
    return term
