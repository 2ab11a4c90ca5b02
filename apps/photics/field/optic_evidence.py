"""Which kind of optic the readings taken under it say it is, where nobody else does."""

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from apps.photics.field.forecast import Forecast
from apps.photics.field.readings import Readings, SurveyReadings
from apps.photics.field.rig_change import Change, change_rig
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.scene import Fixture
from apps.photics.rig.calibration import DEGREES, Calibrated
from apps.photics.rig.optic_kinds import EVIDENCE_POWER, OpticsKnown, optic_of


@dataclass
class UnderRig:
    """All readings of one rig, whatever surveys they are of, each with its scale's deviation."""

    survey: SurveyReadings
    # With how far the scale of each may be off [log].
    parts: list[tuple[Readings, float]] = field(default_factory=list)

    def change(self, fit: Calibrated, before: Sequence[Fixture], optics: OpticsKnown) -> Change:
        """Return the Change to this rig, if the optics are as said."""
        one = self.survey
        after = before if one.fixtures is None else one.fixtures
        return change_rig(fit, before, after, one.same_as, one.deviations, optics=optics)

    @property
    def points_cm(self) -> FloatArray:
        """Return where all were taken, (n, 3) [cm]."""
        return np.concatenate([readings.points_cm for readings, _ in self.parts])

    def log_density(self, fit: Calibrated, change: Change, noise: FloatArray) -> float:
        """Return how likely the readings are after a Change, by those before it [log].

        noise (n,): the variance of each [log squared]. By the law of `student_log_density`.
        """
        points, forecast = self.points_cm, Forecast(fit, change)
        covariance = forecast.posterior_covariance(points) + np.diag(noise)
        first = 0
        for readings, deviation in self.parts:
            own = slice(first, first := first + len(readings.log_par))
            covariance[own, own] += np.diag(readings.extra_variance) + deviation**2
        values = np.concatenate([readings.log_par for readings, _ in self.parts])
        return student_log_density(values - forecast.predict(points)[0], covariance)


def kinds_by_readings(
    fit: Calibrated,
    before: Sequence[Fixture],
    surveys: Sequence[tuple[SurveyReadings, Readings]],
) -> OpticsKnown:
    """Return what a fit knows of optics, and which kinds they are by readings under other rigs.

    before: the fixtures as given to the fit; surveys: each with its Readings as prepared.
    """
    known = fit.optics
    for under in by_rig(surveys):
        change = under.change(fit, before, known)
        # Six times the light at their places: once, whatever the optic's kind.
        optics = list(unstated(change))
        noise = Forecast(fit, change).noise_at(under.points_cm) if optics else np.zeros(0)
        for fixture in optics:
            kinds = known.kinds_of(fixture)
            logs = {
                kind: np.log(weight)
                + EVIDENCE_POWER
                * under.log_density(
                    fit, under.change(fit, before, known.of_kinds(fixture, {kind: 1.0})), noise
                )
                for kind, weight in kinds.items()
            }
            known = known.of_kinds(fixture, relative(logs))
    return known


def by_rig(surveys: Sequence[tuple[SurveyReadings, Readings]]) -> list[UnderRig]:
    """Return the readings of each rig together: as one survey or as ten they say the same."""
    rigs: dict[Hashable, UnderRig] = {}
    for survey, readings in surveys:
        key = survey.fixtures, survey.same_as, survey.deviations
        rigs.setdefault(key, UnderRig(survey)).parts.append((readings, survey.scale_deviation))
    return list(rigs.values())


def unstated(change: Change) -> Iterator[Fixture]:
    """Yield a fixture of each new optic of which neither rays nor kind are stated."""
    optics: dict[Hashable, Fixture] = {}
    for fixture, number in zip(change.rig.fixtures, change.rig.new_optic, strict=True):
        if number and fixture.optic is None and not fixture.emitter:
            optics.setdefault(optic_of(fixture), fixture)
    yield from optics.values()


def relative(logs: dict[str, float]) -> dict[str, float]:
    """Return weights that sum to 1 from their logs [log]."""
    most = max(logs.values())
    weights = {kind: float(np.exp(value - most)) for kind, value in logs.items()}
    return {kind: weight / sum(weights.values()) for kind, weight in weights.items()}


def student_log_density(misfit: FloatArray, covariance: FloatArray) -> float:
    """Return the log density of misfits (n,) by a Student-t law of scale (n, n), up to a constant.

    In one unit and its square; a few bad readings count less (Lange, Little & Taylor 1989).
    """
    square = float(misfit @ np.linalg.solve(covariance, misfit))
    spread = 0.5 * float(np.linalg.slogdet(covariance)[1])
    return -spread - 0.5 * (DEGREES + len(misfit)) * float(np.log1p(square / DEGREES))
