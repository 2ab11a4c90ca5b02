"""Colours of two photos compared: what one phone's photos share, and what two phones add.

A phone's look (its tone curve, its vividness) bends the log light of a colour by a slope and by its
distance from grey. Photos of one camera in one mode share that, so it cancels where the colour is
the same; photos of two do not. Each amount here is measured with simulated looks of known truth.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.colour.colour_card import CardError, mean_square
from apps.photics.colour.coral_colour import CAMERA_SD, REFLECTANCE
from apps.photics.colour.region_light import lab_and_slope, working_of_lab
from apps.photics.colour.scales import (
    ColourFunction,
    Value,
    deviation_along,
    difference_of,
)
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.normal import NORMAL_90

# A look's own: how its log light bends by slope and by distance from grey, and what is left over
# [log]. Chosen, because `bench_colour` measures 0.10, 0.20, 0.00 for looks drawn at random.
LOOK_SLOPE_SD, LOOK_VIVID_SD, LOOK_LEFT_SD = 0.10, 0.20, 0.01
# The same between two photos of one look, whose exposure and white balance wander. Chosen, because
# the same run prints these.
SHOT_SLOPE_SD, SHOT_VIVID_SD, SHOT_LEFT_SD = 0.025, 0.02, 0.013
# What patches differ by, times this [1], is what the coral may be off. Chosen, because intervals of
# changes of known size then hold nine times in ten there.
OTHER_PIGMENTS = 0.8


@dataclass(frozen=True)
class ComparedColour:
    """A measured colour: `lab` (3,) and `covariance` (3, 3) [CIELAB], and how it was measured."""

    lab: FloatArray
    covariance: FloatArray
    reference_kind: str
    light: str
    card: CardError | None = None

    @property
    def log_light(self) -> FloatArray:
        """Log light (3,) over the reference's, in WORKING [log]; very dark is held."""
        light = np.maximum(working_of_lab(self.lab), 1e-3)
        log: FloatArray = np.log(light / REFLECTANCE[self.reference_kind])
        return log

    @property
    def slope(self) -> FloatArray:
        """The slope (3, 3) of CIELAB by log light."""
        return lab_and_slope(np.maximum(working_of_lab(self.lab), 1e-3))[1]


def look_errors(
    log_light: FloatArray, slope_sd: float, vivid_sd: float, left_sd: float
) -> FloatArray:
    """Return the covariance (3, 3) of `log_light` (3,) [log] by a look's deviations [log].

    `slope_sd` of its slope, `vivid_sd` of its distance from grey [1], `left_sd` the rest [log].
    Our own choice of form.
    """
    away = log_light - log_light.mean()
    bent = slope_sd**2 * np.outer(log_light, log_light) + vivid_sd**2 * np.outer(away, away)
    covariance: FloatArray = bent + left_sd**2 * np.eye(3)
    return covariance


def pair_covariance(now: ComparedColour, base: ComparedColour, *, same_look: bool) -> FloatArray:
    """Return the covariance (3, 3) of the difference of two colours [CIELAB squared].

    `now` and `base` were measured against the same kind of reference in the same light; `same_look`
    says that one camera in one mode took both. With a printed card looks are taken out already. By
    the law of propagation of errors.
    """
    together = now.covariance + base.covariance
    if now.card is not None and base.card is not None:
        cancels = 1.0 - card_part(now.card, base.card)
        kept: FloatArray = together - cancels * (now.card.covariance + base.card.covariance)
        return kept
    if not same_look:
        for colour in (now, base):
            errors = look_errors(colour.log_light, LOOK_SLOPE_SD, LOOK_VIVID_SD, LOOK_LEFT_SD)
            together = together + colour.slope @ errors @ colour.slope.T
        return together
    # One camera: its own colours cancel; what its look does to a change of colour does not.
    for colour in (now, base):
        own = look_errors(colour.log_light, SHOT_SLOPE_SD, SHOT_VIVID_SD, SHOT_LEFT_SD)
        errors = own - CAMERA_SD[colour.light] ** 2 * np.eye(3)
        together = together + colour.slope @ errors @ colour.slope.T
    moved = now.log_light - base.log_light
    shared = now.slope @ look_errors(moved, LOOK_SLOPE_SD, LOOK_VIVID_SD, 0.0) @ now.slope.T
    return held_positive(together + shared)


def card_part(now: CardError, base: CardError) -> float:
    """Return the part [1] of two cards' own errors that does not cancel between their photos.

    One print is off in both photos alike; what is left of its patches in one and not in the other
    is the photos' own error. Another print cancels nothing. Our own choice of measure.
    """
    apart = np.trace(mean_square(now.left - base.left))
    both = np.trace(mean_square(now.left)) + np.trace(mean_square(base.left))
    return float(np.clip(OTHER_PIGMENTS * apart / max(both, 1e-6), 0.05, 1.0))


def held_positive(covariance: FloatArray) -> FloatArray:
    """Return `covariance` (3, 3) in any unit with no axis below a hundredth; our own choice."""
    values, axes = np.linalg.eigh(covariance)
    positive: FloatArray = (axes * np.maximum(values, 0.01)) @ axes.T
    return positive


def difference_between(now: ComparedColour, base: ComparedColour, *, same_look: bool) -> Value:
    """Return dE00 of `now` from `base` as a Value with its 90 % interval, as `pair_covariance`."""
    return difference_of(now.lab, base.lab, pair_covariance(now, base, same_look=same_look))


def moved_surely(
    function: ColourFunction, now: FloatArray, base: FloatArray, covariance: FloatArray
) -> float:
    """Return by how much a function of CIELAB moved from `base` (3,) to `now` (3,), in its unit.

    0 where it may not have moved by its 90 % interval; `covariance` (3, 3) that of the difference.
    By the law of propagation of errors.
    """
    moved = float(function(now) - function(base))
    unsure = NORMAL_90 * deviation_along(function, now, covariance)
    return 0.0 if abs(moved) < unsure else moved
