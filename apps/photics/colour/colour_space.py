"""Colour spaces of picture files: what a code means as light, whatever the file was written in.

A space is three primaries, a white and a curve. Light of any space becomes linear sRGB without a
limit: a colour that sRGB can't show has a negative part there, and keeps it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from apps.photics.colour.cielab import D65, XYZ_OF_RGB, linear_of_srgb, srgb_of_linear
from apps.photics.ground.arrays import FloatArray

Codes = NDArray[np.uint8]
Chromaticity = tuple[float, float]
# Takes codes (...) of 0 to 1 and returns linear light (...), 1 at the white.
Curve = Callable[[FloatArray], FloatArray]

# x, y of D65 (CIE 15:2004, as ITU-R BT.709 rounds it).
D65_XY: Chromaticity = (0.3127, 0.3290)
# White as three sensitivities of the eye (Lam 1985, as in ICC.1:2010, annex E).
BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
# Inverse of the curve of ITU-R BT.709-6 (2015), item 1.2; alike in BT.601 and BT.2020.
BT709_TOE, BT709_SLOPE, BT709_ALPHA, BT709_POWER = 0.081, 4.5, 1.099, 0.45
# SMPTE ST 2084:2014 (PQ): light is absolute.
PQ_M1, PQ_M2 = 2610.0 / 16384.0, 2523.0 / 4096.0 * 128.0
# The same page of 2014.
PQ_C1, PQ_C2, PQ_C3 = 3424.0 / 4096.0, 2413.0 / 4096.0 * 32.0, 2392.0 / 4096.0 * 32.0
# Its brightest, and where diffuse white lies (ITU-R BT.2408 of 2017).
PQ_MOST_CD_M2, WHITE_CD_M2 = 10_000.0, 203.0
# ITU-R BT.2100 of 2018, HLG: scene light; diffuse white lies at 75 % of the signal (BT.2408).
HLG_A, HLG_B, HLG_C, HLG_WHITE_SIGNAL = 0.17883277, 0.28466892, 0.55991073, 0.75


@dataclass(frozen=True, eq=False)
class ColourSpace:
    """What the codes of a picture mean: `to_srgb` (3, 3) takes its linear light to sRGB's [1]."""

    name: str
    to_srgb: FloatArray
    curve: Curve = linear_of_srgb

    @property
    def linear_of_code(self) -> FloatArray:
        """The linear light (256,) [1] of every code of eight bits."""
        return self.curve(np.arange(256) / 255.0)

    def linear_srgb(self, light: ArrayLike) -> FloatArray:
        """Return linear sRGB (..., 3), without a limit, of this space's `light` (..., 3) [1]."""
        wide: FloatArray = np.asarray(light, float) @ self.to_srgb.T
        return wide


def rgb_to_xyz(
    red: Chromaticity, green: Chromaticity, blue: Chromaticity, white: Chromaticity
) -> FloatArray:
    """Return the matrix (3, 3) [1] from linear light of primaries to XYZ under D65.

    `red`, `green`, `blue` and `white` as x, y [1]; another white than D65 is adapted by Bradford's
    transform. Reference: SMPTE RP 177-1993; ICC.1:2010, annex E.
    Raises ValueError where they span no colours.

    >>> rgb_to_xyz((0.64, 0.33), (0.30, 0.60), (0.15, 0.06), (0.3127, 0.3290)).round(4)[1].tolist()
    [0.2126, 0.7152, 0.0722]
    """
    whole = np.array([red, green, blue, white], float)
    # The three must span a triangle of some size, or codes say nothing: 0.01 is a 30th of sRGB's.
    area = abs(np.linalg.det(np.column_stack([whole[:3], np.ones(3)])))
    if not np.all(np.isfinite(whole)) or np.any(whole[:, 1] < 1e-5) or area < 0.01:
        raise ValueError("These primaries span no colours.")
    xyz = np.stack([whole[:, 0], whole[:, 1], 1.0 - whole.sum(1)], axis=-1) / whole[:, 1:]
    strength = np.linalg.solve(xyz[:3].T, xyz[3])
    matrix: FloatArray = adapted(xyz[3]) @ (xyz[:3].T * strength)
    return matrix


def adapted(white: ArrayLike) -> FloatArray:
    """Return the matrix (3, 3) [1] that takes XYZ under `white` (3,) to XYZ under D65: Bradford."""
    gains = (BRADFORD @ D65) / (BRADFORD @ np.asarray(white, float))
    matrix: FloatArray = np.linalg.inv(BRADFORD) @ (gains[:, None] * BRADFORD)
    return matrix


def space_of(
    name: str,
    red: Chromaticity,
    green: Chromaticity,
    blue: Chromaticity,
    white: Chromaticity = D65_XY,
    *,
    curve: Curve = linear_of_srgb,
) -> ColourSpace:
    """Return the ColourSpace of primaries `red`, `green`, `blue` and a `white`, as x, y [1]."""
    to_srgb = np.linalg.inv(XYZ_OF_RGB) @ rgb_to_xyz(red, green, blue, white)
    return ColourSpace(name, to_srgb, curve)


def power(exponent: float) -> Curve:
    """Return the curve of light that is the code to an `exponent` [1]."""
    return lambda code: np.maximum(code, 0.0) ** exponent


def linear_of_bt709(code: FloatArray) -> FloatArray:
    """Return linear light (...) [1] of BT.709's `code` (...), 0 to 1: BT.709-6 of 2015."""
    curved = ((np.maximum(code, 0.0) + BT709_ALPHA - 1.0) / BT709_ALPHA) ** (1.0 / BT709_POWER)
    linear: FloatArray = np.where(code < BT709_TOE, code / BT709_SLOPE, curved)
    return linear


def linear_of_pq(code: FloatArray) -> FloatArray:
    """Return light (...) over diffuse white [1] of PQ's `code` (...). SMPTE ST 2084:2014."""
    root = np.clip(code, 0.0, 1.0) ** (1.0 / PQ_M2)
    light = (np.maximum(root - PQ_C1, 0.0) / (PQ_C2 - PQ_C3 * root)) ** (1.0 / PQ_M1)
    over_white: FloatArray = light * PQ_MOST_CD_M2 / WHITE_CD_M2
    return over_white


def linear_of_hlg(code: FloatArray) -> FloatArray:
    """Return scene light (...) over diffuse white [1] of HLG's `code` (...). BT.2100-2 of 2018."""
    signal = np.append(np.ravel(np.clip(code, 0.0, 1.0)), HLG_WHITE_SIGNAL)
    light = np.where(
        signal <= 0.5, signal**2 / 3.0, (np.exp((signal - HLG_C) / HLG_A) + HLG_B) / 12
    )
    over_white: FloatArray = (light[:-1] / light[-1]).reshape(np.shape(code))
    return over_white


# IEC 61966-2-1:1999.
SRGB = ColourSpace("sRGB", np.eye(3))
# SMPTE EG 432-1:2010 under D65 with sRGB's curve.
DISPLAY_P3 = space_of("Display P3", (0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
# Adobe RGB (1998), version 2005-05, 4.3.1: D65 and a power of 563/256.
ADOBE_RGB = space_of(
    "Adobe RGB", (0.64, 0.33), (0.21, 0.71), (0.15, 0.06), curve=power(563.0 / 256.0)
)
# Holds every colour of a surface: primaries of ROMM RGB (ISO 22028-2:2013) under D50, sRGB's curve.
WIDEST = space_of("widest", (0.7347, 0.2653), (0.1596, 0.8404), (0.0366, 0.0001), (0.3457, 0.3585))
# Primaries and white by number (ITU-T H.273 of 2021, table 2).
PRIMARIES: dict[int, tuple[Chromaticity, Chromaticity, Chromaticity, Chromaticity]] = {
    1: ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060), D65_XY),
    5: ((0.640, 0.330), (0.290, 0.600), (0.150, 0.060), D65_XY),
    6: ((0.630, 0.340), (0.310, 0.595), (0.155, 0.070), D65_XY),
    7: ((0.630, 0.340), (0.310, 0.595), (0.155, 0.070), D65_XY),
    9: ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046), D65_XY),
    11: ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060), (0.314, 0.351)),
    12: ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060), D65_XY),
}
# Curves by number (ITU-T H.273 of 2021, table 3).
CURVES: dict[int, Curve] = {
    1: linear_of_bt709, 4: power(2.2), 5: power(2.8), 6: linear_of_bt709, 8: power(1.0),
    13: linear_of_srgb, 14: linear_of_bt709, 15: linear_of_bt709, 16: linear_of_pq,
    18: linear_of_hlg,
}  # fmt: skip


@cache
def space_by_number(primaries: int, transfer: int) -> ColourSpace:
    """Return the ColourSpace of numbers of ITU-T H.273, as HEIC, AVIF and PNG state them.

    `primaries` of table 2, `transfer` of table 3 [1]. What is unspecified or not listed here
    counts as sRGB's, as a picture without a statement does.
    """
    curve = CURVES.get(transfer, linear_of_srgb)
    if PRIMARIES.get(primaries, PRIMARIES[1]) == PRIMARIES[1]:
        return SRGB if curve is linear_of_srgb else ColourSpace("BT.709", np.eye(3), curve)
    if primaries == 12 and curve is linear_of_srgb:
        return DISPLAY_P3
    return space_of(f"H.273 {primaries}/{transfer}", *PRIMARIES[primaries], curve=curve)


def recoded(codes: Codes, *, source: ColourSpace, target: ColourSpace) -> Codes:
    """Return `codes` (h, w, 3) of the `source` space as codes (h, w, 3) of the `target` space.

    `target` has sRGB's curve. What lies outside the target lies on its edge afterwards.
    """
    matrix = (np.linalg.inv(target.to_srgb) @ source.to_srgb).astype(np.float32)
    light = source.linear_of_code.astype(np.float32)[codes] @ matrix.T
    # The curve by a table of square roots of light, fine enough for eight bits: 4096 steps.
    table = np.round(255.0 * srgb_of_linear((np.arange(4096) / 4095.0) ** 2)).astype(np.uint8)
    root = np.sqrt(np.clip(light, 0.0, 1.0))
    result: Codes = table[np.round(root * 4095.0).astype(np.uint16)]
    return result
