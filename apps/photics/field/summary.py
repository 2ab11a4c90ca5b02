"""What a fitted field states of itself: its errors, its parameters, which readings disagree."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from scipy.stats import chi2

from apps.photics.field.light_model import FittedModel, Mixture
from apps.photics.field.readings import Pooled, Readings
from apps.photics.field.trend import SmoothModel
from apps.photics.ground.arrays import BoolArray, FloatArray, IntArray
from apps.photics.ground.estimate import Disagreement, FieldSummary, Parameter
from apps.photics.ground.normal import NORMAL_90
from apps.photics.optics.beam import half_logcos
from apps.photics.rig.calibration import Calibrated
from apps.photics.rig.nominal import ATTENUATION, BEAM, PANE
from apps.photics.rig.residual import t_log_density
from apps.photics.rig.rig import Rig

# A reading disagrees when its misfit is this many deviations and also this large [log PAR]: our own
# choice.
DISAGREE_DEVIATIONS = 3.0
DISAGREE_LOG = 0.25
# A survey contradicts the others where chance would do so this seldom, and by this much [log PAR]:
# our own choice.
SURPRISING, CONTRADICTION_LOG = 1e-3, 0.15
# Degrees of freedom a misfit's density is judged by [1]: chosen, because one bad reading must not
# decide.
FORESIGHT_DEGREES = 4.0
PREDICTED = "Predicted, not measured: a new survey will be surer."

# What a field with readings of its own is drawn from.
FieldModel = Mixture[Calibrated] | SmoothModel


def foresight(model: FittedModel) -> float:
    """Return how well each reading is foreseen by the others: summed log density [1]."""
    misfit, deviation = model.leave_one_out()
    density = t_log_density(misfit / deviation, degrees=FORESIGHT_DEGREES) - np.log(deviation)
    return float(density.sum())


@dataclass(frozen=True)
class Foreseen:
    """What the other readings foresee of each reading as given: arrays (n,) [umol m-2 s-1]."""

    par_umol: FloatArray  # foreseen
    misfit: FloatArray  # log of the reading over it [log]
    odd: BoolArray  # whether it disagrees
    value_umol: FloatArray  # as given

    def part(self, some: BoolArray) -> "Foreseen":
        """Return the Foreseen of some of the readings by a mask (n,)."""
        return Foreseen(
            self.par_umol[some], self.misfit[some], self.odd[some], self.value_umol[some]
        )

    @property
    def error_percent(self) -> FloatArray:
        """Return by how much each is missed, (n,) [%]."""
        error: FloatArray = 100.0 * np.abs(np.expm1(-self.misfit))
        return error


def foreseen_readings(readings: Readings, misfit: FloatArray, deviation: FloatArray) -> Foreseen:
    """Return the Foreseen of Readings as given, from those merged.

    misfit and deviation of the merged ones, arrays (m,) [log].
    """
    place, merged = readings.place, readings.log_par - misfit
    # Each reading by its own value: a slip among several at one spot stands for itself.
    own_misfit = readings.own_log_par - merged[place]
    odd = np.abs(own_misfit) > np.maximum(DISAGREE_LOG, DISAGREE_DEVIATIONS * deviation)[place]
    return Foreseen(np.exp(merged)[place], own_misfit, odd, np.exp(readings.own_log_par))


def summarise(
    pooled: Pooled,
    elsewhere: Sequence[Readings],
    model: FieldModel,
    calibrated: Calibrated | None,
    dimmings: Sequence[float | None] = (),
) -> tuple[FieldSummary, ...]:
    """Return the FieldSummary of each survey, those pooled first, in order.

    pooled: the Pooled surveys of the field's rig; elsewhere: the Readings of those joined to it;
    model: what the map is drawn from; calibrated: the rig they are joined to, None if unknown;
    dimmings: the one factor all its lamps were at in each of those joined, None where there is none
    [1].
    """
    each = (pooled.readings, *elsewhere)
    together, *apart = all_foreseen(each, model, calibrated, dimmings)
    surveys = [together.part(pooled.surveys == k) for k in range(int(pooled.surveys.max()) + 1)]
    against = contradictions(model, survey_rows(pooled, elsewhere))
    # The map's own error is that of all its readings, whoever took them.
    typical = float(np.median(np.concatenate([r.error_percent for r in (together, *apart)])))
    rig_known = calibrated is not None
    parameters = fitted_parameters(model) if isinstance(model, Mixture) else ()
    return tuple(
        FieldSummary(
            method=method_of(model, rig_known),
            typical_error_percent=typical,
            loo_par_umol=one.par_umol,
            parameters=parameters,
            disagreeing=disagreements(one),
            notes=pooled.readings.notes + model_notes(model, rig_known),
            against_others=ratio,
        )
        for one, ratio in zip((*surveys, *apart), against, strict=True)
    )


def all_foreseen(
    each: Sequence[Readings],
    model: FieldModel,
    calibrated: Calibrated | None,
    dimmings: Sequence[float | None] = (),
) -> list[Foreseen]:
    """Return the Foreseen of each of the Readings: the field's own first, then those joined.

    dimmings: of those joined, as `summarise` takes them [1].
    """
    misfit, deviation = model.leave_one_out()
    if len(each) > 1 and calibrated is not None and not isinstance(model, Mixture):
        # A smooth map knows nothing of other rigs; the forecast does.
        own = len(each[0].log_par)
        joined_misfit, joined_deviation = calibrated.leave_one_out()
        misfit = np.concatenate([misfit, joined_misfit[own:]])
        deviation = np.concatenate([deviation, joined_deviation[own:]])
    results, first = [], 0
    for readings, factor in zip(each, padded(dimmings, len(each)), strict=True):
        rows = slice(first, first + len(readings.log_par))
        if factor is not None and isinstance(model, SmoothModel):
            misfit[rows], deviation[rows] = foreseen_dimmed(readings, model, factor)
        results.append(foreseen_readings(readings, misfit[rows], deviation[rows]))
        first = rows.stop
    return results


def padded(dimmings: Sequence[float | None], many: int) -> list[float | None]:
    """Return dimmings [1] of the Readings joined behind None for the field's own, (many,) [1]."""
    return [*[None] * (many - len(dimmings)), *dimmings]


def foreseen_dimmed(
    readings: Readings, model: SmoothModel, factor: float
) -> tuple[FloatArray, FloatArray]:
    """Return misfit and deviation of Readings under all lamps dimmed by a factor, both (m,) [log].

    As the map itself is followed: its lamps, which it leaves out, would foresee another light.
    """
    points = readings.points_cm
    mean, deviation = model.predict(points)
    noise = np.sqrt(model.noise_at(points) + readings.extra_variance)
    return readings.log_par - mean - np.log(factor), np.hypot(deviation, noise)


def survey_rows(pooled: Pooled, elsewhere: Sequence[Readings]) -> list[IntArray]:
    """Return for each survey which rows (k,) of the process hold its readings."""
    place = pooled.readings.place
    many = int(pooled.surveys.max(initial=0)) + 1
    rows: list[IntArray] = [np.unique(place[pooled.surveys == k]) for k in range(many)]
    first = len(pooled.readings.log_par)
    for readings in elsewhere:
        rows.append(first + np.arange(len(readings.log_par)))
        first += len(readings.log_par)
    return rows


def contradictions(model: FieldModel, rows: Sequence[IntArray]) -> list[float | None]:
    """Return for each survey the ratio of its readings to what the others foresee [1], or None.

    rows: those of the process that hold each survey's readings, arrays (k,).

    None where the two agree as well as chance lets them, or where there is nothing to compare.
    Block-wise leave-one-out of a Gaussian process, by the law of the conditional normal: with C the
    covariance of all rows, those of a survey have the covariance ((C^-1)_BB)^-1 around what the
    others foresee.
    """
    if len(rows) < 2 or not isinstance(model, Mixture):
        return [None] * len(rows)
    # Of guessed rigs the likeliest.
    fit = model.models[0]
    covariance = fit.gp.data_covariance()
    values = covariance @ fit.gp.weights
    # At full weight: a survey that all others contradict has little, which would excuse it.
    precision = np.linalg.inv(covariance - np.diag(fit.added_variance))
    pull = precision @ values
    ratios: list[float | None] = []
    for own in rows:
        misfit = np.linalg.solve(precision[np.ix_(own, own)], pull[own])
        surprise = chi2.sf(float(misfit @ pull[own]), len(own))
        middle = float(np.median(misfit))
        is_clear = surprise < SURPRISING and abs(middle) > CONTRADICTION_LOG
        ratios.append(float(np.exp(middle)) if is_clear else None)
    return ratios


def disagreements(one: Foreseen) -> tuple[Disagreement, ...]:
    """Return the Disagreements among the readings of a Foreseen."""
    return tuple(
        Disagreement(
            int(index),
            float(one.value_umol[index]),
            float(one.par_umol[index]),
            float(np.exp(one.misfit[index])),
        )
        for index in np.flatnonzero(one.odd)
    )


def method_of(model: FieldModel, rig_known: bool) -> str:
    """Return in words what made the map."""
    if not isinstance(model, Mixture):
        return "a smooth trend through the readings"
    if rig_known:
        return "the light of your lamps, fitted to the readings"
    return "the light of a likely set of lamps, guessed from the readings"


def forecast_summary(summary: FieldSummary, typical_error_percent: float) -> FieldSummary:
    """Return the FieldSummary of a forecast made from a field with this one.

    typical_error_percent: the forecast's own [%].
    """
    return replace(
        summary,
        typical_error_percent=typical_error_percent,
        method="the light of your lamps after the change, from readings taken before it",
        notes=(*summary.notes, PREDICTED),
    )


def dimmed_summary(summary: FieldSummary, typical_error_percent: float) -> FieldSummary:
    """Return the FieldSummary of a map times the one factor that all its lamps were dimmed by.

    typical_error_percent: the dimmed map's own [%].
    """
    return replace(
        summary,
        typical_error_percent=typical_error_percent,
        method=f"{summary.method}, times what all lamps were since turned up or down by",
        notes=(*summary.notes, PREDICTED),
    )


def unread_summary(typical_error_percent: float) -> FieldSummary:
    """Return the FieldSummary of a field that no reading stands behind.

    typical_error_percent: as the field foresees it of itself [%].
    """
    nothing = np.empty(0)
    return FieldSummary(
        method="the lamps’ output, traced through the water",
        typical_error_percent=typical_error_percent,
        loo_par_umol=nothing,
        parameters=(),
        disagreeing=(),
        notes=(),
    )


def forecast_unread(summary: FieldSummary, typical_error_percent: float) -> FieldSummary:
    """Return the FieldSummary of a field nobody read, under other fixtures.

    typical_error_percent: the forecast's own [%].
    """
    return replace(summary, typical_error_percent=typical_error_percent)


def rescaled_summary(summary: FieldSummary, typical_error_percent: float) -> FieldSummary:
    """Return the FieldSummary of a map rescaled by fixtures that its readings do not know.

    typical_error_percent: the rescaled map's own [%].
    """
    return replace(
        summary,
        typical_error_percent=typical_error_percent,
        method="the map from before the change, times what the lamps described give after it "
        "over what they gave before",
        notes=(
            *summary.notes,
            "Predicted, not measured, and coarsely: the survey does not know its lamps. Date "
            "what hung then back to before it.",
        ),
    )


def model_notes(model: FieldModel, rig_known: bool) -> tuple[str, ...]:
    """Return plain sentences on what the method means for this map."""
    if not isinstance(model, Mixture):
        if rig_known:
            return (
                "The readings do not look like light from the lamps described, so the map "
                "leaves the lamps out; check their place, height and lens.",
            )
        return ("No likely set of lamps explains the readings; the map is a smooth trend.",)
    if rig_known:
        return ()
    many = sorted({fit.rig.many for fit in model.models})
    count = " or ".join(str(n) for n in many)
    return (
        f"No lamps were given. The readings look like light from {count} "
        f"{'lamp' if many == [1] else 'lamps'} in a row; "
        "say what hangs there for a surer map.",
    )


def fitted_parameters(model: Mixture[Calibrated]) -> tuple[Parameter, ...]:
    """Return the Parameters of the most likely rig, in plain words with 90 % intervals."""
    fit = model.models[0]
    mean, covariance = fit.posterior()
    half_width = NORMAL_90 * np.sqrt(np.diag(covariance))

    def of_all(name: str, shared: int, shown: Callable[[float], float], unit: str) -> Parameter:
        """Return the Parameter of what all fixtures share, as the keeper knows it."""
        at = 4 * fit.rig.many + shared
        middle, half = float(mean[at]), float(half_width[at])
        return Parameter(name, shown(middle), shown(middle - half), shown(middle + half), unit)

    # The beam is fitted as a factor on -ln cos of its half.
    beam = partial(beam_deg, fit.rig.fixtures[0].beam_deg)
    return (
        *places(fit.rig, mean, half_width),
        *relative_outputs(fit.rig, mean, covariance),
        of_all("beam angle", BEAM, beam, "degrees"),
        of_all("light lost in the water", ATTENUATION, percent, "per metre"),
        of_all("light the panes mirror", PANE, lambda log: min(100.0, percent(log)), "%"),
    )


def percent(log: float) -> float:
    """Return the percent that the log of a proportion stands for [%]."""
    return 100.0 * float(np.exp(log))


def places(rig: Rig, mean: FloatArray, half_width: FloatArray) -> list[Parameter]:
    """Return where each fixture of a rig hangs by its parameters, arrays (p,) [log, cm].

    `mean` and `half_width` of their 90 % intervals.
    """
    parameters = []
    for k, fixture in enumerate(rig.fixtures):
        label = fixture.name or f"fixture {k + 1}"
        for block, what, base in (
            (1, "place along the length", fixture.x_cm),
            (2, "place front to back", fixture.y_cm),
            (3, "height above the water", fixture.height_cm),
        ):
            at = block * rig.many + k
            middle, half = base + float(mean[at]), float(half_width[at])
            parameters.append(
                Parameter(f"{label}: {what}", middle, middle - half, middle + half, "cm")
            )
    return parameters


def relative_outputs(rig: Rig, mean: FloatArray, covariance: FloatArray) -> list[Parameter]:
    """Return each fixture's output against the mean of all, when there are several.

    mean (p,) and covariance (p, p) of the rig's parameters [log, cm].
    """
    many = rig.many
    if many < 2:
        return []
    contrast = np.eye(many) - 1.0 / many
    middle = contrast @ mean[:many]
    half_width = NORMAL_90 * np.sqrt(np.diag(contrast @ covariance[:many, :many] @ contrast.T))
    return [
        Parameter(
            f"{fixture.name or f'fixture {k + 1}'}: output against the average",
            100.0 * float(np.exp(middle[k])),
            100.0 * float(np.exp(middle[k] - half_width[k])),
            100.0 * float(np.exp(middle[k] + half_width[k])),
            "%",
        )
        for k, fixture in enumerate(rig.fixtures)
    ]


def beam_deg(nominal_deg: float, log_factor: float) -> float:
    """Return the beam angle whose width is a factor away from the nominal one [degrees].

    By the law of the beam, cos to a power: `half_logcos`.
    """
    return float(
        2.0 * np.degrees(np.arccos(np.exp(-half_logcos(nominal_deg) * np.exp(log_factor))))
    )
