"""The colour of a coral in a photograph, measured against something neutral in the same photo.

Codes become linear light of wide primaries, so that colours beyond sRGB stay; light is averaged
over the middle of each region's brightness, so that shimmer and shadow fall away; the coral's light
is divided by the reference's, which takes out the lamp, the exposure and the camera's white balance
together; what is left is given as CIELAB, nothing cut off on the way. Our printed card (`CARD`)
takes out the phone's tone curve and its colours too.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.colour.colour_card import (
    CARD,
    PAPER,
    CardError,
    CardFit,
    UnreadableCard,
    fit_card,
)
from apps.photics.colour.colour_space import SRGB, Codes, ColourSpace
from apps.photics.colour.problems import PROBLEMS, Problem
from apps.photics.colour.region_light import (
    CLIPPED_SHARE_MAX,
    EDGE_SHARE_MAX,
    LUMINANCE,
    PIXELS_MIN,
    WORKING,
    Light,
    is_greyscale,
    lab_and_slope,
    light_of,
)
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.regions import Region

# How much of the light each kind of reference sends back [1]: white cards and slates 0.85-0.95,
# a photographer's grey card 0.18 (both from memory). Anything else is called middle grey: its
# colours compare with each other only.
REFLECTANCE = {"white": 0.90, "grey": 0.18, "object": 0.50, CARD: PAPER}

# Deviation of a* and of b* then [CIELAB]. Chosen, because over the colours of Display P3 that sRGB
# cuts off the root mean square is 8.3 and 9.4 (`bench_colour` prints it).
EDGE_SD = 9.0
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
# or that the coral glows. Chosen: five deviations of SAME_LIGHT_SD.
BRIGHTEST = 1.15

# Deviations in log light, chosen, because rendered scenes (tests/photics/colour) scatter so.
# Card and coral never lie in quite the same light; a camera's and a lamp's colours differ from
# those of the standard, a mix of white and blue more so; a file's codes are off by about one.
SAME_LIGHT_SD = 0.03
CAMERA_SD = {"white": 0.04, "mixed": 0.09}
TINTED_SD = 0.20
# A camera can balance blue light away until the card looks white, and no pixel tells: the keeper
# must say so. In rendered scenes colours are then off by dE00 16 at the median.
BLUE_LIGHT = "blue"


@dataclass(frozen=True)
class MeasuredColour:
    """A measured colour, or why there is none: `lab` [CIELAB] is None when a problem stops it."""

    problems: tuple[Problem, ...]
    lab: FloatArray | None = None  # (3,) L*, a*, b* under D65
    covariance: FloatArray | None = None  # (3, 3) of lab
    card: CardError | None = None  # with our printed card

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
    try:
        printed = fit_card(picture, reference, space=space) if reference_kind == CARD else None
    except UnreadableCard as problem:
        return refused([str(problem)])
    card = printed.paper if printed else light_of(picture, [reference], space=space)
    coral = light_of(picture, regions, space=space)
    problems = problems_of(card, coral, reflectance=REFLECTANCE[reference_kind])
    if any(PROBLEMS[key].stops for key in problems):
        return refused(problems)
    beyond = np.diag([0.0, EDGE_SD, EDGE_SD]) ** 2 * ("gamut_edge" in problems)
    keys = tuple(PROBLEMS[key] for key in problems)
    if printed:
        shown = light_of(picture, regions, space=space, target=space)
        lab, own, card_covariance = by_card(printed, shown)
        error = CardError(printed.left, card_covariance)
        return MeasuredColour(keys, lab, own + card_covariance + beyond, error)
    errors = tint_covariance(card.rgb, camera_sd=CAMERA_SD[light])
    lab, slope = lab_and_slope(coral.rgb / card.rgb * REFLECTANCE[reference_kind])
    covariance = slope @ (card.covariance + coral.covariance + errors) @ slope.T
    return MeasuredColour(keys, lab, covariance + beyond)


def by_card(printed: CardFit, coral: Light) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return CIELAB (3,) of a `coral`'s light by a printed card, and two covariances (3, 3).

    The first is the photo's own: scatter, and that card and coral never lie in quite the same
    light; the second the card's. Our own choice of errors.
    """
    lab, card_covariance, slope = printed.colour_of(coral.rgb)
    own = coral.covariance + SAME_LIGHT_SD**2 * np.ones((3, 3))
    return lab, slope @ own @ slope.T, card_covariance


def refused(keys: Iterable[str]) -> MeasuredColour:
    """Return a MeasuredColour without colour for `keys` of PROBLEMS."""
    return MeasuredColour(problems=tuple(PROBLEMS[key] for key in keys))


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
