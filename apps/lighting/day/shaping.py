"""What the shaping buttons of the day curve page do to the points in the form."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.core.exceptions import ValidationError

from apps.common.units import percent_words
from apps.lighting.spots import LitSpot
from apps.photics.day.change import mirrored, scaled_to_dli, shifted, stretched
from apps.photics.day.curve import MINUTES_A_DAY, DayCurve, DayCurveError, unfold

# Clock minutes and percent of each point, as a row keeps them; what a ShapeForm cleaned.
Points = list[list[float]]
Entered = Mapping[str, Any]

SHAPES = ("mirror", "shift", "stretch", "scale")


def shaped(
    points: Points, *, shape: str, entered: Entered, spots: Sequence[LitSpot]
) -> tuple[Points, str]:
    """Return (points, sentence) after one of SHAPES.

    `points` are [[minute, percent], ...]; `entered` the cleaned data of a ShapeForm. Raises
    ValidationError, for the field that lacks what the shape needs where there is one.
    """
    try:
        unfolded = unfold([(minute, level / 100.0) for minute, level in points])
        curve = DayCurve(unfolded)
        if shape == "mirror":
            return folded(mirrored(curve)), "Mirrored: the evening is the morning now."
        if shape == "shift":
            minutes = needed(entered, "shift", "Say by how many minutes; below zero is earlier.")
            return folded(shifted(curve, minutes=minutes)), f"Moved by {minutes:g} minutes."
        if shape == "stretch":
            percent = needed(entered, "stretch", "Say how long the day becomes; 100 % is as now.")
            points = folded(stretched(curve, factor=percent / 100))
            long = percent_words(percent, "g")
            return points, f"Now {long} as long, about the same middle of the day."
        return scaled(curve, entered, spots)
    except DayCurveError as problem:
        raise ValidationError(list(problem.problems)) from None


def scaled(curve: DayCurve, entered: Entered, spots: Sequence[LitSpot]) -> tuple[Points, str]:
    """Return the points scaled to the wanted daily light, and what came of it."""
    wanted = needed(entered, "wanted_dli", "Say which daily light you want.")
    place = ""
    if entered["spot"]:
        spot = spots[int(entered["spot"])]
        par, place = spot.par_full_umol, f" at {spot.name}"
    else:
        par = needed(entered, "at_par", "Say the PAR of the spot, or choose one.")
    result = scaled_to_dli(curve, par_umol=par, wanted_dli_mol=wanted)
    return folded(result.curve), result.words or (
        f"Every level times {result.factor:.3g}: {result.dli_mol:.3g}\u00a0mol/m² a day{place}, "
        f"where full level gives PAR {par:.0f}."
    )


def needed(entered: Entered, name: str, sentence: str) -> float:
    """Return a number that a shape cannot do without."""
    value: float | None = entered.get(name)
    if value is None:
        raise ValidationError({name: sentence})
    return value


def folded(curve: DayCurve) -> Points:
    """Return the points of a photics DayCurve as a row keeps them: clock minutes, percent."""
    return [
        [
            round(minute - MINUTES_A_DAY if minute > MINUTES_A_DAY else minute, 6),
            round(100 * level, 6),
        ]
        for minute, level in curve.points
    ]
