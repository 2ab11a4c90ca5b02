"""The light of a marked region of a photo: codes become linear light, averaged over its middle.

Light is given in wide primaries, so that colours beyond sRGB stay and nothing is cut off.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.colour.cielab import LINEAR_OF_CODE, XYZ_OF_RGB, lab_of_linear, linear_of_lab
from apps.photics.colour.colour_space import SRGB, Codes, ColourSpace, space_by_number
from apps.photics.ground.arrays import FloatArray, IntArray
from apps.photics.ground.regions import Region, pixels_of

# What light is averaged and divided in: its primaries hold nearly every colour of a surface.
# Chosen, because photos of one simulated phone whose white balance wanders differ by a median of
# dE00 1.8 when divided in sRGB, 1.3 in Display P3, 1.1 in BT.2020's primaries.
WORKING = space_by_number(9, 13)
# Luminance of its linear light: the middle row of its matrix to XYZ, by definition.
LUMINANCE = (XYZ_OF_RGB @ WORKING.to_srgb)[1]
# The part of the pixels, by brightness, that is averaged. Chosen, because glints and caustics of
# moving water and the shade between polyps lie in the tails.
MIDDLE_PERCENT = (20.0, 80.0)
# A code from here on may have been cut off by the camera; such a part [1] of the pixels stops it.
# Chosen, because a camera's curve bends before 255 and the middle of brightness drops a fifth.
CLIPPED_CODE = 250
CLIPPED_SHARE_MAX = 0.10
# A code down here in a pixel with light in it lies on the edge of what the file can hold, and the
# colour may have lain beyond. Such a part [1] of a region's pixels is told. Chosen, because noise
# of a file puts one code in a hundred there where a colour lies just inside.
EDGE_CODE, LIT_CODE = 1, 48
EDGE_SHARE_MAX = 0.10
# Channels of a black-and-white photo differ by no more [codes] in nearly all [1] of its pixels.
# Chosen, because a JPEG of grey comes back to a code; a photo of grey things in colour has noise.
GREY_CODES, GREY_SHARE = 2, 0.999
# Each region is cut into so many squares a side; their scatter is its uncertainty.
# Chosen, because 25 squares give a scatter to 15 %, and 8 or 150 pixels are few enough for a phone.
SQUARES = 5
SQUARE_PIXELS_MIN = 8
PIXELS_MIN = 150
# A step of the code [1]: exact, codes have eight bits.
CODE_SD = 1.0 / 255.0


@dataclass(frozen=True)
class Light:
    """Linear light (3,) [1, 0 to 1] of a region and the covariance (3, 3) of its logarithm."""

    rgb: FloatArray
    covariance: FloatArray
    scatter: float
    clipped_proportion: float
    n_pixels: int
    edge_proportion: float = 0.0


def is_greyscale(picture: Codes) -> bool:
    """Return whether `picture` (h, w, 3) of codes is black and white; every fourth row is asked.

    Bounds of our own choice, as said at GREY_CODES.
    """
    some = picture[::4, ::4].astype(np.int16)
    spread = some.max(-1) - some.min(-1)
    return bool((spread <= GREY_CODES).mean() >= GREY_SHARE)


def light_of(
    picture: Codes,
    regions: Sequence[Region],
    *,
    space: ColourSpace = SRGB,
    target: ColourSpace = WORKING,
    pixels_min: int = PIXELS_MIN,
) -> Light:
    """Return the Light of `regions` of a `picture` (h, w, 3) of codes of a `space`, together.

    Its light is that of a `target` space; it has none with fewer than `pixels_min` pixels. The mean
    over the middle of their brightness; our own choice, for the reason at MIDDLE_PERCENT.
    """
    cuts = [pixels_of(picture, region) for region in regions]
    codes = np.concatenate([cut for cut, _ in cuts])
    if len(codes) < pixels_min:
        return Light(np.zeros(3), np.zeros((3, 3)), 0.0, 0.0, len(codes))
    squares = np.concatenate([square_numbers(places, i) for i, (_, places) in enumerate(cuts)])
    light = space.linear_of_code[codes] @ between(space, target).T
    bright = light @ LUMINANCE
    low, high = np.percentile(bright, MIDDLE_PERCENT)
    kept = (bright >= low) & (bright <= high)
    rgb = light[kept].mean(0)
    covariance, scatter = scatter_between(light[kept], squares[kept])
    # Half a step of the code, in log light: what no number of pixels averages away.
    step = CODE_SD / 2.0 * slope_of_code(rgb) / np.maximum(rgb, 1e-6)
    return Light(
        rgb=rgb,
        covariance=covariance + np.diag(step**2),
        scatter=scatter,
        clipped_proportion=float((codes >= CLIPPED_CODE).any(1).mean()),
        n_pixels=len(codes),
        edge_proportion=float(((codes <= EDGE_CODE).any(1) & (codes >= LIT_CODE).any(1)).mean()),
    )


def square_numbers(places: FloatArray, region_number: int) -> IntArray:
    """Return which square of its region each of `places` (n, 2) [1, 0 to 1] falls in, (n,).

    Squares of region `region_number` have numbers that no other region's have.
    """
    cell = np.minimum((places * SQUARES).astype(int), SQUARES - 1)
    number: IntArray = region_number * SQUARES**2 + cell[:, 0] * SQUARES + cell[:, 1]
    return number


def scatter_between(light: FloatArray, squares: IntArray) -> tuple[FloatArray, float]:
    """Return the covariance (3, 3) of a mean's log and the scatter between squares [log].

    `light` (n, 3) linear [1] of pixels in `squares` (n,). Fewer than three full squares: 10 %, our
    own choice, wide, as so few tell little.
    Neighbouring pixels share texture, sharpening and the file's blocks, so squares are what is
    independent, not pixels.
    """
    _, numbers = np.unique(squares, return_inverse=True)
    counts = np.bincount(numbers)
    full = counts >= SQUARE_PIXELS_MIN
    if full.sum() < 3:
        return np.eye(3) * 0.1**2, 0.1
    sums = np.stack([np.bincount(numbers, weights=light[:, i]) for i in range(3)], axis=-1)
    means = np.log(np.maximum(sums[full] / counts[full, None], 1e-5))
    scatter = np.cov(means.T)
    return scatter / full.sum(), float(np.sqrt(LUMINANCE @ scatter @ LUMINANCE))


def slope_of_code(rgb: FloatArray) -> FloatArray:
    """Return how fast linear light `rgb` (3,) [1] grows with a code of 0 to 1, (3,) [1]."""
    nearest = np.clip(np.searchsorted(LINEAR_OF_CODE, rgb), 1, 255)
    slope: FloatArray = (LINEAR_OF_CODE[nearest] - LINEAR_OF_CODE[nearest - 1]) * 255.0
    return slope


def between(source: ColourSpace, target: ColourSpace) -> FloatArray:
    """Return the matrix (3, 3) [1] from linear light of one space to that of another."""
    if source is target:
        return np.eye(3)
    matrix: FloatArray = np.linalg.inv(target.to_srgb) @ source.to_srgb
    return matrix


def lab_of_working(light: FloatArray) -> FloatArray:
    """Return CIELAB (..., 3) of linear `light` (..., 3) of WORKING [1] under D65."""
    return lab_of_linear(WORKING.linear_srgb(light))


def lab_and_slope(ratio: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return CIELAB (3,) of linear light `ratio` (3,) [1] and its slope by log light (3, 3)."""
    step = 1e-4
    shifted = ratio * np.exp(step * np.eye(3))
    lab = lab_of_working(ratio)
    return lab, ((lab_of_working(shifted) - lab) / step).T


def working_of_lab(lab: FloatArray) -> FloatArray:
    """Return linear light (..., 3) of WORKING [1] of CIELAB `lab` (..., 3) under D65."""
    light: FloatArray = linear_of_lab(lab) @ np.linalg.inv(WORKING.to_srgb).T
    return light
