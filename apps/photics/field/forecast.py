"""The light after a change, from readings taken before it and, where there are, after it.

What the readings showed beyond the rig (rocks, an odd optic) is carried fixture by fixture: each
owns a part of it in proportion to its light there, keeps it while it hangs still, and loses it as
it moves. So fixtures alone add up to all together, a dimmed rig dims the map exactly, and no
change changes nothing.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from apps.photics.field.joined import joined_of
from apps.photics.field.rig_change import Change
from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.rig.calibration import Calibrated, noise_variance
from apps.photics.rig.changed_optic import RefittedRig
from apps.photics.rig.residual import Residual
from apps.photics.rig.rig import CHUNK_POINTS

# Part of the unexplained that all fixtures have in common (water, bottom, the meter) [1]; the
# rest each has of its own. Our own choice.
IN_COMMON = 0.5
# How far light under a new optic is from the law of `beam.intensity`, whatever its beam, edge and
# spill [log PAR]. Chosen, because two check readings under an optic of another kind are not to be
# taken for telling all of it (tests/data/changed_tanks).
NEW_MISFIT = 0.1

# `Residual.predict_parts` at points, from a basis (m, p), parts (m, k) and own variance (m,) on.
Parts = Callable[[FloatArray, FloatArray, FloatArray], tuple[FloatArray, FloatArray, FloatArray]]


@dataclass(frozen=True)
class Through:
    """How a changed rig's light at m points follows from what was fitted before it."""

    basis: FloatArray  # (m, k) by the fit's coefficients [log by deviation]
    parts: FloatArray  # (m, k) of its remainders [1]
    own: FloatArray  # (m,) variance of the unexplained against that before [1]
    added: FloatArray  # (m,) variance by what no reading knows of the change [log squared]


@dataclass(frozen=True)
class Forecast:
    """A Calibrated rig after a Change; `rig` and `theta` are those after it."""

    before: Calibrated
    change: Change

    @property
    def rig(self) -> RefittedRig:
        """Return the rig after the change."""
        return self.change.rig

    @property
    def theta(self) -> FloatArray:
        """Return the parameters of the rig after the change, (p,)."""
        return self.change.theta

    @property
    def gp(self) -> Residual:
        """Return the fit's Residual."""
        return self.before.gp

    def predict(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,) [log]."""
        parts = [
            self.predict_few(points_cm[k : k + CHUNK_POINTS])
            for k in range(0, len(points_cm), CHUNK_POINTS)
        ]
        mean, deviation = (np.concatenate(part) for part in zip(*parts, strict=True))
        return mean, deviation

    def predict_few(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return what `predict` does, both (m,) [log], for points (m, 3) as fit a chunk."""
        log_light, slopes, through = self.light_at(points_cm)
        smooth = self.gp.remainder_at(points_cm)
        return self.predicted(log_light, slopes, through, partial(self.gp.predict_parts, smooth))

    def light_at(
        self, points_cm: RealArray, proportions: RealArray | None = None
    ) -> tuple[RealArray, RealArray, Through]:
        """Return log light (m,) [log], its slopes (m, p) and the Through at points (m, 3).

        proportions (m, F): what each fixture gave of the light there before, where it is known [1].
        """
        old = self.before
        if proportions is None:
            proportions = old.rig.proportions_at(points_cm, old.theta)
        log_light, slopes = self.rig.log_light_at(points_cm, self.theta)
        return log_light, slopes, self.through(proportions, slopes)

    def predicted(
        self, log_light: RealArray, slopes: RealArray, through: Through, parts: Parts
    ) -> tuple[RealArray, RealArray]:
        """Return what `predict` does from the light of the rig at the points, both (m,) [log].

        log_light (m,) [log] and its slopes (m, p) [log by parameter], all linear round the
        change by the law of propagation of errors.
        parts: `Residual.predict_parts` at the points, from a basis (m, p) on.
        """
        change = self.change
        trend, rest, variance = parts(through.basis, through.parts, through.own)
        shift = slopes @ (change.prior - change.theta) + trend
        # The old remainder thins out as light; what later readings showed is added as it is.
        carried = through.parts[:, 0] * np.expm1(rest[:, 0])
        later = (through.parts[:, 1:] * rest[:, 1:]).sum(axis=1)
        deviation = np.sqrt(variance + through.added)
        return log_light + shift + np.log1p(carried) + later, deviation

    def through(self, proportions: RealArray, slopes: RealArray) -> Through:
        """Return the Through at points from both rigs' light there.

        proportions (m, F): what each fixture gave of it before [1]; slopes (m, p) of the light
        after [log by parameter].
        """
        old, change = self.before, self.change
        # The derivative by a log gain is the fixture's proportion of the light.
        carried, own = self.carried(proportions, slopes[:, : change.rig.many])
        basis = slopes @ change.carry @ old.root
        parts = carried[:, None]
        added = (slopes * slopes) @ self.unknown
        joined = joined_of(old)
        if joined is not None:
            known = joined.columns(change)
            basis[:, basis.shape[1] - known.shape[1] :] = slopes @ known
            fresh = np.sqrt(np.maximum(own - carried**2, 0.0))
            parts = np.column_stack([carried, np.outer(fresh, joined.mix(change))])
        return Through(basis, parts, own, added)

    def posterior_covariance(self, points_cm: FloatArray) -> FloatArray:
        """Return the covariance of log PAR between points (m, 3), (m, m) [log squared]."""
        _, slopes, through = self.light_at(points_cm)
        covariance = self.gp.covariance_parts(points_cm, through.basis, through.parts, through.own)
        return covariance + (slopes * self.unknown) @ slopes.T

    @cached_property
    def unknown(self) -> FloatArray:
        """Return the variance of each parameter by what no reading knows of the change, (p,).

        In the units of the parameters [log, cm], squared.
        """
        joined = joined_of(self.before)
        if joined is None:
            return self.change.added
        known = joined.columns(self.change)
        left: FloatArray = np.maximum(self.change.added - (known * known).sum(axis=1), 0.0)
        return left

    @cached_property
    def unlike(self) -> FloatArray:
        """Return how much larger the unexplained of each fixture is under its optic, (G,) [1]."""
        rig = self.change.rig
        measured = np.array([fixture.optic is not None for fixture in rig.fixtures])
        is_unknown = (rig.new_optic > 0) & ~measured
        larger: FloatArray = 1.0 + is_unknown * NEW_MISFIT**2 / self.gp.variance
        return larger

    def noise_at(self, points_cm: FloatArray) -> FloatArray:
        """Return the noise variance of a reading of log PAR at `points_cm` (m, 3), (m,) [1]."""
        place = self.rig.place_slopes_at(points_cm, self.theta)
        return noise_variance(place, 0.0) * self.before.noise_factor**2

    def carried(self, before: RealArray, after: RealArray) -> tuple[FloatArray, FloatArray]:
        """Return how much of the unexplained a point keeps, and its variance against before's.

        before (m, F) and after (m, G): the fixtures' parts of the light [1]. With a common and an
        own part of equal law for each fixture, what each has of the whole follows by regression.
        """
        change, apart = self.change, 1.0 - IN_COMMON
        whole = IN_COMMON + apart * (before * before).sum(axis=1)
        each = (IN_COMMON + apart * before[:, change.source]) / whole[:, None]
        own = (IN_COMMON + apart * (after * after * self.unlike).sum(axis=1)) / whole
        carried = (after * change.kept * each).sum(axis=1)
        return carried, np.maximum(own, carried * carried)
