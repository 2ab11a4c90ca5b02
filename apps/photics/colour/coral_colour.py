"""The colour of a coral in a photograph, measured against something neutral in the same photo.

Codes become linear light of wide primaries, Display P3's, so that colours beyond sRGB stay; light
is averaged over the middle of each region's brightness, so that shimmer and shadow fall away; the
coral's light is divided by the reference's, which takes out the lamp, the exposure and the camera's
white balance together; what is left is given as CIELAB, nothing cut off on the way.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.colour.cielab import LINEAR_OF_CODE, XYZ_OF_RGB, lab_of_linear
from apps.photics.colour.colour_space import DISPLAY_P3, SRGB, Codes, ColourSpace
from apps.photics.colour.problems import PROBLEMS, Problem
from apps.photics.ground.arrays import FloatArray, IntArray
from apps.photics.ground.regions import Region, pixels_of

# What light is averaged and divided in: its primaries hold nearly every colour of a surface.
WORKING = DISPLAY_P3
# Luminance of its linear light: the middle row of its matrix to XYZ, by definition.
LUMINANCE = (XYZ_OF_RGB @ WORKING.to_srgb)[1]
# How much of the light each kind of reference sends back [1]: white cards and slates 0.85-0.95,
# a photographer's grey card 0.18 (both from memory). Anything else is called middle grey: its
# colours compare with each other only.
REFLECTANCE = {"white": 0.90, "grey": 0.18, "object": 0.50}

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
# Deviation of a* and of b* then [CIELAB]. Chosen, because over the colours of Display P3 that sRGB
# cuts off the root mean square is 8.3 and 9.4 (`bench_colour` prints it).
EDGE_SD = 9.0
# Channels of a black-and-white photo differ by no more [codes] in nearly all [1] of its pixels.
# Chosen, because a JPEG of grey comes back to a code; a photo of grey things in colour has noise.
GREY_CODES, GREY_SHARE = 2, 0.999
# Each region is cut into so many squares a side; their scatter is its uncertainty.
# Chosen, because 25 squares give a scatter to 15 %, and 8 or 150 pixels are few enough for a phone.
SQUARES = 5
SQUARE_PIXELS_MIN = 8
PIXELS_MIN = 150
# Mean linear light [1] below which a code's own steps are too coarse. Chosen, because a step is 4 %
# of the first and 9 % of the second.
REFERENCE_LIGHT_MIN = 0.03
REGION_LIGHT_MIN = 0.004
# The weakest colour of the reference over its strongest [1]: below the first it can't be brought
# back, below the second the picture is tinted. Chosen, because a fifth leaves few codes to it.
WEAKEST_SHARE_MIN = 0.20
WEAKEST_SHARE_TINTED = 0.50
# Scatter of log light between squares of a reference. Chosen, because a card half of which has half
# the light scatters by 0.35.
UNEVEN_MAX = 0.30
# A coral sends back less light than a white card. More says that card and coral had other light,
# or that the coral glows. Chosen: three deviations of SAME_LIGHT_SD.
BRIGHTEST = 1.15

# Deviations in log light, chosen, because rendered scenes (tests/photics/colour) scatter so.
# Card and coral never lie in quite the same light; a camera's and a lamp's colours differ from
# those of the standard, a mix of white and blue more so; a file's codes are off by about one.
SAME_LIGHT_SD = 0.05
CAMERA_SD = {"white": 0.04, "mixed": 0.09}
TINTED_SD = 0.20
# A camera can balance blue light away until the card looks white, and no pixel tells: the keeper
# must say so. In rendered scenes colours are then off by dE00 16 at the median.
BLUE_LIGHT = "blue"
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


@dataclass(frozen=True)
class MeasuredColour:
    """A measured colour, or why there is none: `lab` [CIELAB] is None when a problem stops it."""

    problems: tuple[Problem, ...]
    lab: FloatArray | None = None  # (3,) L*, a*, b* under D65
    covariance: FloatArray | None = None  # (3, 3) of lab
    reference_rgb: FloatArray | None = None  # (3,) linear light of the reference as photographed

    @property
    def measured(self) -> bool:
        """Whether there is a colour."""
        return self.lab is not None


def measure(
    picture: Codes,
    *,
    reference: Region | None,
    regions: Sequence[Region],
    reference_kind: str,
    light: str,
    space: ColourSpace = SRGB,
) -> MeasuredColour:
    """Return the MeasuredColour of a coral in a photo.

    `picture` (h, w, 3) codes 0 to 255 of a `space`, upright. `reference` the Region of the neutral
    thing, or None. `regions` those of the coral, pooled. `reference_kind` a key of REFLECTANCE.
    `light` what the keeper states it was, "white", "mixed" or "blue"; blue is refused.
    Valid for a photo whose codes follow the curve of its space; a phone's own tone curve is part of
    the error and cancels only where coral and reference are about as bright as in the photo
    compared with. Method: our own choice; CIELAB against a white in the same picture as in
    Winters et al. 2009 (a photographic method for coral bleaching; cited from memory, not
    compared).
    """
    if reference is None or not regions:
        missing = [] if reference else ["no_reference"]
        return refused(missing + ([] if regions else ["no_region"]))
    if light == BLUE_LIGHT:
        return refused(["blue_light"])
    if is_greyscale(picture):
        return refused(["greyscale"])
    card = light_of(picture, [reference], space=space)
    coral = light_of(picture, regions, space=space)
    problems = problems_of(card, coral, reflectance=REFLECTANCE[reference_kind])
    if any(PROBLEMS[key].stops for key in problems):
        return refused(problems, card)
    covariance = (
        card.covariance + coral.covariance + tint_covariance(card.rgb, camera_sd=CAMERA_SD[light])
    )
    ratio = coral.rgb / card.rgb * REFLECTANCE[reference_kind]
    lab, slope = lab_and_slope(ratio)
    beyond = EDGE_SD if "gamut_edge" in problems else 0.0
    return MeasuredColour(
        problems=tuple(PROBLEMS[key] for key in problems),
        lab=lab,
        covariance=slope @ covariance @ slope.T + np.diag([0.0, beyond, beyond]) ** 2,
        reference_rgb=card.rgb,
    )


def is_greyscale(picture: Codes) -> bool:
    """Return whether `picture` (h, w, 3) of codes is black and white; every fourth row is asked.

    Bounds of our own choice, as said at GREY_CODES.
    """
    some = picture[::4, ::4].astype(np.int16)
    spread = some.max(-1) - some.min(-1)
    return bool((spread <= GREY_CODES).mean() >= GREY_SHARE)


def refused(keys: Iterable[str], card: Light | None = None) -> MeasuredColour:
    """Return a MeasuredColour without colour for `keys` of PROBLEMS, with the `card`'s light."""
    rgb = card.rgb if card is not None and card.n_pixels else None
    return MeasuredColour(problems=tuple(PROBLEMS[key] for key in keys), reference_rgb=rgb)


def light_of(picture: Codes, regions: Sequence[Region], *, space: ColourSpace = SRGB) -> Light:
    """Return the Light of `regions` of a `picture` (h, w, 3) of codes of a `space`, together.

    The mean over the middle of their brightness; our own choice, for the reason at MIDDLE_PERCENT.
    """
    cuts = [pixels_of(picture, region) for region in regions]
    codes = np.concatenate([cut for cut, _ in cuts])
    if len(codes) < PIXELS_MIN:
        return Light(np.zeros(3), np.zeros((3, 3)), 0.0, 0.0, len(codes))
    squares = np.concatenate([square_numbers(places, i) for i, (_, places) in enumerate(cuts)])
    light = space.linear_of_code[codes] @ between(space, WORKING).T
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


def tint_covariance(reference_rgb: FloatArray, *, camera_sd: float) -> FloatArray:
    """Return what light, camera and placing add to the covariance of log light (3, 3).

    `reference_rgb` (3,) linear light [1], `camera_sd` a value of CAMERA_SD [log]. Our own choice:
    the error grows with the logarithm of the tint.
    """
    tint = np.log(reference_rgb.max() / reference_rgb)
    own = camera_sd + TINTED_SD * tint / np.log(1.0 / WEAKEST_SHARE_MIN)
    covariance: FloatArray = SAME_LIGHT_SD**2 * np.ones((3, 3)) + np.diag(own**2)
    return covariance


def problems_of(card: Light, coral: Light, *, reflectance: float) -> list[str]:
    """Return the keys of PROBLEMS of a photo, those that stop it first.

    By the light of `card` and `coral` and the card's `reflectance` [1]; bounds of our own choice.
    """
    if card.n_pixels < PIXELS_MIN or coral.n_pixels < PIXELS_MIN:
        small = {"reference_small": card, "region_small": coral}
        return [key for key, light in small.items() if light.n_pixels < PIXELS_MIN]
    tint = WORKING.linear_srgb(card.rgb)
    weakest = tint.min() / tint.max()
    dark = card.rgb @ LUMINANCE < REFERENCE_LIGHT_MIN
    checks = {
        "reference_clipped": card.clipped_proportion > CLIPPED_SHARE_MAX,
        "region_clipped": coral.clipped_proportion > CLIPPED_SHARE_MAX,
        "reference_dark": dark,
        "region_dark": coral.rgb @ LUMINANCE < REGION_LIGHT_MIN,
        too_tinted(tint): not dark and weakest < WEAKEST_SHARE_MIN,
        # Only where the reference's reflectance is known.
        "brighter_than_white": not dark
        and reflectance != REFLECTANCE["object"]
        and (coral.rgb / card.rgb * reflectance).max() > BRIGHTEST,
        "reference_uneven": card.scatter > UNEVEN_MAX,
        "gamut_edge": coral.edge_proportion > EDGE_SHARE_MAX,
    }
    keys = [key for key, wrong in checks.items() if wrong]
    if not dark and WEAKEST_SHARE_MIN <= weakest < WEAKEST_SHARE_TINTED:
        keys.append("tinted")
    return keys


def too_tinted(rgb: FloatArray) -> str:
    """Return which of PROBLEMS a strong tint `rgb` (3,) [linear sRGB] of the light is.

    Our own choice: warm where blue is the weakest or red the strongest, else blue.
    """
    warm = rgb.argmin() == 2 or rgb.argmax() == 0
    return "too_warm" if warm else "too_blue"


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
