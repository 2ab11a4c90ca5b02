"""How the risk of an event goes with the light against the light a coral was used to.

A picture of the data, with a curve through it. It takes visits as independent, so it does not
judge: hidden shocks of a tank are the business of `shock_model`.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from apps.photics.causes.exposure import CHANGE_LOG2
from apps.photics.causes.firth import fit_firth
from apps.photics.causes.partial_pooling import NORMAL_95, partial_pooling
from apps.photics.ground.proportion import Proportion, wilson_proportion

MIN_EVENTS = 3
# Edges of the bins in which visits are counted, in light for 1 that it was used to [1].
EDGES = (0.0, 0.5, 0.71, 0.93, 1.07, 1.41, 2.0, np.inf)
GRID_LOG2 = 0.01  # doses are gathered to this [log2]
CURVE_POINTS = 41
SLOPES = 9  # lines between the ends of an interval of the odds
LOGIT_REACH = 60.0  # a height that no share reaches [log odds]


@dataclass(frozen=True)
class Bin:
    """Visits whose light lay between two ratios to what the coral was used to."""

    low: float
    high: float
    share: Proportion
    middle_log2: float  # mean dose of its visits


@dataclass(frozen=True)
class GroupEffect:
    """Odds per doubling in one group, drawn towards all groups' as its data are few."""

    group: str
    n_visits: int
    n_events: int
    ratio: float
    low: float
    high: float


@dataclass(frozen=True)
class DoseResponse:
    """The risk of a visit along the dose [log2], arrays (p,), with 95 % intervals; the data."""

    dose_log2: np.ndarray
    risk: np.ndarray
    low: np.ndarray
    high: np.ndarray
    ratio: float  # odds per doubling
    ratio_low: float
    ratio_high: float
    bins: tuple[Bin, ...]
    groups: tuple[GroupEffect, ...]


def dose_response(log2_ratio, event, group):
    """Return the DoseResponse of visits (n,), or None where they carry no curve.

    `log2_ratio` is light against what each coral was used to [log2], `event` 0/1, `group` labels.
    None with fewer than 3 events, none without an event, or light that never differed. Firth's
    logistic regression; the groups' slopes by `partial_pooling`.
    """
    dose, event = np.asarray(log2_ratio, float), np.asarray(event, float)
    group = np.asarray(group)
    if event.sum() < MIN_EVENTS or event.all() or np.ptp(dose) < CHANGE_LOG2:
        return None
    fit = gathered_fit(dose, event, profiled=[1])
    grid = np.linspace(dose.min(), dose.max(), CURVE_POINTS)
    design = np.column_stack([np.ones_like(grid), grid])
    eta = design @ fit.coefficients
    reach = NORMAL_95 * np.sqrt(np.einsum("ij,jk,ik->i", design, fit.covariance, design))
    slope = fit.coefficients[1], fit.low[1], fit.high[1]
    return DoseResponse(
        grid,
        *(0.5 * (1 + np.tanh(v / 2)) for v in (eta, eta - reach, eta + reach)),
        *(float(np.exp(v)) for v in slope),
        bins=bins_of(dose, event),
        groups=group_effects(dose, event, group),
    )


def anchored_response(bins, *, ratio, low, high):
    """Return the DoseResponse that odds known from elsewhere draw through counted shares, or None.

    `bins` are Bins of visits; `ratio` with `low` and `high` [1] the odds per doubling and their
    interval. The line lies where it gives as many
    events as were counted; the band is what the interval of the odds leaves, with that height
    taken as known. None with fewer than two bins, no event or nothing but events. House rule: the
    odds come from comparisons that tell no height, the height from counts.
    """
    number = np.array([b.share.number for b in bins])
    events = sum(b.share.count for b in bins)
    if len(bins) < 2 or not 0 < events < number.sum():
        return None
    dose = np.array([b.middle_log2 for b in bins])
    grid = np.linspace(dose.min(), dose.max(), CURVE_POINTS)
    slopes = np.log([ratio, *np.geomspace(low, high, SLOPES)])
    lines = np.array([logistic(grid, height_of(dose, number, events, b), b) for b in slopes])
    return DoseResponse(
        *(grid, lines[0], lines.min(0), lines.max(0), ratio, low, high), bins=tuple(bins), groups=()
    )


def height_of(dose, number, events, slope):
    """Return the log odds at dose 0 with which `number` visits at doses give `events` of them."""
    reach = LOGIT_REACH + np.abs(slope * dose).max()
    return brentq(lambda a: number @ logistic(dose, a, slope) - events, -reach, reach)


def logistic(dose, height, slope):
    """Return the risk at doses [log2] for a height and a slope [log odds]."""
    return 0.5 * (1 + np.tanh((height + slope * dose) / 2))


def gathered_fit(dose, event, *, profiled):
    """Return the FirthFit of visits whose doses are alike, taken together."""
    doses, row = np.unique(np.round(dose / GRID_LOG2) * GRID_LOG2, return_inverse=True)
    counts = np.bincount(row, event)
    return fit_firth(doses[:, None], counts, number=np.bincount(row), profiled=profiled)


def bins_of(dose, event):
    """Return the Bins that hold a visit, from the strongest fall up."""
    place = np.searchsorted(np.log2(EDGES[1:-1]), dose, side="right")
    found = []
    for k in np.unique(place):
        here = place == k
        share = wilson_proportion(int(event[here].sum()), int(here.sum()))
        found.append(Bin(EDGES[k], EDGES[k + 1], share, float(dose[here].mean())))
    return tuple(found)


def group_effects(dose, event, group):
    """Return the GroupEffect of each group whose light differed and that had an event, by name."""
    names, rows, fits = [], [], []
    for name in np.unique(group):
        here = group == name
        if np.ptp(dose[here]) < CHANGE_LOG2 or not 0 < event[here].sum() < here.sum():
            continue
        names.append(str(name))
        rows.append(here)
        fits.append(gathered_fit(dose[here], event[here], profiled=[]))
    if not fits:
        return ()
    pooled = partial_pooling(
        [fit.coefficients[1] for fit in fits], [np.sqrt(fit.covariance[1, 1]) for fit in fits]
    )
    return tuple(
        GroupEffect(name, int(here.sum()), int(event[here].sum()), *map(float, ends))
        for name, here, *ends in zip(
            names, rows, *np.exp([pooled.effect, pooled.low, pooled.high]), strict=True
        )
    )
