"""A light field followed through many changes at a few points.

`LightField.forecast` makes one field for all of the water. A history asks the other way round: few
points, many rigs, most of which differ from the last in a level or in one fixture's place. So each
fixture's light is worked out once.
"""

from dataclasses import dataclass, replace

import numpy as np

from apps.photics.field.field_change import FieldChange
from apps.photics.field.forecast import Forecast
from apps.photics.field.joined import at_posterior
from apps.photics.field.light_field import HALF_WIDTH
from apps.photics.field.rig_change import Change, change_rig, is_in_place
from apps.photics.rig.ray_light import LightParts
from apps.photics.rig.rig import Rig

# Fixtures whose light at the points is kept; a history seldom needs more.
KEPT = 512


@dataclass(frozen=True)
class State:
    """A changed rig's light at points (m,), and its derivatives by its own parameters."""

    change: Change
    old_slopes: np.ndarray
    log_light: np.ndarray
    slopes: np.ndarray

    def through(self, fit):
        """Return the Through for the Calibrated rig before the change."""
        return Forecast(fit, self.change).through(self.old_slopes, self.slopes)


def added_variance(fit, old, new):
    """Return the variance (m,) of the log ratio by what the changes added to each parameter.

    Where both rigs took a step alike, what it added is the same error in both.
    """
    first, second = (Forecast(fit, state.change).unknown for state in (old, new))
    places = {label: k for k, label in enumerate(new.change.labels) if label is not None}
    pairs = [(k, places[label]) for k, label in enumerate(old.change.labels) if label in places]
    here, there = np.array(pairs, int).reshape(-1, 2).T
    shared = np.minimum(first[here], second[there])
    both = (new.slopes[:, there] - old.slopes[:, here]) ** 2 @ shared
    alone, also = first.copy(), second.copy()
    alone[here] -= shared
    also[there] -= shared
    return both + old.slopes**2 @ alone + new.slopes**2 @ also


class LightPath:
    """The light at fixed points (m, 3) [cm] of a LightField, under one rig after another."""

    def __init__(self, field, points_cm):
        self.field = field
        self.points = np.asarray(points_cm, float).reshape(-1, 3)
        self.beyond = field.reach.beyond(self.points)
        self.inside = field.out_of_water(self.points)
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
        state = self.state(change_rig(fit, field.fixtures, tuple(fixtures), same_as, doubt))
        if tuple(fixtures) == field.fixtures:
            return self.now()
        remainder = self.ready()[1]
        mean, deviation = Forecast(fit, state.change).predicted(
            state.log_light, state.slopes, state.through(fit), remainder.predict_parts
        )
        return field.estimate(mean, deviation, self.beyond, self.inside)

    def ratio(self, first, second):
        """Return the FieldChange from one rig to another; None stands for the readings' own.

        first and second: (fixtures, same_as, doubt) as `after` takes them. The map's own error is
        in both and falls out; what is left is what the change adds.
        """
        fit = self.field.calibrated
        states = [self.state_of(one) for one in (first, second)]
        old, new = (state.through(fit) for state in states)
        values = [self.par(one) for one in (first, second)]
        parts = new.parts - old.parts
        fresh = [one.own - (one.parts**2).sum(axis=1) for one in (old, new)]
        # What both forgot of the shadows is the same where every fixture hangs in its place.
        moot = np.minimum(*fresh) if is_in_place(*(s.change for s in states)) else 0.0
        own = (parts**2).sum(axis=1) + fresh[0] + fresh[1] - 2.0 * moot
        variance = self.ready()[1].predict_parts(new.basis - old.basis, parts, own)[2]
        variance = variance + added_variance(fit, *states)
        change, reach = np.log(values[1] / values[0]), HALF_WIDTH * np.sqrt(variance)
        return FieldChange(
            ratio=np.exp(change),
            low=np.exp(change - reach),
            high=np.exp(change + reach),
            is_real=np.abs(change) > reach,
            beyond=self.beyond,
            in_rock=self.inside,
        )

    def state_of(self, one):
        """Return the State of a rig as `ratio` takes it."""
        fit, field = self.field.calibrated, self.field
        if one is None:
            one = field.fixtures, None, None
        fixtures, same_as, doubt = one
        return self.state(change_rig(fit, field.fixtures, tuple(fixtures), same_as, doubt))

    def par(self, one):
        """Return the PAR of a rig as `ratio` takes it, (m,)."""
        if one is None:
            return self.now().par_umol
        fixtures, same_as, doubt = one
        return self.after(fixtures, same_as=same_as, doubt=doubt).par_umol

    def ready(self):
        """Return the derivatives before any change, and the remainder at the points."""
        if self._ready is None:
            fit = self.field.calibrated
            gain, shifts, shared = fit.rig.split(fit.theta)
            laws = np.tile(shared, (fit.rig.many, 1))
            old = self.parts(fit.rig.fixtures, shifts, laws).joined(np.exp(gain))
            self._ready = old[1], fit.gp.remainder_kept(self.points)
        return self._ready

    def state(self, change):
        """Return the State of a Change at the points."""
        change = at_posterior(self.field.calibrated, change)
        rig, theta = change.rig, change.theta
        parts = self.parts(rig.fixtures, rig.shifts(theta), rig.laws(theta))
        log_light, slopes = rig.joined(parts, theta)
        return State(change, self.ready()[0], log_light, slopes)

    def parts(self, fixtures, shifts, laws):
        """Return the LightParts of fixtures, each one's worked out when first met.

        shifts (F, 3) [cm] and laws (F, 8): each one's errors of place and shared parameters.
        """
        full = [replace(fixture, level=1.0, name="") for fixture in fixtures]
        law_keys = [law.tobytes() for law in laws]
        keys = [(f, s.tobytes(), law) for f, s, law in zip(full, shifts, law_keys, strict=True)]
        known = {key: self._parts[key] for key in keys if key in self._parts}
        for law in dict.fromkeys(law_keys):
            met = [k for k, key in enumerate(keys) if key not in known and law_keys[k] == law]
            if not met:
                continue
            # All that are new at once: few rays each, so calls cost more than numbers.
            some = Rig(
                self.field.calibrated.rig.tank,
                [full[k] for k in met],
                self.field.calibrated.rig.rocks,
            )
            theta = np.concatenate([np.zeros(len(met)), shifts[met].T.ravel(), laws[met[0]]])
            each = some.parts(some.geometry(self.points), theta).apart()
            known |= zip([keys[k] for k in met], each, strict=True)
            if len(self._parts) + len(met) <= KEPT:
                self._parts |= known
        return LightParts.beside([known[key] for key in keys])
