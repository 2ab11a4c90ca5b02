"""What a fitted field says of itself: its errors, what it found out, which readings to doubt."""

from dataclasses import replace

import numpy as np

from apps.photics.field.mixture import Mixture
from apps.photics.ground.estimate import Disagreement, FieldSummary, Parameter
from apps.photics.optics.beam import half_logcos
from apps.photics.rig.residual import t_log_density
from apps.photics.rig.rig import ATTENUATION, BEAM, PANE

# A reading disagrees when its misfit is this many deviations and also this large [log PAR].
DISAGREE_DEVIATIONS = 3.0
DISAGREE_LOG = 0.25
# Degrees of freedom a misfit's density is judged by: one bad reading must not decide.
FORESIGHT_DEGREES = 4.0
NORMAL_90 = 1.645


def foresight(model):
    """Return how well each reading is foreseen by the others: summed log density [1]."""
    misfit, deviation = model.leave_one_out()
    density = t_log_density(misfit / deviation, degrees=FORESIGHT_DEGREES) - np.log(deviation)
    return float(density.sum())


def summarise(readings, model, rig_known):
    """Return the FieldSummary of a fitted model for the readings as given."""
    misfit, deviation = model.leave_one_out()
    expected = np.exp(readings.log_par - misfit)
    place = readings.place
    # Each reading by its own value: a slip among several at one spot stands for itself.
    own_misfit = readings.own_log_par - (readings.log_par - misfit)[place]
    error = 100.0 * np.abs(np.expm1(-own_misfit))
    odd = np.abs(own_misfit) > np.maximum(DISAGREE_LOG, DISAGREE_DEVIATIONS * deviation)[place]
    disagreeing = tuple(
        Disagreement(
            int(index),
            float(np.exp(readings.own_log_par[index])),
            float(expected[place[index]]),
            float(np.exp(own_misfit[index])),
        )
        for index in np.flatnonzero(odd)
    )
    if not isinstance(model, Mixture):
        method = "a smooth trend through the readings"
    elif rig_known:
        method = "the light of your fixtures, fitted to the readings"
    else:
        method = "the light of a likely set of fixtures, guessed from the readings"
    return FieldSummary(
        method,
        float(np.median(error)),
        expected[place],
        error,
        fitted_parameters(model) if isinstance(model, Mixture) else (),
        disagreeing,
        readings.notes + model_notes(model, rig_known),
    )


def forecast_summary(summary):
    """Return the FieldSummary of a forecast made from a field with this one."""
    return replace(
        summary,
        method="the light of your fixtures after the change, from readings taken before it",
        notes=(*summary.notes, "Predicted, not measured: a new survey will be surer."),
    )


def rescaled_summary(summary):
    """Return the FieldSummary of a map rescaled by fixtures that its readings do not know."""
    return replace(
        summary,
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
    found = []
    for k, fixture in enumerate(rig.fixtures):
        label = fixture.name or f"fixture {k + 1}"
        for block, what, base in (
            (1, "place along the length", fixture.x_cm),
            (2, "place front to back", fixture.y_cm),
            (3, "height above the water", fixture.height_cm),
        ):
            at = block * many + k
            middle = base + mean[at]
            found.append(
                Parameter(f"{label}: {what}", middle, middle - half[at], middle + half[at], "cm")
            )
    found += relative_outputs(fit, mean, covariance)
    at = 4 * many + BEAM
    ends = [mean[at], mean[at] - half[at], mean[at] + half[at]]
    # The beam is fitted as a factor on -ln cos of its half; back to degrees for the keeper.
    beams = [beam_deg(rig.fixtures[0].beam_deg, shift) for shift in ends]
    found.append(Parameter("beam angle", *beams, "degrees"))
    at = 4 * many + ATTENUATION
    ends = [mean[at], mean[at] - half[at], mean[at] + half[at]]
    found.append(
        Parameter("light lost in the water", *(100.0 * np.exp(e) for e in ends), "per metre")
    )
    at = 4 * many + PANE
    ends = [mean[at], mean[at] - half[at], mean[at] + half[at]]
    found.append(
        Parameter("light the panes mirror", *(min(100.0, 100.0 * np.exp(e)) for e in ends), "%")
    )
    return tuple(found)


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
