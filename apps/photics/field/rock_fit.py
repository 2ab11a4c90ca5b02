"""Rocks as rough as they are stated: each may shade less or more than its box would.

A box is a guess at a rock. Where the readings foresee each other clearly better with a rock
smaller, taller or away, the fit takes it so and says which; fixtures are never thrown out for it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from apps.photics.field.readings import Readings
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.rig.calibration import Calibrated, calibrate
from apps.photics.rig.remainder import foreseen
from apps.photics.rig.rig import Rig

# Sizes tried for a rock, as parts of those stated; 0: away [1]. Chosen, because a box drawn round a
# mound is about a quarter too wide.
SIZES = (0.75, 1.2, 0.0)
# How much better readings must foresee each other under another size [summed log density]: chosen,
# because less comes about by chance in tanks whose rocks are right.
ADVANTAGE = 2.0
# A rock that changes no reading by more than this is not asked about [log PAR], nor more than so
# many: our own choice.
SEEN_LOG, ROCKS_MOST = 0.08, 6
# Steps of a fit that begins at one with other rocks: chosen, because it is near already.
STEPS = 8


@dataclass(frozen=True)
class RockFit:
    """A stated rock, by its number from 0, that shades as one of another size would [1]."""

    number: int
    size: float  # part of the stated sizes, 0: as if it were not there


def fit_rocks(
    tank: Tank, fixtures: Sequence[Fixture], rocks: Sequence[Rock], readings: Readings
) -> tuple[Calibrated, tuple[RockFit, ...]]:
    """Return the Calibrated rig under the rocks that readings bear out, and the RockFits.

    Fixtures are the lit ones. Without rocks it is plain calibration.
    """
    fit = calibrate(Rig(tank, fixtures, rocks), readings)
    best = score(fit)
    sizes: dict[int, float] = {}
    for number in shading(fit, readings):
        trials = []
        for size in SIZES:
            tried = sized(rocks, sizes | {number: size})
            # The same daylight, as far as it was fitted.
            rig = Rig(fit.rig.tank, fixtures, tried)
            trial = calibrate(rig, readings, steps=STEPS, start=fit)
            trials.append((score(trial), size, trial))
        value, size, trial = max(trials, key=lambda one: one[0])
        if value > best + ADVANTAGE:
            best, fit, sizes[number] = value, trial, size
    if sizes:
        fit = calibrate(fit.rig, readings, start=fit)
    return fit, tuple(RockFit(k, size) for k, size in sorted(sizes.items()))


def score(fit: Calibrated) -> float:
    """Return how well the readings foresee each other under a fit [summed log density]."""
    return foreseen(fit.gp, np.ones(len(fit.values)))


def shading(fit: Calibrated, readings: Readings) -> list[int]:
    """Return the numbers of the rocks that bear on the readings, the most shading first."""
    rig, points = fit.rig, readings.points_cm
    if not rig.rocks:
        return []
    light = rig.log_light_at(points, fit.theta)[0]
    effects = []
    for number in range(len(rig.rocks)):
        without = Rig(rig.tank, rig.fixtures, sized(rig.rocks, {number: 0.0}))
        change = float(np.abs(without.log_light_at(points, fit.theta)[0] - light).max())
        effects.append((change, number))
    ordered = sorted(effects, key=lambda pair: (-pair[0], pair[1]))
    return [number for change, number in ordered[:ROCKS_MOST] if change > SEEN_LOG]


def sized(rocks: Sequence[Rock], sizes: dict[int, float]) -> tuple[Rock, ...]:
    """Return the rocks with some at a part of their size, standing where they stand.

    sizes: by the number of a rock, the part of its stated sides [1].
    """
    result = []
    for number, rock in enumerate(rocks):
        size = sizes.get(number, 1.0)
        if size > 0:
            result.append(rock if size == 1 else scaled(rock, size))
    return tuple(result)


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
