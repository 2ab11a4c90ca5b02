"""The light after a change where the readings' fixtures are not known: old light, rescaled.

The map is multiplied by what the described fixtures give after the change over what they gave
before it, at their nominal output, beam and water. Coarser than a calibrated forecast: its
interval widens with the size of the change.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from apps.photics.field.light_model import LightModel
from apps.photics.field.rig_change import level_factor, linked_fixtures
from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.rig.flux import flux_of
from apps.photics.rig.rig import Rig

# Deviation of a rescaling, as a part of its own log [1]. Our own choice.
RATIO_DEVIATION = 0.25


@dataclass(frozen=True)
class Rescaled:
    """A fitted model times the ratio of two nominal rigs."""

    model: LightModel
    before: Rig
    after: Rig
    theta: FloatArray  # (p,) of the rig after

    def predict(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,) [log]."""
        mean, deviation = self.model.predict(points_cm)
        ratio, unsure = self.change_at(points_cm)
        return mean + ratio, np.hypot(deviation, unsure)

    def change_at(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return the ratio's log and its deviation at points (m, 3), both (m,) [log]."""
        ratio = self.after.log_light_at(points_cm, self.theta)[0]
        ratio = ratio - self.before.log_light_at(points_cm, self.before.nominal())[0]
        return ratio, RATIO_DEVIATION * ratio


@dataclass(frozen=True)
class Dimmed:
    """A fitted model times one factor, that all lamps were dimmed or raised by [log]."""

    model: LightModel
    log_factor: float
    deviation: float = 0.0  # of the factor [log]

    def predict(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,) [log]."""
        mean, deviation = self.model.predict(points_cm)
        return mean + self.log_factor, np.hypot(deviation, self.deviation)

    def change_at(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return the factor's log and its deviation at points (m, 3), both (m,) [log]."""
        many = len(points_cm)
        return np.full(many, self.log_factor), np.full(many, self.deviation)


def rescaled(
    model: LightModel,
    tank: Tank,
    rocks: Sequence[Rock],
    before: Sequence[Fixture],
    after: Sequence[Fixture],
    same_as: Sequence[int | None] | None,
) -> Rescaled:
    """Return a model Rescaled from fixtures before to fixtures after; arguments as `change_rig`.

    Raises ValueError where nothing is lit before or after.
    """
    lit = [f for f in before if f.level > 0]
    pairs = [pair for pair in linked_fixtures(before, after, same_as) if pair[1].level > 0]
    if not lit or not pairs:
        raise ValueError("Nothing is lit before or after the change, so there is no ratio.")
    # Daylight is no part of what fixtures give, and has a scale of its own.
    tank = replace(tank, window=None)
    old, new = Rig(tank, lit, rocks), Rig(tank, [fixture for _, fixture, _ in pairs], rocks)
    theta = new.nominal()
    # An optic passes on all its light, and each rig has the edge usual for its own beams.
    shared_before, shared_after = old.split(old.nominal())[2], new.split(theta)[2]
    for k, (number, fixture, _) in enumerate(pairs):
        theta[k] += flux_of(before[number], shared_before) - flux_of(fixture, shared_after)
    return Rescaled(model, old, new, theta)


def ratio_deviation(tank: Tank, before: Sequence[Fixture], after: Sequence[Fixture]) -> float:
    """Return the deviation of the ratio between two rescaled rigs, as a part of its own log [1].

    `after` lists the fixtures of `before` in their order. Zero where all are dimmed or raised
    alike, whatever they give, and no daylight stays as it is.
    """
    is_exact = (
        tank.window is None
        and len(before) == len(after)
        and level_factor(before, after) is not None
    )
    return 0.0 if is_exact else RATIO_DEVIATION
