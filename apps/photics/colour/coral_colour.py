"""The colour of a coral in a photograph, measured against something neutral in the same photo.

Codes become linear light; light is averaged over the middle of each region's brightness, so that
shimmer and shadow fall away; the coral's light is divided by the reference's, which takes out the
lamp, the exposure and the camera's white balance together; what is left is told as CIELAB.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.colour.ciede2000 import ciede2000
from apps.photics.colour.cielab import (
    LINEAR_OF_CODE,
    chroma,
    hue_deg,
    lab_of_linear,
)
from apps.photics.ground.regions import pixels_of

# Luminance of linear sRGB (IEC 61966-2-1).
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
# How much of the light each kind of reference sends back [1]: white cards and slates 0.85-0.95,
# a photographer's grey card 0.18 (both from memory). Anything else is called middle grey: its
# colours compare with each other only.
REFLECTANCE = {"white": 0.90, "grey": 0.18, "object": 0.50}

# The part of the pixels, by brightness, that is averaged: house rule. Glints and caustics of
# moving water and the shade between polyps lie in the tails.
MIDDLE_PERCENT = (20.0, 80.0)
# A code from here on may have been cut off by the camera.
CLIPPED_CODE = 250
CLIPPED_SHARE_MAX = 0.10
# Each region is cut into so many squares a side; their scatter is its uncertainty.
SQUARES = 5
SQUARE_PIXELS_MIN = 8
PIXELS_MIN = 150
# Mean light below which a code's own steps are too coarse.
REFERENCE_LIGHT_MIN = 0.03
REGION_LIGHT_MIN = 0.004
# The weakest colour of the reference, as a share of its strongest: below the first it can't be
# brought back, below the second the picture is tinted.
WEAKEST_SHARE_MIN = 0.20
WEAKEST_SHARE_TINTED = 0.50
# Scatter of log light between squares of a reference: beyond, it lies half in shade.
UNEVEN_MAX = 0.30
# A coral sends back less light than a white card. More says that card and coral had other light,
# or that the coral glows.
BRIGHTEST = 1.15

# House rules, from rendered scenes (tests/photics/test_coral_colour.py): deviations in log light.
# Card and coral never lie in quite the same light; a camera's and a lamp's colours differ from
# those of the standard, a mix of white and blue more so; a file's codes are off by about one.
SAME_LIGHT_SD = 0.05
CAMERA_SD = {"white": 0.04, "mixed": 0.09}
TINTED_SD = 0.20
# A camera can balance blue light away until the card looks white, and no pixel tells: the keeper
# must. In rendered scenes colours are then off by dE00 16 at the median.
BLUE_LIGHT = "blue"
CODE_SD = 1.0 / 255.0

# Two-sided 90 % of a normal law.
NORMAL_90 = 1.6449
# The hue of brown, between red at 0 and yellow at 90 [degrees]: house rule.
BROWN_DEG = 70.0
CHROMA_OF_PALENESS = 0.5


@dataclass(frozen=True)
class Problem:
    """Why a photo can't be measured, or what makes its colour doubtful, and what to do."""

    key: str
    words: str
    remedy: str
    stops: bool


WHITE_FIRST = "Set the lamp to white for a minute and take the photo again."
PROBLEMS = {
    p.key: p
    for p in (
        Problem(
            "no_reference", "No reference is marked, so the light can’t be taken out.",
            "Lay a white or grey card beside the coral, or mark something whose colour never "
            "changes, the same thing each time.", True,
        ),
        Problem("no_region", "No part of the coral is marked.", "Draw around a part of it.", True),
        Problem(
            "reference_small", "The reference is too small in the photo.",
            "Mark more of it, or go nearer.", True,
        ),
        Problem(
            "region_small", "The marked part of the coral is too small.",
            "Mark more of it, or go nearer.", True,
        ),
        Problem(
            "reference_clipped", "The reference is blown out: parts are as bright as a photo can "
            "show.", "Tap the card on the phone’s screen so that it exposes for it, or use a grey "
            "card.", True,
        ),
        Problem(
            "region_clipped", "The coral is blown out: parts are as bright as a photo can show.",
            "Make the photo darker: tap the brightest part on the phone’s screen.", True,
        ),
        Problem(
            "reference_dark", "The reference is too dark to say which light fell on it.",
            "Bring the card into the coral’s light, or expose longer.", True,
        ),
        Problem(
            "region_dark", "The coral is too dark in this photo.",
            "Expose longer, or photograph it with the lamp up.", True,
        ),
        Problem(
            "blue_light", "Under blue light corals glow and the camera guesses at red: no "
            "colour is told.", WHITE_FIRST, True,
        ),
        Problem(
            "too_blue", "The light is too blue: too little red or green is left to bring back.",
            WHITE_FIRST + " A warmer white balance in the camera helps a little; a filter more.",
            True,
        ),
        Problem(
            "brighter_than_white", "The coral comes out brighter than white: it glows in this "
            "light, or the reference lay in shade.",
            WHITE_FIRST + " Hold the card right beside the coral, facing as it does.", True,
        ),
        Problem(
            "tinted", "The light is tinted, so the colour is less sure and corals that glow look "
            "paler than they are.", WHITE_FIRST, False,
        ),
        Problem(
            "reference_uneven", "The reference is not evenly lit.",
            "Mark only the part that lies in the coral’s light.", False,
        ),
    )
}  # fmt: skip


@dataclass(frozen=True)
class Light:
    """Linear light (3,) of a region and the covariance (3, 3) of its logarithm."""

    rgb: np.ndarray
    covariance: np.ndarray
    scatter: float
    clipped_share: float
    n_pixels: int


@dataclass(frozen=True)
class ColourFound:
    """A measured colour, or why there is none: `lab` is None when a problem stops it."""

    problems: tuple[Problem, ...]
    lab: np.ndarray | None = None  # (3,) L*, a*, b* under D65
    covariance: np.ndarray | None = None  # (3, 3) of lab
    reference_rgb: np.ndarray | None = None  # (3,) linear light of the reference as photographed

    @property
    def measured(self):
        return self.lab is not None


def measure(picture, *, reference, regions, reference_kind, light):
    """Return the ColourFound of a coral in a photo.

    picture: (h, w, 3) sRGB codes, uint8, upright. reference: Region of the neutral thing, or
    None. regions: Regions of the coral, pooled. reference_kind: a key of REFLECTANCE. light: which
    light the keeper says it was, "white", "mixed" or "blue"; blue is refused.
    Valid for a photo whose codes follow sRGB's curve; a phone's own tone curve is part of the
    error and cancels only where coral and reference are about as bright as in the photo compared
    with. Method: house rule; CIELAB against a white in the same picture as in Winters et al. 2009
    (a photographic method for coral bleaching; cited from memory, not compared).
    """
    if reference is None or not regions:
        missing = [] if reference else ["no_reference"]
        return refused(missing + ([] if regions else ["no_region"]))
    if light == BLUE_LIGHT:
        return refused(["blue_light"])
    card = light_of(picture, [reference])
    coral = light_of(picture, regions)
    found = problems_of(card, coral, REFLECTANCE[reference_kind])
    if any(PROBLEMS[key].stops for key in found):
        return refused(found, card)
    covariance = card.covariance + coral.covariance + tint_covariance(card.rgb, CAMERA_SD[light])
    ratio = coral.rgb / card.rgb * REFLECTANCE[reference_kind]
    lab, slope = lab_and_slope(ratio)
    return ColourFound(
        problems=tuple(PROBLEMS[key] for key in found),
        lab=lab,
        covariance=slope @ covariance @ slope.T,
        reference_rgb=card.rgb,
    )


def refused(keys, card=None):
    rgb = card.rgb if card is not None and card.n_pixels else None
    return ColourFound(problems=tuple(PROBLEMS[key] for key in keys), reference_rgb=rgb)


def light_of(picture, regions):
    """Return the Light of regions taken together: a mean over the middle of their brightness."""
    cuts = [pixels_of(picture, region) for region in regions]
    codes = np.concatenate([cut for cut, _ in cuts])
    if len(codes) < PIXELS_MIN:
        return Light(np.zeros(3), np.zeros((3, 3)), 0.0, 0.0, len(codes))
    squares = np.concatenate([square_numbers(places, i) for i, (_, places) in enumerate(cuts)])
    light = LINEAR_OF_CODE[codes]
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
        clipped_share=float((codes >= CLIPPED_CODE).any(1).mean()),
        n_pixels=len(codes),
    )


def square_numbers(places, region_number):
    """Return which square of its region each place (n, 2) falls in, (n,)."""
    cell = np.minimum((places * SQUARES).astype(int), SQUARES - 1)
    return region_number * SQUARES**2 + cell[:, 0] * SQUARES + cell[:, 1]


def scatter_between(light, squares):
    """Return the covariance (3, 3) of a mean's log and the scatter between squares [log].

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


def slope_of_code(rgb):
    """Return how fast linear light (3,) grows with the code [1 per code of 0 to 1]."""
    nearest = np.clip(np.searchsorted(LINEAR_OF_CODE, rgb), 1, 255)
    return (LINEAR_OF_CODE[nearest] - LINEAR_OF_CODE[nearest - 1]) * 255.0


def tint_covariance(reference_rgb, camera_sd):
    """Return what light, camera and placing add to the covariance of log light (3, 3)."""
    tint = np.log(reference_rgb.max() / reference_rgb)
    own = camera_sd + TINTED_SD * tint / np.log(1.0 / WEAKEST_SHARE_MIN)
    return SAME_LIGHT_SD**2 * np.ones((3, 3)) + np.diag(own**2)


def problems_of(card, coral, reflectance):
    """Return the keys of what is wrong with a photo, those that stop it first."""
    if card.n_pixels < PIXELS_MIN or coral.n_pixels < PIXELS_MIN:
        small = {"reference_small": card, "region_small": coral}
        return [key for key, light in small.items() if light.n_pixels < PIXELS_MIN]
    weakest = card.rgb.min() / card.rgb.max()
    dark = card.rgb @ LUMINANCE < REFERENCE_LIGHT_MIN
    checks = {
        "reference_clipped": card.clipped_share > CLIPPED_SHARE_MAX,
        "region_clipped": coral.clipped_share > CLIPPED_SHARE_MAX,
        "reference_dark": dark,
        "region_dark": coral.rgb @ LUMINANCE < REGION_LIGHT_MIN,
        "too_blue": not dark and weakest < WEAKEST_SHARE_MIN,
        # Only where the reference's reflectance is known.
        "brighter_than_white": not dark
        and reflectance != REFLECTANCE["object"]
        and (coral.rgb / card.rgb * reflectance).max() > BRIGHTEST,
        "reference_uneven": card.scatter > UNEVEN_MAX,
    }
    found = [key for key, wrong in checks.items() if wrong]
    if not dark and WEAKEST_SHARE_MIN <= weakest < WEAKEST_SHARE_TINTED:
        found.append("tinted")
    return found


def lab_and_slope(ratio):
    """Return CIELAB (3,) of linear light (3,) and its derivatives by log light (3, 3)."""
    step = 1e-4
    shifted = ratio * np.exp(step * np.eye(3))
    lab = lab_of_linear(ratio)
    return lab, ((lab_of_linear(shifted) - lab) / step).T


def paleness(lab):
    """Return how near to white a colour (..., 3) is [0 to 100]: up is paler.

    100 less the distance in CIELAB to white (L* 100, no chroma), chroma counted by half: white is
    100, black 0. That the distance to a white patch in the same photo follows the density of
    symbionts is published (a recent preprint, seen in summary only); the half is a house rule, so
    that a coral of vivid host colour that loses its symbionts is still called paler.
    """
    lab = np.asarray(lab, float)
    away = np.hypot(100.0 - lab[..., 0], CHROMA_OF_PALENESS * chroma(lab))
    return np.maximum(100.0 - away, 0.0)


def browning(lab):
    """Return how dark and brown a colour (..., 3) is: up is browner; white 0, black 50.

    Half the sum of the darkness (100 - L*) and of the part of a*, b* that points to brown, at a
    hue of BROWN_DEG. House rule: symbionts darken a coral and turn it towards brown together.
    Compares a coral with itself, not with one of another colour.
    """
    lab = np.asarray(lab, float)
    angle = np.radians(BROWN_DEG)
    toward = lab[..., 1] * np.cos(angle) + lab[..., 2] * np.sin(angle)
    return ((100.0 - lab[..., 0]) + toward) / 2.0


@dataclass(frozen=True)
class Value:
    """A number with the ends of its 90 % interval."""

    value: float
    low: float
    high: float


def told(function, lab, covariance, *, least=-np.inf):
    """Return the Value of a function of CIELAB, by its slope at `lab` (3,)."""
    value = float(function(lab))
    reach = NORMAL_90 * deviation_along(function, lab, covariance)
    return Value(value, max(value - reach, least), value + reach)


def deviation_along(function, lab, covariance):
    """Return the standard deviation of a function of CIELAB under `covariance` (3, 3).

    `function` takes colours (..., 3), many at once.
    """
    step = 0.05
    values = function(lab + step * np.concatenate([np.eye(3), -np.eye(3)]))
    slope = (values[:3] - values[3:]) / (2 * step)
    return float(np.sqrt(max(slope @ covariance @ slope, 0.0)))


def lightness_of(lab, covariance):
    return told(lambda colour: colour[..., 0], lab, covariance)


def chroma_of(lab, covariance):
    return told(chroma, lab, covariance, least=0.0)


def hue_of(lab):
    return float(hue_deg(lab))


def paleness_of(lab, covariance):
    return told(paleness, lab, covariance, least=0.0)


def browning_of(lab, covariance):
    return told(browning, lab, covariance)


def difference_of(lab, covariance, base_lab, base_covariance):
    """Return dE00 from a baseline as a Value.

    The low end is 0 where the two can't be told apart. The slope is taken along the way from
    the baseline; at the baseline itself, where dE00 has a point, along its steepest direction.
    """
    value = float(ciede2000(base_lab, lab))
    both = covariance + base_covariance
    if value > 0.5:
        spread = deviation_along(lambda colour: ciede2000(base_lab, colour), lab, both)
    else:
        steps = np.sqrt(np.linalg.eigvalsh(both)[-1])
        axis = np.linalg.eigh(both)[1][:, -1]
        spread = float(ciede2000(base_lab, np.asarray(base_lab) + steps * axis))
    reach = NORMAL_90 * spread
    return Value(value, max(value - reach, 0.0), value + reach)
