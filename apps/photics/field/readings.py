"""Readings made fit for fitting: checked, merged, those of one rig pooled, in their own order."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import ArrayLike, FloatArray, IntArray
from apps.photics.ground.estimate import NotEnoughReadings
from apps.photics.ground.scene import Fixture, Tank

# Different spots a map needs at least: our own choice.
MIN_READINGS = 4
# Readings closer than this are one spot read twice [cm]: chosen as about a sensor's head.
SAME_SPOT_CM = 0.5
# Darkest part of the median reading that is set apart from black [1]: chosen, because meters
# resolve about 1 umol.
FLOOR_PROPORTION = 0.003
# A burst's spread is the deviation of about this many values; their mean is surer [1]. Our own
# choice.
BURST_VALUES = 10.0
# Readings within this part of the tank's depth are at one depth [1], and spots whose spread across
# the tank is within this part of its sides stand above each other, or on one line [1]: our own
# choice.
ONE_DEPTH, ONE_LINE = 0.05, 0.02


@dataclass(frozen=True)
class Readings:
    """Merged readings in a fixed order: points (n, 3) [cm], log PAR (n,), extra variance (n,)."""

    points_cm: FloatArray
    par_umol: FloatArray
    log_par: FloatArray  # (n,) [log umol m-2 s-1]
    extra_variance: FloatArray  # (n,) of log PAR, on top of the meter's usual noise [1]
    count: IntArray  # (n,) readings merged into each
    place: IntArray  # (given,) for every reading as given: its row here
    own_log_par: FloatArray  # (given,) of every reading as given [log umol m-2 s-1]
    scale_basis: FloatArray  # (n, q) how far a survey's scale may shift it, a column each [log]
    notes: tuple[str, ...]


def prepare_readings(
    points_cm: ArrayLike,
    par_umol: ArrayLike,
    spread: ArrayLike | None,
    tank: Tank,
    *,
    least: int = MIN_READINGS,
    surveys: IntArray | None = None,
    scales: ArrayLike = (0.0,),
) -> Readings:
    """Check and merge readings as given, and return them as Readings.

    points_cm (n, 3), par_umol (n,), spread (n,) or None [umol m-2 s-1]; surveys (n,): the number of
    each one's survey, counted from 0; scales (s,): how far the scale of each survey may be off from
    the others' [log]. Raises ValueError for shapes and values that no meter gives,
    NotEnoughReadings when fewer than `least` spots are left.
    """
    points, par, spread = checked_arrays(points_cm, par_umol, spread)
    if not np.any(par > 0):
        raise NotEnoughReadings("Every reading is zero, so there is no light to map.")
    surveys = np.zeros(len(par), int) if surveys is None else np.asarray(surveys, int)
    scales = np.asarray(scales, float)
    place, count = spots_of(points, surveys, scales)
    if len(count) < least:
        raise NotEnoughReadings(
            f"A light map needs readings at {least} different spots or more; "
            f"there {'is' if len(count) == 1 else 'are'} {len(count)}."
        )
    floor = FLOOR_PROPORTION * float(np.median(par[par > 0]))
    notes = []
    spots = np.stack([mean_by(place, points[:, axis], count) for axis in range(3)], axis=1)
    log_par = np.log(np.maximum(par, floor))
    # The middle, not the mean: of a spot read three times one slip must not count.
    merged = middle_by(place, log_par, count)
    relative = spread / np.maximum(par, floor)
    extra = mean_by(place, relative**2 / BURST_VALUES, count) / count
    extra = extra + (floor / np.exp(merged)) ** 2
    if len(count) < len(par):
        notes.append(
            f"{len(par) - len(count)} readings share a spot with another; each such spot counts "
            "once, with the middle one of its readings, or halfway between two."
        )
    notes += shape_notes(spots, par, tank)
    basis = scale_basis(surveys, scales, place, len(count))
    return Readings(
        spots, np.exp(merged), merged, extra, count, place, log_par, basis, tuple(notes)
    )


def spots_of(
    points_cm: FloatArray, surveys: IntArray, scales: FloatArray
) -> tuple[IntArray, IntArray]:
    """Return the spot of each reading, (n,), and how many readings each spot has, (k,).

    points_cm (n, 3), surveys (n,) and scales (s,) [log] as `prepare_readings` takes them.
    """
    # A spot read by two surveys is one spot, unless their scales may differ.
    apart = np.where(scales > 0, np.arange(len(scales)) + 1, 0)[surveys]
    key = np.column_stack([np.round(points_cm / SAME_SPOT_CM).astype(int), apart])
    _, place, count = np.unique(key, axis=0, return_inverse=True, return_counts=True)
    return place.ravel(), count


def scale_basis(surveys: IntArray, scales: FloatArray, place: IntArray, spots: int) -> FloatArray:
    """Return how far a survey's scale may shift each merged reading, (k, q) [log].

    surveys (n,): the survey of each reading; scales (s,): how far each survey's may be off [log];
    place (n,): the spot of each reading, of so many `spots`.
    """
    own = np.flatnonzero(scales > 0)
    basis = np.zeros((spots, len(own)))
    for column, number in enumerate(own):
        basis[place[surveys == number], column] = scales[number]
    return basis


def checked_arrays(
    points_cm: ArrayLike, par_umol: ArrayLike, spread: ArrayLike | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the arrays as floats in one fixed order-free form, or raise ValueError.

    points_cm (n, 3) [cm], par_umol (n,) and spread (n,), zero where unknown [umol m-2 s-1].
    """
    points = np.asarray(points_cm, float)
    par = np.asarray(par_umol, float)
    if points.ndim != 2 or points.shape[1:] != (3,) or par.shape != points.shape[:1]:
        raise ValueError("Readings need one x, y, depth and one PAR value each.")
    spread = np.zeros(len(par)) if spread is None else np.asarray(spread, float)
    if spread.shape != par.shape:
        raise ValueError("The spread needs one value per reading.")
    spread = np.where(np.isfinite(spread), spread, 0.0)
    if not (np.isfinite(points).all() and np.isfinite(par).all()):
        raise ValueError("Every reading needs a finite place and a finite PAR value.")
    if (par < 0).any() or (spread < 0).any():
        raise ValueError("PAR and its spread cannot be negative.")
    return points, par, spread


def mean_by(place: IntArray, values: FloatArray, count: IntArray) -> FloatArray:
    """Return the mean of values (n,) for each group, summed in an order that repeats exactly.

    place (n,): the group of each, of count (k,) values; returned are (k,), in one unit.
    """
    order = np.lexsort((values, place))
    mean: FloatArray = np.bincount(place[order], weights=values[order]) / count
    return mean


def middle_by(place: IntArray, values: FloatArray, count: IntArray) -> FloatArray:
    """Return the median of values (n,) for each group, (k,), in one unit; exact.

    place (n,): the group of each, of count (k,) values.
    """
    ordered = values[np.lexsort((values, place))]
    first = np.cumsum(count) - count
    middle: FloatArray = (ordered[first + (count - 1) // 2] + ordered[first + count // 2]) / 2.0
    return middle


def shape_notes(spots: FloatArray, par: FloatArray, tank: Tank) -> list[str]:
    """Return plain sentences about what the readings' places leave open.

    spots (k, 3) [cm], par (n,) [umol m-2 s-1].
    """
    notes = []
    if np.ptp(spots[:, 2]) < ONE_DEPTH * tank.depth_cm:
        notes.append(
            "All readings are at about one depth, so how the light falls off with depth is "
            "assumed, not measured."
        )
    if np.ptp(par) == 0:
        notes.append("All readings are equal.")
    flat = (spots[:, :2] - spots[:, :2].mean(0)) / [tank.length_cm, tank.width_cm]
    widths = np.linalg.svd(flat, compute_uv=False) / np.sqrt(len(flat))
    if widths[0] < ONE_LINE:
        notes.append(
            "All readings are one above the other, so how the light varies across the tank is "
            "assumed, not measured."
        )
    elif widths[1] < ONE_LINE:
        notes.append(
            "All readings are on one line seen from above, so how the light varies to its sides "
            "is assumed, not measured."
        )
    outside = (spots < -SAME_SPOT_CM).any(1) | (
        spots > np.array([tank.length_cm, tank.width_cm, tank.depth_cm]) + SAME_SPOT_CM
    ).any(1)
    if outside.any():
        notes.append(
            f"{int(outside.sum())} readings lie outside the tank's box; check their place."
        )
    return notes


@dataclass(frozen=True)
class SurveyReadings:
    """Readings of one day: points (n, 3) [cm], PAR (n,) and its spread [umol m-2 s-1].

    `fixtures`, `same_as` and `deviations` state the rig of that day by the one the field is fitted
    under, as `LightField.forecast` takes them; fixtures None: the same rig. `scale_deviation`: how
    far its scale may be from the others' [log], for another meter or dust on the glass.
    """

    points_cm: ArrayLike
    par_umol: ArrayLike
    spread: ArrayLike | None = None
    fixtures: tuple[Fixture, ...] | None = None
    same_as: tuple[int | None, ...] | None = None
    deviations: tuple[float, ...] | None = None
    scale_deviation: float = 0.0

    @property
    def count(self) -> int:
        """Return how many readings there are."""
        return len(np.atleast_1d(np.asarray(self.par_umol)))

    def prepared(self, tank: Tank) -> Readings:
        """Return the Readings of this survey alone, one or more of them."""
        return prepare_readings(self.points_cm, self.par_umol, self.spread, tank, least=1)


@dataclass(frozen=True)
class Pooled:
    """The Readings of several surveys under one rig, and the survey of each as given, (n,)."""

    readings: Readings
    surveys: IntArray


def pool(surveys: Sequence[SurveyReadings], tank: Tank, *, least: int = MIN_READINGS) -> Pooled:
    """Return the Pooled surveys of one rig; errors are those of `prepare_readings`.

    least: how many different spots they need [1].
    """
    if len(surveys) == 1:
        (one,) = surveys
        readings = prepare_readings(
            one.points_cm,
            one.par_umol,
            one.spread,
            tank,
            least=least,
            scales=(one.scale_deviation,),
        )
        return Pooled(readings, np.zeros(one.count, int))
    numbers = np.repeat(np.arange(len(surveys)), [survey.count for survey in surveys])
    readings = prepare_readings(
        np.concatenate([np.asarray(s.points_cm, float).reshape(-1, 3) for s in surveys]),
        np.concatenate([np.asarray(s.par_umol, float).ravel() for s in surveys]),
        np.concatenate([spread_of(s) for s in surveys]),
        tank,
        least=least,
        surveys=numbers,
        scales=[survey.scale_deviation for survey in surveys],
    )
    return Pooled(readings, numbers)


def spread_of(survey: SurveyReadings) -> FloatArray:
    """Return the spread of a survey's readings, nan where none is known, (n,) [umol m-2 s-1]."""
    if survey.spread is None:
        return np.full(survey.count, np.nan)
    return np.asarray(survey.spread, float)
