"""A light field followed through many changes at a few points.

`LightField.forecast` makes one field for all of the water. A history asks the other way round: few
points, many rigs, most of which differ from the last in a level or in one fixture's place. So each
fixture's light is worked out once.
"""

from dataclasses import replace

import numpy as np

from .forecast import Forecast, change_rig
from .rig import LightParts, Rig

# Fixtures whose light at the points is kept; a history seldom needs more.
KEPT = 512


class LightPath:
    """The light at fixed points (m, 3) [cm] of a LightField, under one rig after another."""

    def __init__(self, field, points_cm):
        self.field = field
        self.points = np.asarray(points_cm, float).reshape(-1, 3)
        self.beyond = field.reach.beyond(self.points)
        self._parts = {}
        self._now = None
        self._ready = None

    def now(self):
        """Return the Estimate under the rig the readings were taken under."""
        if self._now is None:
            self._now = self.field.at(self.points)
        return self._now

    def after(self, fixtures, *, same_as=None, doubt=None):
        """Return the Estimate after a change; arguments and errors are those of `forecast`."""
        field, fit = self.field, self.field.calibrated
        if fit is None:
            raise ValueError("The fixtures the readings were taken under are not known.")
        change = change_rig(fit, field.fixtures, tuple(fixtures), same_as, doubt)
        if tuple(fixtures) == field.fixtures:
            return self.now()
        if self._ready is None:
            old = self.parts(fit.rig, fit.theta).joined(np.exp(fit.theta[: fit.rig.many]))
            self._ready = old[1], fit.gp.remainder_at(self.points)
        parts = self.parts(change.rig, change.theta)
        log_light, slopes = parts.joined(np.exp(change.theta[: change.rig.many]))
        old_slopes, smooth = self._ready
        mean, deviation = Forecast(fit, change).predicted(old_slopes, log_light, slopes, smooth)
        return field.estimate(mean, deviation, self.beyond)

    def parts(self, rig, theta):
        """Return the LightParts of a rig, each fixture's worked out when first met."""
        _, shifts, shared = rig.split(theta)
        return LightParts.beside(
            [
                self.part(rig, replace(fixture, level=1.0, name=""), shift, shared)
                for fixture, shift in zip(rig.fixtures, shifts, strict=True)
            ]
        )

    def part(self, rig, fixture, shift, shared):
        """Return the LightParts of one fixture at full level."""
        key = fixture, shift.tobytes(), shared.tobytes()
        found = self._parts.get(key)
        if found is None:
            alone = Rig(rig.tank, (fixture,), rig.rocks)
            theta = np.concatenate([[0.0], shift, shared])
            found = alone.parts(alone.geometry(self.points), theta)
            if len(self._parts) < KEPT:
                self._parts[key] = found
        return found
