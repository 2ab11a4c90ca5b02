"""Our printed card in a photo: what it says of the phone's tone curve, its colours and itself.

A phone bends light by a curve of its own and makes colours more vivid. Both are undone here: a
curve for all three channels and a mix of channels that leaves white alone are fitted to the
patches, each measured against the bare paper beside it, so that a shade over a part of the card
cancels.
What is left over between patches and what they should be is the photo's own error.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from apps.photics.colour.card_layout import (
    LABS,
    MEASURED_PART,
    MIDDLES,
    PATCH_PART,
    paper_around,
    square,
)
from apps.photics.colour.colour_space import SRGB, Codes, ColourSpace
from apps.photics.colour.region_light import (
    CLIPPED_SHARE_MAX,
    WORKING,
    Light,
    between,
    lab_of_working,
    light_of,
)
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.regions import OUTLINE, Region

# The key of this kind of reference.
CARD = "card"
# What bare paper sends back [1]: 0.85 to 0.93 (from memory), as a white card.
PAPER = 0.90
# Pixels a patch, and a strip of paper, must show. Chosen, because the mean of 30 pixels of a noisy
# photo strays by a fifth of a pixel's own noise.
PATCH_PIXELS_MIN, PAPER_PIXELS_MIN = 30, 6
# How far curve and mixing may lie from those of a plain camera (prior deviations): slope, bend and
# second bend of the curve in log light; each of six mixings [1]. Chosen, because simulated looks
# (`tests/photics/phone_looks.py`) lie within two of them.
CURVE_SD = (0.25, 0.10, 0.04)
MIXING_SD = 0.25
# What a patch may stray before it counts less [CIELAB]. Chosen, because prints do by 2 to 3.
PATCH_SD = 2.0
# The root mean square of what is left over [CIELAB] from which the marked thing is not our card, or
# its corners are marked wrongly. Chosen, because a print whose inks are off by a tenth each way
# leaves 5, one off by a fifth 9, a card with one corner marked a quarter of a cell aside 17.
CARD_RMS_MAX = 9.0
# Of curve and mixing, exact: three and six.
PARAMETERS = 9
# Light down to which patches tell the curve [log]; chosen, because the darkest lies there. Below it
# goes on straight.
DARKEST_LOG = -4.5


class UnreadableCard(ValueError):
    """The card can't be read; its one argument is a key of PROBLEMS."""


@dataclass(frozen=True, eq=False)
class CardError:
    """What a card says of a photo's own error.

    `left` (n, 3) what of each patch is left over [CIELAB], `covariance` (3, 3) the card's part of
    that of the colour [CIELAB squared].
    """

    left: FloatArray
    covariance: FloatArray


@dataclass(frozen=True, eq=False)
class CardFit:
    """What a printed card tells: `theta` (9,) curve and mixing with their covariance (9, 9).

    `paper` is the Light of bare paper in WORKING, `paper_rgb` (3,) the same in the photo's own
    space [1], `left` (n, 3) what of each patch is left over [CIELAB].
    """

    theta: FloatArray
    covariance: FloatArray
    paper: Light
    paper_rgb: FloatArray
    left: FloatArray
    space: ColourSpace

    def colour_of(self, rgb: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return CIELAB (3,) of light `rgb` (3,) of the photo's space [1], covariance and slope.

        The covariance (3, 3) is the card's own; the slope (3, 3) is by log light. By the law of
        propagation of errors.
        """
        lab = self.lab(self.theta, rgb)
        by_theta = slopes(lambda theta: self.lab(theta, rgb), self.theta)
        by_light = slopes(lambda log: self.lab(self.theta, np.exp(log)), np.log(rgb))
        covariance = by_theta @ self.covariance @ by_theta.T + mean_square(self.left)
        return lab, covariance, by_light

    def lab(self, theta: FloatArray, rgb: FloatArray) -> FloatArray:
        """Return CIELAB (3,) of light `rgb` (3,) [1] by parameters `theta` (9,)."""
        return lab_of_card(theta, rgb, self.paper_rgb, between(self.space, WORKING))


def mean_square(left: FloatArray) -> FloatArray:
    """Return the mean square (3, 3) of what is `left` over, (n, 3) [CIELAB], a fit's share made up.

    Nine parameters took their share of it away; by the law of degrees of freedom.
    """
    free = left.size - PARAMETERS
    square: FloatArray = left.T @ left / len(left) * left.size / free
    return square


def slopes(function: Callable[[FloatArray], FloatArray], at: FloatArray) -> FloatArray:
    """Return the slope (3, n) of a function at `at` (n,) in any unit, by differences."""
    step = 1e-4
    return np.stack([(function(at + step * axis) - function(at - step * axis)) / (2 * step)
                     for axis in np.eye(len(at))], axis=-1)  # fmt: skip


def undone_curve(theta: FloatArray, light: FloatArray) -> FloatArray:
    """Return `light` (..., 3) [1] as it was before the phone's curve, by `theta` (9,).

    In log light a slope and two bends, straight on below DARKEST_LOG. Our own choice of form.
    """
    log = np.log(np.maximum(light, 1e-5))
    held = np.maximum(log, DARKEST_LOG)
    bent = (1.0 + theta[0]) * held + theta[1] * held**2 + theta[2] * held**3
    slope = 1.0 + theta[0] + 2 * theta[1] * DARKEST_LOG + 3 * theta[2] * DARKEST_LOG**2
    undone: FloatArray = np.exp(bent + np.maximum(slope, 0.2) * (log - held))
    return undone


def mixing(theta: FloatArray) -> FloatArray:
    """Return the mix of channels (3, 3) [1] of `theta` (9,): every row sums to 1, by definition."""
    off = np.zeros((3, 3))
    off[~np.eye(3, dtype=bool)] = theta[3:]
    mix: FloatArray = np.eye(3) + off - np.diag(off.sum(1))
    return mix


def lab_of_card(
    theta: FloatArray, light: FloatArray, paper: FloatArray, to_working: FloatArray
) -> FloatArray:
    """Return CIELAB (..., 3) of `light` (..., 3) beside `paper` (..., 3), linear [1].

    `theta` (9,) undoes the phone's curve and colours; `to_working` (3, 3) leads to WORKING [1],
    where light is divided by the paper's. Our own choice of order, that of a phone turned round.
    """
    mixed = to_working @ mixing(theta)
    thing = undone_curve(theta, light) @ mixed.T
    bare = np.maximum(undone_curve(theta, paper) @ mixed.T, 1e-4)
    return lab_of_working(thing / bare * PAPER)


def fit_card(picture: Codes, marked: Region, *, space: ColourSpace = SRGB) -> CardFit:
    """Return the CardFit of the card `marked` on a `picture` (h, w, 3) of codes of a `space`.

    `marked` has the middles of the four corner rings, from any of them on. Fitted by least squares
    with priors and a loss that a stained patch hardly moves: our own choice. Raises UnreadableCard.
    """
    corners = in_turn(marked)
    to_working = between(space, WORKING)
    read = [patches_of(picture, np.roll(corners, turn, axis=0), space) for turn in range(4)]
    plain = np.zeros(PARAMETERS)
    off = [
        float(np.square(lab_of_card(plain, light, beside, to_working) - LABS).sum())
        for light, beside, _ in read
    ]
    return fitted(*read[int(np.argmin(off))], space)


def fitted(light: FloatArray, beside: FloatArray, paper: Light, space: ColourSpace) -> CardFit:
    """Return the CardFit of patches' `light` and the paper `beside` each, (n, 3) [1].

    Far patches count less, by a pseudo-Huber loss written as a root so that priors stay plain
    squares; our own choice. Raises UnreadableCard where too much is left over.
    """
    to_working = between(space, WORKING)
    prior = np.concatenate([CURVE_SD, np.full(6, MIXING_SD)])

    def off(theta: FloatArray) -> FloatArray:
        apart: FloatArray = (lab_of_card(theta, light, beside, to_working) - LABS) / PATCH_SD
        return apart

    def errors(theta: FloatArray) -> FloatArray:
        apart = np.linalg.norm(off(theta), axis=-1, keepdims=True)
        weight = np.sqrt(2.0 * (np.sqrt(1.0 + (apart / 2.0) ** 2) - 1.0)) * 2.0
        direction = off(theta) / np.maximum(apart, 1e-9)
        return np.concatenate([(weight * direction).ravel(), theta / prior])

    result = least_squares(errors, np.zeros(PARAMETERS))
    theta, jacobian = np.asarray(result.x, float), np.asarray(result.jac, float)
    left: FloatArray = off(theta) * PATCH_SD
    if float(np.sqrt(np.mean(np.sum(left**2, axis=-1)))) > CARD_RMS_MAX:
        raise UnreadableCard("card_unclear")
    scale = max(float(np.trace(mean_square(left))) / 3.0 / PATCH_SD**2, 0.01)
    covariance = np.linalg.inv(jacobian.T @ jacobian / scale + np.diag(prior**-2.0))
    rgb = np.asarray(np.linalg.solve(to_working, paper.rgb), float)
    return CardFit(theta, covariance, paper, rgb, left, space)


def in_turn(marked: Region) -> FloatArray:
    """Return the corners (4, 2) [1] of the marked card clockwise on the photo.

    By geometry. Raises UnreadableCard where they are not the four of a plain quadrilateral.
    """
    corners = np.asarray(marked.points, float)
    if marked.shape != OUTLINE or corners.shape != (4, 2):
        raise UnreadableCard("card_unclear")
    away = corners - corners.mean(0)
    corners = corners[np.argsort(np.arctan2(away[:, 1], away[:, 0]))]
    sides = np.roll(corners, -1, axis=0) - corners
    turns = sides[:, 0] * np.roll(sides, -1, axis=0)[:, 1]
    turns -= sides[:, 1] * np.roll(sides, -1, axis=0)[:, 0]
    if turns.min() < 1e-5:
        raise UnreadableCard("card_unclear")
    return corners


def patches_of(
    picture: Codes, corners: FloatArray, space: ColourSpace
) -> tuple[FloatArray, FloatArray, Light]:
    """Return light of the patches and of the paper beside each, (n, 3) [1], and of lit paper.

    `corners` (4, 2) [1] on the `picture` (h, w, 3) of codes of a `space`, the card's upper left
    first. Raises UnreadableCard where it is too small or blown out.
    """
    across = homography(corners)
    light, beside, strips = [], [], []
    for middle in MIDDLES:
        patch = outline(square(middle, PATCH_PART * MEASURED_PART), across)
        shown = light_of(picture, [patch], space=space, target=space, pixels_min=PATCH_PIXELS_MIN)
        around = [outline(strip, across) for strip in paper_around(middle)]
        bare = light_of(picture, around, space=space, target=space, pixels_min=PAPER_PIXELS_MIN)
        if shown.n_pixels < PATCH_PIXELS_MIN or bare.n_pixels < PAPER_PIXELS_MIN:
            raise UnreadableCard("reference_small")
        light.append(shown.rgb)
        beside.append(bare.rgb)
        strips.append((bare, around))
    bright = np.array([bare.rgb.sum() for bare, _ in strips])
    # Paper in shade says nothing of the coral's light: the brighter half does.
    lit = [strip for strip, order in zip(strips, np.argsort(np.argsort(-bright)), strict=True)
           if order < len(strips) // 2]  # fmt: skip
    if np.mean([bare.clipped_proportion > 0.5 for bare, _ in lit]) > CLIPPED_SHARE_MAX:
        raise UnreadableCard("reference_clipped")
    paper = light_of(picture, [region for _, around in lit for region in around], space=space)
    return np.array(light), np.array(beside), paper


def homography(corners: FloatArray) -> FloatArray:
    """Return the matrix (3, 3) [1] that takes a unit square to `corners` (4, 2) [1].

    Reference: Heckbert 1989, Fundamentals of Texture Mapping and Image Warping, 2.2.3.
    """
    rows = []
    square_corners = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    for (u, v), (x, y) in zip(square_corners, corners, strict=True):
        rows.append([u, v, 1.0, 0.0, 0.0, 0.0, -x * u, -x * v])
        rows.append([0.0, 0.0, 0.0, u, v, 1.0, -y * u, -y * v])
    matrix: FloatArray = np.append(np.linalg.solve(np.array(rows), corners.ravel()), 1.0)
    return matrix.reshape(3, 3)


def outline(points: FloatArray, across: FloatArray) -> Region:
    """Return the Region of `points` (n, 2) [1] of the card as the photo shows them.

    `across` (3, 3) [1] as of `homography`; held to the photo.
    """
    put = np.column_stack([points, np.ones(len(points))]) @ across.T
    held = np.clip(put[:, :2] / put[:, 2:], 0.0, 1.0)
    return Region(OUTLINE, tuple((float(x), float(y)) for x, y in held))
