"""What a fitted field says of itself: its errors, what it found out, which readings to doubt."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import chi2

from apps.photics.field.mixture import Mixture
from apps.photics.ground.estimate import Disagreement, FieldSummary, Parameter
from apps.photics.optics.beam import half_logcos
from apps.photics.rig.residual import t_log_density
from apps.photics.rig.rig import ATTENUATION, BEAM, PANE

# A reading disagrees when its misfit is this many deviations and also this large [log PAR].
DISAGREE_DEVIATIONS = 3.0
DISAGREE_LOG = 0.25
# A survey contradicts the others where chance would do so this seldom, and by this much [log PAR]:
# our own choice.
SURPRISING, CONTRADICTION_LOG = 1e-3, 0.15
# Degrees of freedom a misfit's density is judged by: one bad reading must not decide.
FORESIGHT_DEGREES = 4.0
NORMAL_90 = 1.645


def foresight(model):
    """Return how well each reading is foreseen by the others: summed log density [1]."""
    misfit, deviation = model.leave_one_out()
    density = t_log_density(misfit / deviation, degrees=FORESIGHT_DEGREES) - np.log(deviation)
    return float(density.sum())


@dataclass(frozen=True)
class Foreseen:
    """What the other readings foresee of each reading as given: arrays (n,) [umol m-2 s-1]."""

    par_umol: np.ndarray  # foreseen
    misfit: np.ndarray  # log of the reading over it
    odd: np.ndarray  # whether it disagrees
    value_umol: np.ndarray  # as given

    def part(self, some):
        """Return the Foreseen of some of the readings by a mask (n,)."""
        return Foreseen(*(array[some] for array in vars(self).values()))

    @property
    def error_percent(self):
        """Return by how much each is missed [%]."""
        return 100.0 * np.abs(np.expm1(-self.misfit))


def foreseen_readings(readings, misfit, deviation):
    """Return the Foreseen of Readings as given, from misfit and deviation of the merged, (m,)."""
    place, merged = readings.place, readings.log_par - misfit
    # Each reading by its own value: a slip among several at one spot stands for itself.
    own_misfit = readings.own_log_par - merged[place]
    odd = np.abs(own_misfit) > np.maximum(DISAGREE_LOG, DISAGREE_DEVIATIONS * deviation)[place]
    return Foreseen(np.exp(merged)[place], own_misfit, odd, np.exp(readings.own_log_par))


def summarise(pooled, elsewhere, model, calibrated):
    """Return the FieldSummary of each survey, those pooled first, in order.

    pooled: the Pooled surveys of the field's rig; elsewhere: the Readings of those joined to it;
    model: what the map is drawn from; calibrated: the rig they are joined to, None if unknown.
    """
    rig_known = calibrated is not None
    columns = model.leave_one_out()
    if elsewhere and not isinstance(model, Mixture):
        # A smooth map knows nothing of other rigs; the forecast does.
        many = len(pooled.readings.log_par)
        columns = [
            np.concatenate([own, all_rows[many:]])
            for own, all_rows in zip(columns, calibrated.leave_one_out(), strict=True)
        ]
    results, first = [], 0
    for readings in (pooled.readings, *elsewhere):
        rows = slice(first, first + len(readings.log_par))
        results.append(foreseen_readings(readings, *(column[rows] for column in columns)))
        first = rows.stop
    together, *apart = results
    surveys = [together.part(pooled.surveys == k) for k in range(int(pooled.surveys.max()) + 1)]
    against = contradictions(model, survey_rows(pooled, elsewhere))
    # The map's own error is that of all its readings, whoever took them.
    typical = float(np.median(np.concatenate([r.error_percent for r in results])))
    common = {
        "method": method_of(model, rig_known),
        "typical_error_percent": typical,
        "parameters": fitted_parameters(model) if isinstance(model, Mixture) else (),
        "notes": pooled.readings.notes + model_notes(model, rig_known),
    }
    return tuple(
        FieldSummary(
            loo_par_umol=one.par_umol,
            loo_error_percent=one.error_percent,
            disagreeing=disagreements(one),
            against_others=ratio,
            **common,
        )
        for one, ratio in zip((*surveys, *apart), against, strict=True)
    )


def survey_rows(pooled, elsewhere):
    """Return for each survey which rows of the process hold its readings."""
    place = pooled.readings.place
    many = int(pooled.surveys.max(initial=0)) + 1
    rows = [np.unique(place[pooled.surveys == k]) for k in range(many)]
    first = len(pooled.readings.log_par)
    for readings in elsewhere:
        rows.append(first + np.arange(len(readings.log_par)))
        first += len(readings.log_par)
    return rows


def contradictions(model, rows):
    """Return for each survey the ratio of its readings to what the others foresee, or None.

    None where the two agree as well as chance lets them, or where there is nothing to compare.
    Block-wise leave-one-out of a Gaussian process: with C the covariance of all rows, those of a
    survey have the covariance ((C^-1)_BB)^-1 around what the others foresee.
    """
    if len(rows) < 2 or not isinstance(model, Mixture):
        return [None] * len(rows)
    # Of guessed rigs the likeliest.
    fit = model.models[0]
    covariance = fit.gp.factor @ fit.gp.factor.T
    values = covariance @ fit.gp.weights
    # At full weight: a survey that all others contradict has little, which would excuse it.
    precision = np.linalg.inv(covariance - np.diag(fit.added_variance))
    pull = precision @ values
    ratios = []
    for own in rows:
        misfit = np.linalg.solve(precision[np.ix_(own, own)], pull[own])
        surprise = chi2.sf(float(misfit @ pull[own]), len(own))
        middle = float(np.median(misfit))
        is_clear = surprise < SURPRISING and abs(middle) > CONTRADICTION_LOG
        ratios.append(float(np.exp(middle)) if is_clear else None)
    return ratios


def disagreements(one):
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


def method_of(model, rig_known):
    """Return in words what made the map."""
    if not isinstance(model, Mixture):
        return "a smooth trend through the readings"
    if rig_known:
        return "the light of your fixtures, fitted to the readings"
    return "the light of a likely set of fixtures, guessed from the readings"


def forecast_summary(summary, typical_error_percent):
    """Return the FieldSummary of a forecast made from a field with this one.

    typical_error_percent: the forecast's own [%].
    """
    return replace(
        summary,
        typical_error_percent=typical_error_percent,
        method="the light of your fixtures after the change, from readings taken before it",
        notes=(*summary.notes, "Predicted, not measured: a new survey will be surer."),
    )


def rescaled_summary(summary, typical_error_percent):
    """Return the FieldSummary of a map rescaled by fixtures that its readings do not know.

    typical_error_percent: the rescaled map's own [%].
    """
    return replace(
        summary,
        typical_error_percent=typical_error_percent,
        method="the map from before the change, times what the fixtures described give after it "
        "over what they gave before",
        notes=(
            *summary.notes,
            "Predicted, not measured, and coarsely: the survey does not know its fixtures. Date "
            "what hung then back to before it.",
        ),
    )


def model_notes(model, rig_known):
    """Return plain sentences on what the method means for this map."""
    if not isinstance(model, Mixture):
        if rig_known:
            return (
                "The readings do not look like light from the fixtures described, so the map "
                "leaves the fixtures out; check their place, height and optic.",
            )
        return ("No likely set of fixtures explains the readings; the map is a smooth trend.",)
    if rig_known:
        return ()
    many = sorted({fit.rig.many for fit in model.models})
    count = " or ".join(str(n) for n in many)
    return (
        f"No fixtures were given. The readings look like light from {count} "
        f"{'fixture' if many == [1] else 'fixtures'} in a row; "
        "say what hangs there for a surer map.",
    )


def fitted_parameters(model):
    """Return the Parameters of the most likely rig, in plain words with 90 % intervals."""
    fit = model.models[0]
    rig, many = fit.rig, fit.rig.many
    mean, covariance = fit.posterior()
    half = NORMAL_90 * np.sqrt(np.diag(covariance))
    parameters = []
    for k, fixture in enumerate(rig.fixtures):
        label = fixture.name or f"fixture {k + 1}"
        for block, what, base in (
            (1, "place along the length", fixture.x_cm),
            (2, "place front to back", fixture.y_cm),
            (3, "height above the water", fixture.height_cm),
        ):
            at = block * many + k
            middle = base + mean[at]
            parameters.append(
                Parameter(f"{label}: {what}", middle, middle - half[at], middle + half[at], "cm")
            )
    parameters += relative_outputs(fit, mean, covariance)
    at = 4 * many + BEAM
    ends = [mean[at], mean[at] - half[at], mean[at] + half[at]]
    # The beam is fitted as a factor on -ln cos of its half; back to degrees for the keeper.
    beams = [beam_deg(rig.fixtures[0].beam_deg, shift) for shift in ends]
    parameters.append(Parameter("beam angle", *beams, "degrees"))
    at = 4 * many + ATTENUATION
    ends = [mean[at], mean[at] - half[at], mean[at] + half[at]]
    parameters.append(
        Parameter("light lost in the water", *(100.0 * np.exp(e) for e in ends), "per metre")
    )
    at = 4 * many + PANE
    ends = [mean[at], mean[at] - half[at], mean[at] + half[at]]
    parameters.append(
        Parameter("light the panes mirror", *(min(100.0, 100.0 * np.exp(e)) for e in ends), "%")
    )
    return tuple(parameters)


def relative_outputs(fit, mean, covariance):
    """Return each fixture's output against the mean of all, when there are several."""
    rig, many = fit.rig, fit.rig.many
    if many < 2:
        return []
    contrast = np.eye(many) - 1.0 / many
    middle = contrast @ mean[:many]
    half = NORMAL_90 * np.sqrt(np.diag(contrast @ covariance[:many, :many] @ contrast.T))
    return [
        Parameter(
            f"{fixture.name or f'fixture {k + 1}'}: output against the average",
            100.0 * float(np.exp(middle[k])),
            100.0 * float(np.exp(middle[k] - half[k])),
            100.0 * float(np.exp(middle[k] + half[k])),
            "%",
        )
        for k, fixture in enumerate(rig.fixtures)
    ]


def beam_deg(nominal_deg, log_factor):
    """Return the beam angle whose width is a factor away from the nominal one [degrees]."""
    return float(
        2.0 * np.degrees(np.arccos(np.exp(-half_logcos(nominal_deg) * np.exp(log_factor))))
    )
