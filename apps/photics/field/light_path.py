"""A light field followed through many changes at a few points.

`LightField.forecast` makes one field for all of the water. A history asks the other way round: few
points, many rigs, most of which differ from the last in a level or in one fixture's place. So each
fixture's light is worked out once.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from apps.photics.field.field_change import FieldChange
from apps.photics.field.forecast import Forecast, Through
from apps.photics.field.joined import at_posterior
from apps.photics.field.light_field import HALF_WIDTH, LightField
from apps.photics.field.rig_change import Change, change_rig, is_in_place
from apps.photics.ground.arrays import ArrayLike, FloatArray, RealArray
from apps.photics.ground.estimate import Estimate
from apps.photics.ground.scene import Fixture
from apps.photics.optics.intensity_distribution import Ring
from apps.photics.rig.calibration import Calibrated
from apps.photics.rig.ray_light import LightParts
from apps.photics.rig.residual import RemainderAt
from apps.photics.rig.rig import Rig

# Fixtures whose light at the points is kept: chosen, because a history seldom needs more.
KEPT = 512

# Half a 90 % interval below this is none [log]: chosen far below what a page shows.
EXACT = 1e-4

# A rig after a change: fixtures, same_as and deviations as `LightField.forecast` takes them.
Changed = tuple[Sequence[Fixture], Sequence[int | None] | None, Sequence[float] | None]
# What the light of one fixture at the points follows from: it, its errors of place, and its law.
PartKey = tuple[Fixture, bytes, tuple[bytes, Ring | None]]


@dataclass(frozen=True)
class State:
    """A changed rig's light at points (m,), and its derivatives by its own parameters."""

    change: Change
    old_slopes: RealArray  # (m, p) those of the rig before [log by parameter]
    log_light: RealArray  # (m,) [log]
    slopes: RealArray  # (m, q) [log by parameter]

    def through(self, fit: Calibrated) -> Through:
        """Return the Through for the Calibrated rig before the change."""
        # The derivative by a log gain is the fixture's proportion of the light.
        proportions = self.old_slopes[:, : fit.rig.many]
        return Forecast(fit, self.change).through(proportions, self.slopes)


def added_variance(fit: Calibrated, old: State, new: State) -> FloatArray:
    """Return the variance of the log ratio by what the changes added to each parameter, (m,) [1].

    By the law of propagation of errors, to first order.

    Where both rigs took a step alike, what it added is the same error in both. An output's own
    deviation, as of a lamp that aged, is one error of which each rig has an amount with a sign.
    """
    extras = [unread_extra(fit, state.change) for state in (old, new)]
    first, second = (
        without_extra(Forecast(fit, state.change).unknown, extra)
        for state, extra in zip((old, new), extras, strict=True)
    )
    places = {label: k for k, label in enumerate(new.change.labels) if label is not None}
    pairs = [(k, places[label]) for k, label in enumerate(old.change.labels) if label in places]
    here, there = np.array(pairs, int).reshape(-1, 2).T
    shared = np.minimum(first[here], second[there])
    both = (new.slopes[:, there] - old.slopes[:, here]) ** 2 @ shared
    alone, also = first.copy(), second.copy()
    alone[here] -= shared
    also[there] -= shared
    steps = both + old.slopes**2 @ alone + new.slopes**2 @ also
    variance: FloatArray = steps + extra_variance(old, new, *extras)
    return variance


def unread_extra(fit: Calibrated, change: Change) -> FloatArray:
    """Return what of each output's own deviation no reading knows, with its sign, (G,) [log]."""
    own = slice(len(change.extra))
    whole = np.where(change.added[own] > 0, change.added[own], 1.0)
    left: FloatArray = change.extra * np.sqrt(Forecast(fit, change).unknown[own] / whole)
    return left


def without_extra(unknown: FloatArray, extra: FloatArray) -> FloatArray:
    """Return `unknown` (p,) [unit of the parameter, squared] less `extra` (G,) [log] squared.

    The variances of parameters without what is each output's own, never below 0.
    """
    left = unknown.copy()
    left[: len(extra)] = np.maximum(left[: len(extra)] - extra**2, 0.0)
    return left


def extra_variance(old: State, new: State, before: FloatArray, after: FloatArray) -> FloatArray:
    """Return the variance of the log ratio by outputs' own deviations, one error each, (m,) [1].

    before and after: those of the fixtures of both States, with their signs (G,) [log].
    """
    amounts = dict[Hashable, RealArray]()
    for sign, state, extra in ((-1.0, old, before), (1.0, new, after)):
        for k, whose in enumerate(state.change.whose):
            amounts[whose] = amounts.get(whose, 0.0) + sign * state.slopes[:, k] * extra[k]
    variance: FloatArray = np.zeros(len(new.log_light))
    for amount in amounts.values():
        variance += amount**2
    return variance


def scaled(light: Estimate, factor: float, deviation: float) -> Estimate:
    """Return an Estimate times a factor [1] that is known with a deviation [log]."""
    half = np.hypot(np.log(light.high_umol / light.par_umol), HALF_WIDTH * deviation)
    par = light.par_umol * factor
    return Estimate(par, par * np.exp(-half), par * np.exp(half), light.extrapolated, light.in_rock)


class LightPath:
    """The light at fixed points (m, 3) [cm] of a LightField, under one rig after another."""

    def __init__(self, field: LightField, points_cm: ArrayLike) -> None:
        """`points_cm` (m, 3), or one of (3,)."""
        self.field = field
        self.points = np.asarray(points_cm, float).reshape(-1, 3)
        self.beyond = field.span.beyond(self.points)
        self.inside = field.out_of_water(self.points)
        self._parts: dict[PartKey, LightParts] = {}

    @cached_property
    def now(self) -> Estimate:
        """Return the Estimate under the rig the readings were taken under."""
        return self.field.at(self.points)

    @property
    def fit(self) -> Calibrated:
        """Return the field's fitted rig; raises ValueError where its fixtures were not known."""
        if self.field.calibrated is None:
            raise ValueError("The fixtures the readings were taken under are not known.")
        return self.field.calibrated

    def after(
        self,
        fixtures: Sequence[Fixture],
        *,
        same_as: Sequence[int | None] | None = None,
        deviations: Sequence[float] | None = None,
    ) -> Estimate:
        """Return the Estimate after a change; arguments and errors are those of `forecast`.

        deviations: how far each one's output may be beyond what it follows [log], with a sign.
        """
        field, fit = self.field, self.fit
        dimming = field.dimmed_by(tuple(fixtures), same_as, deviations)
        if dimming is not None:
            return scaled(self.now, *dimming)
        state = self.state_of((fixtures, same_as, deviations))
        if tuple(fixtures) == field.fixtures:
            return self.now
        mean, deviation = Forecast(fit, state.change).predicted(
            state.log_light, state.slopes, state.through(fit), self.remainder.predict_parts
        )
        return field.estimate(mean, deviation, self.beyond, self.inside)

    def ratio(self, first: Changed | None, second: Changed | None) -> FieldChange:
        """Return the FieldChange from one rig to another; None stands for the readings' own.

        Raises ValueError where the fixtures of the readings were not known. The map's own error
        is in both and falls out; what is left is what the change adds.
        """
        before, after = self.state_of(first), self.state_of(second)
        change = np.log(self.par(second) / self.par(first))
        half_width = HALF_WIDTH * np.sqrt(self.ratio_variance(before, after))
        # A ratio that nothing is unsure of, as of a rig dimmed alike, needs no readings near.
        beyond = self.beyond & (half_width > EXACT)
        return FieldChange(
            ratio=np.exp(change),
            low=np.exp(change - half_width),
            high=np.exp(change + half_width),
            is_real=np.abs(change) > half_width,
            beyond=beyond,
            in_rock=self.inside,
        )

    def ratio_variance(self, before: State, after: State) -> FloatArray:
        """Return the variance of the log ratio between two States, (m,) [1].

        By the law of propagation of errors, to first order.
        """
        old, new = before.through(self.fit), after.through(self.fit)
        parts = new.parts - old.parts
        fresh = [one.own - (one.parts**2).sum(axis=1) for one in (old, new)]
        # What both forgot of the shadows is the same where every fixture hangs in its place.
        moot = np.minimum(*fresh) if is_in_place(before.change, after.change) else 0.0
        own = (parts**2).sum(axis=1) + fresh[0] + fresh[1] - 2.0 * moot
        variance = self.remainder.predict_parts(new.basis - old.basis, parts, own)[2]
        return variance + added_variance(self.fit, before, after)

    def state_of(self, one: Changed | None) -> State:
        """Return the State of a rig as `ratio` takes it."""
        fit, hung = self.fit, self.field.fixtures
        fixtures, same_as, deviations = (hung, None, None) if one is None else one
        return self.state(change_rig(fit, hung, tuple(fixtures), same_as, deviations))

    def par(self, one: Changed | None) -> FloatArray:
        """Return the PAR of a rig as `ratio` takes it, (m,) [umol m-2 s-1]."""
        if one is None:
            return self.now.par_umol
        fixtures, same_as, deviations = one
        return self.after(fixtures, same_as=same_as, deviations=deviations).par_umol

    @cached_property
    def old_slopes(self) -> RealArray:
        """Return the light's derivatives before any change, (m, p) [log by parameter]."""
        fit = self.fit
        gain, shifts, shared = fit.rig.split(fit.theta)
        laws = np.tile(shared, (fit.rig.many, 1))
        rings = [fit.rig.ring] * fit.rig.many
        return self.parts(fit.rig.fixtures, shifts, laws, rings).joined(np.exp(gain))[1]

    @cached_property
    def remainder(self) -> RemainderAt:
        """Return what the readings know of the remainder at the points."""
        return self.fit.gp.remainder_kept(self.points)

    def state(self, change: Change) -> State:
        """Return the State of a Change at the points."""
        change = at_posterior(self.fit, change)
        rig, theta = change.rig, change.theta
        parts = self.parts(rig.fixtures, rig.shifts(theta), rig.laws(theta), rig.rings)
        log_light, slopes = rig.joined(parts, theta)
        return State(change, self.old_slopes, log_light, slopes)

    def parts(
        self,
        fixtures: Sequence[Fixture],
        shifts: FloatArray,
        laws: FloatArray,
        rings: Sequence[Ring | None],
    ) -> LightParts:
        """Return the LightParts of fixtures, each one's worked out when first met.

        shifts (F, 3) [cm] and laws (F, 8): each one's errors of place and shared parameters [log];
        rings: the Ring that each throws, or None.
        """
        full = [replace(fixture, level=1.0, name="") for fixture in fixtures]
        law_keys = [(law.tobytes(), ring) for law, ring in zip(laws, rings, strict=True)]
        keys = [(f, s.tobytes(), law) for f, s, law in zip(full, shifts, law_keys, strict=True)]
        known = {key: self._parts[key] for key in keys if key in self._parts}
        for law in dict.fromkeys(law_keys):
            met = [k for k, key in enumerate(keys) if key not in known and law_keys[k] == law]
            if not met:
                continue
            # All that are new at once: few rays each, so calls cost more than numbers.
            rig = self.fit.rig
            some = Rig(rig.tank, [full[k] for k in met], rig.rocks, law[1])
            theta = np.concatenate([np.zeros(len(met)), shifts[met].T.ravel(), laws[met[0]]])
            each = some.parts(some.geometry(self.points), theta).apart()
            known |= dict(zip([keys[k] for k in met], each, strict=True))
            if len(self._parts) + len(met) <= KEPT:
                self._parts |= known
        return LightParts.beside([known[key] for key in keys])
