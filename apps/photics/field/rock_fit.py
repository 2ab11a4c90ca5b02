"""Rocks as rough as they are stated: each may shade less or more than its box would.

A box is a guess at a rock. Where the readings foresee each other clearly better with a rock
smaller, taller, soft as a mound or away, the fit takes it so and says which; fixtures are never
thrown out for it. Each is tried cheaply first, with the rig moved along its slopes alone, and only
the one that promises most is fitted. What is glass or stands in the tank by its own measure, an
overflow or a brace, is as stated.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from apps.photics.field.readings import Readings
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.optics.shade import SoftRock
from apps.photics.rig.calibration import MODEL_NOISE, Calibrated, calibrate, robust_weight
from apps.photics.rig.prior import PriorDeviations
from apps.photics.rig.remainder import foreseen
from apps.photics.rig.residual import Residual, fit_residual
from apps.photics.rig.rig import Rig
from apps.photics.rig.ring_fit import score

# Sizes tried for a rock, as parts of those stated; 0: away [1]. Chosen, because a box drawn round a
# mound is about a quarter too wide.
SIZES = (0.75, 1.2, 0.0)
# Part of a rock's shorter level side over which its shadow fades in, where it is tried as soft [1]:
# chosen, because rays through the outer third of the box drawn round a mound pass it.
SOFT = 0.6
# How much better readings must foresee each other under another size [summed log density]: chosen,
# because less comes about by chance in tanks whose rocks are right.
ADVANTAGE = 2.0
# How much better they must do so already where the rig moves along its slopes alone [1]: chosen,
# because what a fit finds is within 3 of that where it is little and within a quarter where it is
# much (traced tanks with a rock told as its box).
PROMISE = 0.5
# A rock that changes no reading by more than this is not asked about [log PAR], nor more than so
# many: our own choice.
SEEN_LOG, ROCKS_MOST = 0.08, 6
# Steps of a fit that begins at one with other rocks: chosen, because it is near already.
STEPS = 8


@dataclass(frozen=True)
class RockFit:
    """A stated rock, by its number from 0, that shades as another one would.

    By `size`, a part of the stated sizes, 0: as if it were not there [1]; `is_soft`: its shadow
    fades in, as a mound's does.
    """

    number: int
    size: float = 1.0
    is_soft: bool = False


def trials_of(number: int) -> list[RockFit]:
    """Return what is tried in place of the rock of this number."""
    return [*(RockFit(number, size) for size in SIZES), RockFit(number, is_soft=True)]


def fit_rocks(
    tank: Tank, fixtures: Sequence[Fixture], rocks: Sequence[Rock], readings: Readings
) -> tuple[Calibrated, tuple[RockFit, ...]]:
    """Return the Calibrated rig under the rocks that readings bear out, and the RockFits.

    Fixtures are the lit ones. Without rocks it is plain calibration.
    """
    return likelier_rocks(calibrate(Rig(tank, fixtures, rocks), readings), readings)


def likelier_rocks(
    fit: Calibrated, readings: Readings, deviations: PriorDeviations | None = None
) -> tuple[Calibrated, tuple[RockFit, ...]]:
    """Return a fit, or a better one with some of its rocks otherwise, and the RockFits.

    `deviations` are those the fit was made with.
    """
    rocks = fit.rig.rocks
    best = score(fit)
    changes: dict[int, RockFit] = {}
    for number in shading(fit, readings):
        # The same daylight, as far as it was fitted.
        rigs = {
            trial: fit.rig.under(fit.rig.tank, refitted(rocks, changes | {number: trial}))
            for trial in trials_of(number)
        }
        trial = most_promising(fit, readings, rigs)
        if trial is None:
            continue
        tried = calibrate(rigs[trial], readings, deviations, steps=STEPS, start=fit)
        if (value := score(tried)) > best + ADVANTAGE:
            best, fit, changes[number] = value, tried, trial
    if changes:
        fit = calibrate(fit.rig, readings, deviations, start=fit)
    return fit, tuple(changes[number] for number in sorted(changes))


def most_promising(
    fit: Calibrated, readings: Readings, rigs: Mapping[RockFit, Rig]
) -> RockFit | None:
    """Return by which of the rigs readings may foresee each other best; None where by none."""
    least = glimpsed(fit, readings, fit.rig) + PROMISE
    hopes = {trial: glimpsed(fit, readings, rig) for trial, rig in rigs.items()}
    best = max(hopes, key=lambda trial: hopes[trial])
    return best if hopes[best] > least else None


def glimpsed(fit: Calibrated, readings: Readings, rig: Rig) -> float:
    """Return about what `score` a fit of another rig would have [summed log density].

    Of the same fixtures, linear about the fit's parameters, as one step of Gauss-Newton is (Nocedal
    & Wright 2006, Numerical Optimization, 10.3), under the fit's own remainder. Readings that the
    rig explains get their weight back.
    """
    log_light, slopes = rig.light_of(rig.geometries(readings.points_cm), fit.theta)
    values = readings.log_par - log_light - slopes @ (fit.prior - fit.theta)
    # The root's last columns are for the surveys' scales, on which no parameter bears.
    basis = np.hstack([slopes @ fit.root[:, : len(fit.theta)], readings.scale_basis])
    old = fit.gp

    def process(noise: FloatArray) -> Residual:
        return fit_residual(
            old.points,
            values,
            noise_variance=noise,
            variance=old.variance,
            lengths=old.lengths,
            basis=basis,
            prior_variance=old.prior_variance,
        )

    misfit = values - basis @ process(fit.noise).coefficients()[0]
    noise = fit.noise * fit.robust_weight**2
    weight = np.minimum(robust_weight(misfit, noise + MODEL_NOISE**2), 1.0)
    return foreseen(process(noise / weight**2), np.ones(len(values)))


def shading(fit: Calibrated, readings: Readings) -> list[int]:
    """Return the numbers of the rocks that bear on the readings, the most shading first."""
    rig, points = fit.rig, readings.points_cm
    if not rig.rocks:
        return []
    light = rig.log_light_at(points, fit.theta)[0]
    effects = []
    for number in range(len(rig.rocks)):
        without = rig.under(rig.tank, refitted(rig.rocks, {number: RockFit(number, 0.0)}))
        change = float(np.abs(without.log_light_at(points, fit.theta)[0] - light).max())
        effects.append((change, number))
    ordered = sorted(effects, key=lambda pair: (-pair[0], pair[1]))
    return [number for change, number in ordered[:ROCKS_MOST] if change > SEEN_LOG]


def refitted(rocks: Sequence[Rock], changes: dict[int, RockFit]) -> tuple[Rock, ...]:
    """Return the rocks with some as their RockFits, by number, have them, on the same foot."""
    result = []
    for number, rock in enumerate(rocks):
        change = changes.get(number, RockFit(number))
        if change.is_soft:
            result.append(softened(rock))
        elif change.size > 0:
            result.append(rock if change.size == 1 else scaled(rock, change.size))
    return tuple(result)


def softened(rock: Rock) -> Rock:
    """Return a rock of the same box whose shadow fades in."""
    edge_cm = SOFT * min(rock.length_cm, rock.width_cm)
    return SoftRock(
        rock.x_cm, rock.y_cm, rock.depth_cm, rock.length_cm, rock.width_cm, rock.height_cm, edge_cm
    )


def scaled(rock: Rock, size: float) -> Rock:
    """Return a rock of a part of its sides about its middle, `size` [1], on the same foot."""
    length, width, height = (size * s for s in (rock.length_cm, rock.width_cm, rock.height_cm))
    return replace(
        rock,
        x_cm=rock.x_cm + (rock.length_cm - length) / 2,
        y_cm=rock.y_cm + (rock.width_cm - width) / 2,
        # It never grows out of the water.
        depth_cm=max(0.0, rock.depth_cm + rock.height_cm - height),
        length_cm=length,
        width_cm=width,
        height_cm=min(height, rock.depth_cm + rock.height_cm),
    )
