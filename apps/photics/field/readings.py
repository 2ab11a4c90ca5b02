"""Readings made fit for fitting: checked, merged and put in an order of their own."""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.estimate import NotEnoughReadings

MIN_READINGS = 4
# Readings closer than this are one spot read twice [cm]: about a sensor head, house rule.
SAME_SPOT_CM = 0.5
# Darkest share of the median reading told apart from black [1]: meters resolve about 1 umol.
FLOOR_SHARE = 0.003
# A burst's spread is the deviation of about this many values; their mean is surer [1], house rule.
BURST_VALUES = 10.0


@dataclass(frozen=True)
class Readings:
    """Merged readings in a fixed order: points (n, 3) [cm], log PAR (n,), extra variance (n,)."""

    points_cm: np.ndarray
    par_umol: np.ndarray
    log_par: np.ndarray
    extra_variance: np.ndarray  # of log PAR, on top of the meter's usual noise
    count: np.ndarray  # readings merged into each
    place: np.ndarray  # for every reading as given: its row here
    own_log_par: np.ndarray  # log PAR of every reading as given
    notes: tuple[str, ...]


def prepare_readings(points_cm, par_umol, spread, tank):
    """Check and merge readings as given: points (n, 3) [cm], PAR (n,), spread (n,) or None.

    Raises ValueError for shapes and values that no meter gives, NotEnoughReadings when fewer than
    four spots are left.
    """
    points, par, spread = checked_arrays(points_cm, par_umol, spread)
    notes = []
    if not np.any(par > 0):
        raise NotEnoughReadings("Every reading is zero, so there is no light to map.")
    key = np.round(points / SAME_SPOT_CM).astype(int)
    _, place, count = np.unique(key, axis=0, return_inverse=True, return_counts=True)
    place = place.ravel()
    if len(count) < MIN_READINGS:
        raise NotEnoughReadings(
            f"A light map needs readings at {MIN_READINGS} different spots or more; "
            f"there {'is' if len(count) == 1 else 'are'} {len(count)}."
        )
    floor = FLOOR_SHARE * float(np.median(par[par > 0]))
    spots = np.stack([mean_by(place, points[:, axis], count) for axis in range(3)], axis=1)
    log_par = np.log(np.maximum(par, floor))
    # The middle, not the mean: of a spot read three times one slip must not have its say.
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
    return Readings(spots, np.exp(merged), merged, extra, count, place, log_par, tuple(notes))


def checked_arrays(points_cm, par_umol, spread):
    """Return the arrays as floats in one fixed order-free form, or raise ValueError."""
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


def mean_by(place, values, count):
    """Return the mean of values (n,) for each group, summed in an order that repeats exactly."""
    order = np.lexsort((values, place))
    return np.bincount(place[order], weights=values[order]) / count


def middle_by(place, values, count):
    """Return the median of values (n,) for each group."""
    ordered = values[np.lexsort((values, place))]
    first = np.cumsum(count) - count
    return (ordered[first + (count - 1) // 2] + ordered[first + count // 2]) / 2.0


def shape_notes(spots, par, tank):
    """Return plain sentences about what the readings' places cannot tell."""
    notes = []
    if np.ptp(spots[:, 2]) < 0.05 * tank.depth_cm:
        notes.append(
            "All readings are at about one depth, so how the light falls off with depth is "
            "assumed, not measured."
        )
    if np.ptp(par) == 0:
        notes.append("All readings are equal.")
    flat = (spots[:, :2] - spots[:, :2].mean(0)) / [tank.length_cm, tank.width_cm]
    widths = np.linalg.svd(flat, compute_uv=False) / np.sqrt(len(flat))
    if widths[0] < 0.02:
        notes.append(
            "All readings are one above the other, so how the light varies across the tank is "
            "assumed, not measured."
        )
    elif widths[1] < 0.02:
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
