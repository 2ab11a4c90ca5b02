"""Readings taken under other rigs joined to a fit: one posterior for the tank's light.

A survey made before or after a change sees the same water, panes, rocks and outputs through
another rig. Its readings are made linear in the fitted rig's parameters and in what the change
itself made unsure (`Change.added`), and all readings condition one Gaussian process: later ones
sharpen the forecast, earlier ones count less by what may have changed since. The law is that of a
linear Gaussian model (Rasmussen & Williams 2006, section 2.7).
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from apps.photics.field.forecast import Forecast
from apps.photics.field.joined import JointFit, record_of
from apps.photics.field.optic_evidence import kinds_by_readings
from apps.photics.field.readings import Readings, SurveyReadings
from apps.photics.field.rig_change import Change, change_rig
from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.ground.scene import Fixture
from apps.photics.rig.calibration import DEGREES, Calibrated
from apps.photics.rig.optic_kinds import OpticsKnown
from apps.photics.rig.residual import Residual, fit_residual

# Rounds of making the readings linear and weighing them anew, at least and at most, and a move of
# the light at all of them that ends them [log]. Chosen, because two readings at the edge of a new
# beam took six rounds in tests/data/changed_tanks, and a third moved no other forecast there by
# half a percent.
ROUNDS_LEAST, ROUNDS = 2, 6
SETTLED = 0.02
# Rounds in which a reading's noise is worked out, six times the light at its place: chosen, because
# the first round moves the light by most of what all do, and noise follows how steep it is.
NOISE_ROUNDS = 2


@dataclass(frozen=True)
class Group:
    """One survey's readings under the rig of its day."""

    change: Change
    readings: Readings
    scale_deviation: float  # how far its scale may be from the others' [log]


def join(
    fit: Calibrated,
    before: Sequence[Fixture],
    surveys: Sequence[tuple[SurveyReadings, Readings]],
) -> Calibrated:
    """Return a Calibrated rig with the readings of other rigs joined, oldest first.

    before: the fixtures as given to the fit; surveys: each with its Readings as prepared. Raises
    ValueError where the fixtures of one do not follow from `before`.
    """
    optics = kinds_by_readings(fit, before, surveys)
    groups = []
    for survey, readings in surveys:
        after = before if survey.fixtures is None else survey.fixtures
        change = change_rig(fit, before, after, survey.same_as, survey.deviations, optics=optics)
        groups.append(Group(change, readings, survey.scale_deviation))
    return Joining(fit, groups, optics).joined()


class Joining:
    """The readings of all groups as rows of one Gaussian process."""

    def __init__(self, fit: Calibrated, groups: Sequence[Group], optics: OpticsKnown) -> None:
        self.fit, self.groups, self.optics = fit, groups, optics
        self.record = record_of([g.change for g in groups], [g.scale_deviation for g in groups])
        added = len(self.record.labels)
        self.root = np.hstack([fit.root, np.zeros((len(fit.root), added))])
        self.columns = [self.columns_of(k) for k in range(len(groups))]
        self.thetas = [group.change.theta for group in groups]
        self.weights = [np.ones(len(group.readings.log_par)) for group in groups]
        self.noises: list[list[FloatArray]] = [[] for _ in groups]
        self.slopes: list[RealArray] = [np.zeros((0, 0)) for _ in groups]
        # The same in every round, which moves the rigs of the groups alone.
        self.proportions = [
            fit.rig.proportions_at(group.readings.points_cm, fit.theta) for group in groups
        ]

    def columns_of(self, k: int) -> FloatArray:
        """Return what the joined coefficients do to a group's parameters, (p, q) [log, cm]."""
        return self.record.columns(self.groups[k].change, group=k)

    def joined(self) -> Calibrated:
        """Return the Calibrated rig with all readings in it."""
        for number in range(ROUNDS):
            gp, added = self.conditioned()
            if self.look_again(gp, added) < SETTLED and number + 1 >= ROUNDS_LEAST:
                break
        gp, added = self.conditioned()
        fit = self.fit
        own = {field.name: getattr(fit, field.name) for field in fields(Calibrated)}
        own |= {
            "root": self.root,
            "gp": gp,
            "added_variance": np.concatenate([fit.added_variance, *added]),
            "robust_weight": np.concatenate([fit.robust_weight, *self.weights]),
        }
        return JointFit(**own, joined=self.record, optics_known=self.optics)

    def conditioned(self) -> tuple[Residual, list[FloatArray]]:
        """Return the Residual of all rows, and the noise added to outlying readings by group.

        The noise of each reading of a group, (n,) [log squared].
        """
        fit, old = self.fit, self.fit.gp
        extra = self.root.shape[1] - old.basis.shape[1]
        kinds = 1 + len(self.groups)
        points, values, noises = [old.points], [fit.values], [fit.noise]
        bases = [np.hstack([old.basis, np.zeros((len(old.basis), extra))])]
        parts = [np.eye(1, kinds).repeat(len(old.points), axis=0)]
        added = []
        for k, group in enumerate(self.groups):
            value, noise, basis, part = self.rows(k)
            points.append(group.readings.points_cm)
            values.append(value)
            noises.append(noise / self.weights[k] ** 2)
            added.append(noise * (1.0 / self.weights[k] ** 2 - 1.0))
            bases.append(basis)
            parts.append(part)
        gp = fit_residual(
            np.concatenate(points),
            np.concatenate(values),
            noise_variance=np.concatenate(noises),
            variance=old.variance,
            lengths=old.lengths,
            basis=np.concatenate(bases),
            prior_variance=np.concatenate([old.prior_variance, np.ones(extra)]),
            parts=np.concatenate(parts),
        )
        return gp, added

    def rows(self, k: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return a group's values (n,) [log], noise (n,), basis (n, p) and parts (n, k) [1]."""
        group = self.groups[k]
        change = replace(group.change, theta=self.thetas[k])
        points = group.readings.points_cm
        # Its own light first, before anything is joined.
        forecast = Forecast(self.fit, change)
        log_light, slopes, through = forecast.light_at(points, self.proportions[k])
        self.slopes[k] = slopes
        values = group.readings.log_par - log_light - slopes @ (change.prior - change.theta)
        basis = np.hstack([through.basis, slopes @ self.columns[k]])
        basis[:, self.fit.root.shape[1] :] += self.record.scale_column(k)
        fresh = np.sqrt(np.maximum(through.own - through.parts[:, 0] ** 2, 0.0))
        parts = np.column_stack([through.parts[:, 0], np.outer(fresh, self.record.mixes[k])])
        noise = self.noise_of(k, forecast) + group.readings.extra_variance
        return values, noise, basis, parts

    def noise_of(self, k: int, forecast: Forecast) -> FloatArray:
        """Return the noise variance of a group's readings, (n,) [log squared]."""
        if len(self.noises[k]) < NOISE_ROUNDS:
            self.noises[k].append(forecast.noise_at(self.groups[k].readings.points_cm))
        return self.noises[k][-1]

    def look_again(self, gp: Residual, added: Sequence[FloatArray]) -> float:
        """Weigh each joined reading by what the others foresee, and go on from what all show.

        added: as `conditioned` returns it, (n,) for each group [log squared]. Returns by how much
        the light at the readings moves at most [log].
        """
        misfit, variance = gp.leave_one_out()
        mean = gp.coefficients()[0]
        first, moved = len(self.fit.values), 0.0
        for k, group in enumerate(self.groups):
            rows = slice(first, first + len(added[k]))
            first = rows.stop
            square = misfit[rows] ** 2 / (variance[rows] - added[k])
            self.weights[k] = np.minimum(1.0, (DEGREES + 1.0) / (DEGREES + square))
            change = group.change
            shift = change.carry @ (self.root @ mean)
            shift += self.columns[k] @ mean[self.fit.root.shape[1] :]
            theta = change.prior + shift
            light = self.slopes[k] @ (theta - self.thetas[k])
            moved, self.thetas[k] = max(moved, np.abs(light).max()), theta
        return float(moved)
