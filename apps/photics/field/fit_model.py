"""Which model a map is drawn from: the rig stated, rigs that are guessed, or a smooth map."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from apps.photics.field.joint import join
from apps.photics.field.light_model import Mixture, RigModel
from apps.photics.field.readings import Readings, SurveyReadings
from apps.photics.field.rig_guess import GUESS, as_in, guess_rigs
from apps.photics.field.rock_fit import RockFit, fit_rocks, likelier_rocks
from apps.photics.field.summary import FieldModel, foresight
from apps.photics.field.trend import fit_smooth
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.rig.calibration import Calibrated
from apps.photics.rig.ring_fit import with_ring

# The smooth map replaces the rig only when the readings foresee each other this much better by
# it [summed log density]: chosen, because a few shadowed readings must not throw the physics out.
SMOOTH_ADVANTAGE = 10.0
# A fitted or forecast rig.
Rigged = TypeVar("Rigged", bound=RigModel)


@dataclass(frozen=True)
class ModelFit:
    """What a map is drawn from, and the given fixtures fitted to its readings, if any were."""

    model: FieldModel
    calibrated: Calibrated | None = None
    rock_fits: tuple[RockFit, ...] = ()

    def joined_by(
        self,
        fixtures: Sequence[Fixture],
        surveys: Sequence[tuple[SurveyReadings, Readings]],
    ) -> "ModelFit":
        """Return the fit with surveys under other rigs joined; arguments as `join` takes them."""
        if self.calibrated is None:
            return self
        calibrated = join(self.calibrated, fixtures, surveys)
        model = alone(calibrated) if isinstance(self.model, Mixture) else self.model
        return replace(self, model=model, calibrated=calibrated)


def fit_model(
    readings: Readings, tank: Tank, lit: Sequence[Fixture], rocks: Sequence[Rock]
) -> ModelFit:
    """Return the ModelFit of Readings under the lit fixtures, guessed where there are none."""
    if lit:
        calibrated, rock_fits = fit_rocks(tank, lit, rocks, readings)
        calibrated = with_ring(calibrated, readings)
        fit = ModelFit(alone(calibrated), calibrated, rock_fits)
    else:
        models, weights = guess_rigs(readings, tank, rocks)
        likely, rock_fits = likelier_rocks(models[0], readings, GUESS)
        likely = with_ring(likely, readings, GUESS)
        if rock_fits or likely.rig.ring is not None:
            models, weights = as_in(likely.rig, models, readings)
        fit = ModelFit(Mixture(tuple(models), weights), None, rock_fits)
    smooth = fit_smooth(readings.points_cm, readings.log_par, readings.extra_variance, tank)
    if foresight(smooth) > foresight(fit.model) + SMOOTH_ADVANTAGE:
        return ModelFit(smooth, fit.calibrated)
    return fit


def alone(model: Rigged) -> Mixture[Rigged]:
    """Return the Mixture of one model."""
    return Mixture((model,), np.ones(1))
