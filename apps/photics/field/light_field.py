"""The light field: PAR with its interval at every point of a tank, from a handful of readings."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.stats import t as student

from apps.photics.field.composition import Explanation, direct_proportion, explain_point
from apps.photics.field.fit_model import ModelFit, alone, fit_model
from apps.photics.field.forecast import Forecast
from apps.photics.field.joined import at_posterior
from apps.photics.field.lattice import Lattice, build_lattice
from apps.photics.field.light_model import LightModel, Mixture, RigModel
from apps.photics.field.readings import SurveyReadings, pool
from apps.photics.field.rescale import Dimmed, Rescaled, rescaled
from apps.photics.field.rig_change import change_rig, level_factor
from apps.photics.field.rock_fit import RockFit
from apps.photics.field.summary import (
    dimmed_summary,
    forecast_summary,
    forecast_unread,
    rescaled_summary,
    summarise,
)
from apps.photics.field.trend import SmoothModel
from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray, RealArray
from apps.photics.ground.estimate import (
    Disagreement,
    Estimate,
    FieldSummary,
    GridEstimate,
    NotEnoughReadings,
    SectionEstimate,
)
from apps.photics.ground.extrapolation import Span, beyond_percent, span_of
from apps.photics.ground.normal import NORMAL_90
from apps.photics.ground.open_water import open_grid
from apps.photics.ground.scene import (
    Fixture,
    Rock,
    Tank,
    out_of_water,
    solids,
)
from apps.photics.rig.calibration import Calibrated, calibrate
from apps.photics.rig.prior import RigPrior
from apps.photics.rig.rig import Rig

__all__ = [
    "Disagreement",
    "Estimate",
    "Explanation",
    "FieldSummary",
    "GridEstimate",
    "LightField",
    "NotEnoughReadings",
    "SectionEstimate",
    "fit_light_field",
]

# Part of the truth the interval must hold [1]: our own choice.
COVERAGE = 0.90
# Degrees of freedom of the interval: noise and model errors have heavier tails than a normal law.
# Chosen so that 90 % intervals cover 90 % on tanks traced for the purpose.
INTERVAL_DEGREES = 15.0
HALF_WIDTH = float(student.ppf(0.5 + COVERAGE / 2, INTERVAL_DEGREES))
# Above this many points the field is read off its lattice: chosen for speed. So are cuts where the
# light is smooth: no spline follows the edge of a rock's shadow, of a steep face or of a reflector.
EXACT_POINTS = 10_000
# Above this many they are worked out in single precision, far finer than any meter: chosen, because
# below it speed is all the same.
DOUBLE_POINTS = 512
# Up to this tilt [degrees] nodes 3 cm apart follow a fixture well: chosen, because cuts under one
# tilted by 45 were 3 to 20 % off at a tenth of the lit points (docs/how_it_works.md).
SMOOTH_TILT_DEG = 20.0
# Points that a forecast's typical error is taken over, along each axis: our own choice.
TYPICAL_PER_AXIS = (6, 4, 4)
# The median of a normal error by its deviation [1], by definition.
MEDIAN_OF_NORMAL = 0.6745
# Grid that an evenness is counted on: cells along the longer side, our own choice.
UNIFORMITY_CELLS = 24

# PAR, low and high ends of its interval [umol m-2 s-1], extrapolated, in rock: of one shape.
EstimateArrays = tuple[FloatArray, FloatArray, FloatArray, BoolArray, BoolArray]


@dataclass(frozen=True)
class LightField:
    """PAR anywhere in the water; made by `fit_light_field`."""

    tank: Tank
    model: Mixture[RigModel] | SmoothModel | Rescaled | Dimmed
    span: Span
    summary: FieldSummary
    guessed: bool  # True where the fixtures were guessed from the readings
    fixtures: tuple[Fixture, ...] = ()  # as given, unlit ones too
    calibrated: Calibrated | None = None  # the given fixtures fitted to the readings
    rocks: tuple[Rock, ...] = ()  # as stated
    # How far the meter's whole scale may be off [log]: alike everywhere, so ratios are free of it.
    meter_deviation: float = 0.0
    rock_fits: tuple[RockFit, ...] = ()
    # Of each survey: those of the field's rig first, then those of other rigs.
    survey_summaries: tuple[FieldSummary, ...] = ()
    # False where no reading stands behind it, only what is stated of the fixtures.
    measured: bool = True

    def at(self, points_cm: ArrayLike) -> Estimate:
        """Return the Estimate at points (m, 3) or (3,) of x, y, depth [cm]; arrays (m,)."""
        points: FloatArray = np.atleast_2d(np.asarray(points_cm, float))
        if len(points) <= EXACT_POINTS:
            mean, deviation = self.worked_out(points)
        else:
            mean, deviation = self.lattice.predict(points)
        beyond, inside = self.span.beyond(points), self.out_of_water(points)
        return self.estimate(mean, deviation, beyond, inside)

    def worked_out(self, points_cm: FloatArray) -> tuple[RealArray, RealArray]:
        """Return mean and deviation of log PAR at points (m, 3) by the model, both (m,) [log]."""
        is_few = len(points_cm) <= DOUBLE_POINTS
        return self.model.predict(points_cm if is_few else points_cm.astype(np.float32))

    def out_of_water(self, points_cm: FloatArray) -> BoolArray:
        """Return which points (m, 3) lie in rock, in the overflow or outside the panes, (m,)."""
        return out_of_water(self.tank, self.rocks, *points_cm.T)

    @cached_property
    def beyond_percent(self) -> float:
        """Return how much of the open water lies beyond the readings [%]."""
        return beyond_percent(self.span, self.tank, self.rocks)

    def estimate(
        self, mean: RealArray, deviation: RealArray, beyond: BoolArray, inside: BoolArray
    ) -> Estimate:
        """Return the Estimate for mean and deviation of log PAR, arrays of one shape [log].

        beyond and inside: whether each point lies beyond the readings, and within rock.
        """
        half = np.hypot(HALF_WIDTH * deviation, NORMAL_90 * self.meter_deviation)
        return Estimate(np.exp(mean), np.exp(mean - half), np.exp(mean + half), beyond, inside)

    @cached_property
    def is_smooth(self) -> bool:
        """Return whether the lattice follows the light closely: see SMOOTH_TILT_DEG."""
        lamps = [*self.fixtures]
        if isinstance(self.model, Rescaled):
            lamps += [*self.model.before.fixtures, *self.model.after.fixtures]
        return (
            not solids(self.tank, self.rocks)
            and not self.tank.braces
            and all(
                f.optic is None and abs(f.tilt_deg) <= SMOOTH_TILT_DEG for f in lamps if f.level > 0
            )
        )

    @cached_property
    def lattice(self) -> Lattice:
        """Return the field on its lattice, made when first needed."""
        return build_lattice(self.model, self.tank)

    def grid(self, depth_cm: float, step_cm: float) -> GridEstimate:
        """Return the GridEstimate at one depth, nodes no further apart than step_cm [cm]."""
        x, y = nodes(self.tank.length_cm, step_cm), nodes(self.tank.width_cm, step_cm)
        par, low, high, beyond, inside = self.cut(x, y, np.array([depth_cm], float))
        return GridEstimate(
            x_cm=x,
            y_cm=y,
            depth_cm=float(depth_cm),
            par_umol=par[:, :, 0].T,
            low_umol=low[:, :, 0].T,
            high_umol=high[:, :, 0].T,
            extrapolated=beyond[:, :, 0].T,
            in_rock=inside[:, :, 0].T,
        )

    def section(self, y_cm: float, step_cm: float) -> SectionEstimate:
        """Return the SectionEstimate on the upright cut at one y, nodes at most step_cm apart."""
        x, depth = nodes(self.tank.length_cm, step_cm), nodes(self.tank.depth_cm, step_cm)
        par, low, high, beyond, inside = self.cut(x, np.array([y_cm], float), depth)
        return SectionEstimate(
            x_cm=x,
            depth_cm=depth,
            y_cm=float(y_cm),
            par_umol=par[:, 0, :].T,
            low_umol=low[:, 0, :].T,
            high_umol=high[:, 0, :].T,
            extrapolated=beyond[:, 0, :].T,
            in_rock=inside[:, 0, :].T,
        )

    def cut(self, x_cm: ArrayLike, y_cm: ArrayLike, depth_cm: ArrayLike) -> EstimateArrays:
        """Return the five Estimate arrays on the grid of three axes, each (nx, ny, nz).

        x_cm (nx,), y_cm (ny,), depth_cm (nz,); returned in the order of Estimate [umol m-2 s-1].
        """
        points = np.stack(np.meshgrid(x_cm, y_cm, depth_cm, indexing="ij"), axis=-1)
        many, shape = points.reshape(-1, 3), points.shape[:-1]
        if not self.is_smooth and len(many) <= EXACT_POINTS:
            mean, deviation = self.worked_out(many)
            mean, deviation = mean.reshape(shape), deviation.reshape(shape)
        else:
            mean, deviation = self.lattice.cut(x_cm, y_cm, depth_cm)
        beyond, inside = self.span.beyond(many), self.out_of_water(many)
        one = self.estimate(mean, deviation, beyond.reshape(shape), inside.reshape(shape))
        return one.par_umol, one.low_umol, one.high_umol, one.extrapolated, one.in_rock

    def explain(self, point_cm: ArrayLike) -> Explanation:
        """Return the Explanation of the PAR at one point (3,): what comes from which fixture."""
        point = np.asarray(point_cm, float).reshape(1, 3)
        return explain_point(self.rig_fit, point, self.at(point), self.guessed)

    def directness(self, points_cm: ArrayLike) -> FloatArray:
        """Return the proportion of PAR straight from one fixture at points (m, 3), (m,) [1].

        Near 1 shadows are hard, near 0 light comes from everywhere; nan without a rig.
        """
        points: FloatArray = np.atleast_2d(np.asarray(points_cm, float))
        return direct_proportion(self.rig_fit, points)

    def uniformity(self, depth_cm: float) -> float:
        """Return the least PAR over the mean PAR on the level at one depth [1]."""
        step = max(self.tank.length_cm, self.tank.width_cm) / UNIFORMITY_CELLS
        grid = self.grid(depth_cm, step)
        par = grid.par_umol if self.tank.is_box else grid.par_umol[~grid.in_rock]
        return float(par.min() / par.mean())

    def forecast(
        self,
        fixtures_after: Sequence[Fixture],
        *,
        same_as: Sequence[int | None] | None = None,
        deviations: Sequence[float] | None = None,
    ) -> "LightField":
        """Return the LightField after a change of the fixtures, readings being from before it.

        fixtures_after: those that hung before in their order, as they are now (level 0: off), and
        any new ones. same_as, one for each: None for one that hung before, else the number,
        counted from 0, of the one before whose output a new one takes. An optic passes on all its
        fixture's light. deviations: how far each one's output may be beyond that [log]. Raises
        ValueError where the fixtures were not known or do not fit.
        """
        if self.calibrated is None:
            raise ValueError(
                "The lamps the readings were taken under are not known, so the light after a "
                "change cannot be foretold."
            )
        after = tuple(fixtures_after)
        change = change_rig(self.calibrated, self.fixtures, after, same_as, deviations)
        if after == self.fixtures:
            return self
        dimming = self.dimmed_by(after, same_as, deviations)
        model: Mixture[RigModel] | Dimmed
        if dimming is None:
            model = alone(Forecast(self.calibrated, at_posterior(self.calibrated, change)))
            summarised = forecast_summary if self.measured else forecast_unread
        else:
            factor, deviation = dimming
            model, summarised = Dimmed(self.model, math.log(factor), deviation), dimmed_summary
        summary = summarised(self.summary, self.typical_error(model))
        return replace(
            self, model=model, summary=summary, guessed=False, fixtures=after, calibrated=None
        )

    def dimmed_by(
        self,
        after: Sequence[Fixture],
        same_as: Sequence[int | None] | None,
        deviations: Sequence[float] | None,
    ) -> tuple[float, float] | None:
        """Return the factor [1] that levels alone dim a map by, and its deviation [log].

        Of a map not drawn from its rig: the factor is as sure as the levels, whatever the readings
        showed beyond the fixtures. None for other changes, of a map that follows its rig's light,
        and where daylight stays; deviations [log] and the rest as in `forecast`.
        """
        if self.rig_fit is not None or self.tank.window is not None:
            return None
        factor = level_factor(self.fixtures, after, same_as)
        # Which fixture lights a spot is not known: no mix of them is less sure than the worst.
        return None if factor is None else (factor, max(map(abs, deviations or (0.0,))))

    def rescaled(
        self,
        before: Sequence[Fixture],
        after: Sequence[Fixture],
        *,
        same_as: Sequence[int | None] | None = None,
        rocks: Sequence[Rock] = (),
    ) -> "LightField":
        """Return the LightField after a change where the readings' fixtures are not known.

        before and after: the fixtures as described later, before the change and after it; the
        map is multiplied by the ratio of their light. Raises ValueError where one is dark.
        """
        model = rescaled(self.model, self.tank, rocks, before, after, same_as)
        summary = rescaled_summary(self.summary, self.typical_error(model))
        return replace(self, model=model, summary=summary)

    def open_points(self) -> FloatArray:
        """Return places spread over the open water, (k, 3) [cm]."""
        points = open_grid(self.tank, self.rocks, TYPICAL_PER_AXIS)
        # All of the water within rock, as it was stated: its points are those of no rock.
        return points if len(points) else open_grid(self.tank, (), TYPICAL_PER_AXIS)

    @cached_property
    def open_estimate(self) -> Estimate:
        """Return the Estimate at `open_points`, made when first needed; arrays (k,)."""
        return self.at(self.open_points())

    def typical_error(self, model: LightModel) -> float:
        """Return the median error a model of this water foresees of itself [%]."""
        deviation = model.predict(self.open_points())[1]
        return float(100.0 * np.expm1(MEDIAN_OF_NORMAL * np.median(deviation)))

    @property
    def rig_fit(self) -> RigModel | None:
        """Return the most likely rig's model, or None for a map without one."""
        return self.model.models[0] if isinstance(self.model, Mixture) else None


def nodes(length_cm: float, step_cm: float) -> FloatArray:
    """Return evenly spaced nodes from wall to wall, at most step_cm apart, (n,) [cm]."""
    if not step_cm > 0:
        raise ValueError("The step of a grid must be above zero.")
    return np.linspace(0.0, length_cm, int(np.ceil(length_cm / step_cm - 1e-9)) + 1)


def fit_light_field(
    points_cm: ArrayLike,
    par_umol: ArrayLike,
    *,
    tank: Tank,
    fixtures: Sequence[Fixture] = (),
    rocks: Sequence[Rock] = (),
    spread: ArrayLike | None = None,
    scale_deviation: float = 0.0,
    others: Sequence[SurveyReadings] = (),
    meter_uncertainty_percent: float = 0.0,
    known: RigPrior | None = None,
) -> LightField:
    """Fit the light field of a tank to meter readings.

    points_cm (n, 3): x, y, depth [cm]; par_umol (n,) [umol m-2 s-1]; spread (n,): deviation of
    the values averaged into each reading [umol m-2 s-1], nan where unknown. fixtures: those that
    were lit, or none when unknown; rocks: boxes that throw shadows. others: SurveyReadings of
    other days, oldest first; those under other rigs count where the fixtures are known. The map is
    in the scale of those without a scale_deviation, as which these readings' own is given [log].
    meter_uncertainty_percent: one standard deviation of the meter's scale [%]. known: what is known
    of the lit fixtures' outputs, by which one spot is enough. Raises NotEnoughReadings below four
    different spots under the rig given otherwise, and ValueError for values no meter gives. Same
    input, same output.

    >>> points = [(x, y, z) for z in (5, 25) for x in (10, 50) for y in (8, 32)]
    >>> field = fit_light_field(points, [200.0] * 8, tank=Tank(60, 40, 45))
    >>> round(float(field.at((30, 20, 15)).par_umol[0]), -2)
    200.0
    """
    fixtures, rocks = tuple(fixtures), tuple(rocks)
    lit = tuple(f for f in fixtures if f.level > 0)
    first = SurveyReadings(points_cm, par_umol, spread, scale_deviation=scale_deviation)
    of_rig = [first, *(other for other in others if other.fixtures is None)]
    if known is None:
        pooled = pool(of_rig, tank)
        fit = fit_model(pooled.readings, tank, lit, rocks)
    else:
        pooled = pool(of_rig, tank, least=1)
        fitted = calibrate(Rig(tank, lit, rocks), pooled.readings, known=known)
        fit = ModelFit(alone(fitted), fitted)
    elsewhere = [(o, o.prepared(tank)) for o in others if o.fixtures is not None]
    if elsewhere and fit.calibrated is not None:
        fit = fit.joined_by(fixtures, elsewhere)
    else:
        # Readings under another rig count only where the fixtures of both are known.
        elsewhere = []
    joined = [own for _, own in elsewhere]
    # Daylight stays as it is, whatever the lamps do.
    dimmings = [
        None if tank.window else level_factor(fixtures, o.fixtures or (), o.same_as)
        for o, _ in elsewhere
    ]
    surveys = summarise(pooled, joined, fit.model, fit.calibrated, dimmings)
    places = np.concatenate([own.points_cm for own in (pooled.readings, *joined)])
    return LightField(
        tank,
        fit.model,
        span_of(places, tank),
        surveys[0],
        not lit,
        fixtures,
        fit.calibrated,
        rocks,
        meter_deviation=float(np.log1p(meter_uncertainty_percent / 100.0)),
        rock_fits=fit.rock_fits,
        survey_summaries=surveys,
    )
