"""Curves of a response to light: a risk along doublings, a response along doses, groups together.

Pictures of the data, each with a curve through it. They take visits as independent, so they do
not judge: hidden shocks of a tank are the business of `shock_model`.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, least_squares
from scipy.special import expit

from apps.photics.causes.counts_and_ranks import Proportion, wilson_proportion
from apps.photics.causes.exposure import CHANGE_LOG2
from apps.photics.causes.firth import FirthFit, fit_firth
from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray, LabelArray

# Chosen, because with fewer events a curve through them is a line through noise.
MIN_EVENTS = 3
# Edges of the bins in which visits are counted, in light for 1 that it was used to [1]. Chosen,
# because half a doubling is what a keeper sets, and 0.93 to 1.07 is CHANGE_LOG2: no change.
EDGES = (0.0, 0.5, 0.71, 0.93, 1.07, 1.41, 2.0, np.inf)
# Doses are gathered to this [log2]. Chosen, because it is a tenth of what counts as a change.
GRID_LOG2 = 0.01
# Chosen, because a curve drawn through so many points looks smooth.
CURVE_POINTS = 41
# Lines between the ends of an interval of the odds. Chosen, because more do not widen the band.
SLOPES = 9
# A height that no proportion reaches [log odds]. Chosen, because exp(-60) is nothing to a count.
LOGIT_MAX = 60.0
# 95 % of a normal distribution lies within so many deviations [1] by definition.
NORMAL_95 = 1.959964
# A straightened exponent is held within this [1]. Chosen, because exp(710) is no double any more.
EXPONENT_MAX = 700.0


@dataclass(frozen=True)
class Bin:
    """Visits whose light lay between two ratios to what the coral was used to [1]."""

    low: float
    high: float
    share: Proportion
    middle_log2: float  # mean dose of its visits


@dataclass(frozen=True)
class GroupEffect:
    """Odds per doubling in one group [1], drawn towards all groups' as its data are few."""

    group: str
    n_visits: int
    n_events: int
    ratio: float
    low: float
    high: float


@dataclass(frozen=True)
class DoseResponse:
    """The risk of a visit [1] along the dose [log2], arrays (p,), with 95 % intervals; the data."""

    dose_log2: FloatArray
    risk: FloatArray
    low: FloatArray
    high: FloatArray
    ratio: float  # odds per doubling [1]
    ratio_low: float
    ratio_high: float
    bins: tuple[Bin, ...]
    groups: tuple[GroupEffect, ...]


def dose_response(log2_ratio: ArrayLike, event: ArrayLike, group: ArrayLike) -> DoseResponse | None:
    """Return the DoseResponse of visits (n,), or None where they carry no curve.

    `log2_ratio` (n,) is light against what each coral was used to [log2], `event` (n,) 0/1,
    `group` (n,) labels. None with fewer than 3 events, none without an event, or light that never
    differed. Firth's logistic regression (`firth`); the groups' slopes by `partial_pooling`.
    """
    dose, visit_event = np.asarray(log2_ratio, float), np.asarray(event, float)
    groups = np.asarray(group)
    if visit_event.sum() < MIN_EVENTS or visit_event.all() or np.ptp(dose) < CHANGE_LOG2:
        return None
    fit = gathered_fit(dose, visit_event, profiled=[1])
    grid = np.linspace(dose.min(), dose.max(), CURVE_POINTS)
    design = np.column_stack([np.ones_like(grid), grid])
    eta = design @ fit.coefficients
    half_width = NORMAL_95 * np.sqrt(np.einsum("ij,jk,ik->i", design, fit.covariance, design))
    return DoseResponse(
        dose_log2=grid,
        risk=expit(eta),
        low=expit(eta - half_width),
        high=expit(eta + half_width),
        ratio=float(np.exp(fit.coefficients[1])),
        ratio_low=float(np.exp(fit.low[1])),
        ratio_high=float(np.exp(fit.high[1])),
        bins=bins_of(dose, visit_event),
        groups=group_effects(dose, visit_event, groups),
    )


def anchored_response(
    bins: Sequence[Bin], *, ratio: float, low: float, high: float
) -> DoseResponse | None:
    """Return the DoseResponse that odds known from elsewhere draw through counts, or None.

    `bins` are Bins of visits; `ratio` with `low` and `high` [1] the odds per doubling and their
    interval. The line lies where it gives as many events as were counted; the band is what the
    interval of the odds leaves, with that height taken as known. None with fewer than two bins, no
    event or nothing but events. Chosen, because the odds come from comparisons that show no
    height, the height from counts.
    """
    number = np.array([b.share.number for b in bins])
    events = sum(b.share.count for b in bins)
    if len(bins) < 2 or not 0 < events < number.sum():
        return None
    dose = np.array([b.middle_log2 for b in bins])
    grid = np.linspace(dose.min(), dose.max(), CURVE_POINTS)
    slopes = np.log([ratio, *np.geomspace(low, high, SLOPES)])
    lines = np.array([expit(height_of(dose, number, events, b) + b * grid) for b in slopes])
    return DoseResponse(
        *(grid, lines[0], lines.min(0), lines.max(0), ratio, low, high), bins=tuple(bins), groups=()
    )


def height_of(dose: FloatArray, number: FloatArray, events: float, slope: float) -> float:
    """Return the log odds at dose 0 with which visits at doses give so many events.

    `dose` (b,) [log2], `number` (b,) of visits at each, `slope` [log odds per doubling].
    """
    far = LOGIT_MAX + np.abs(slope * dose).max()
    return float(brentq(lambda a: number @ expit(a + slope * dose) - events, -far, far))


def gathered_fit(dose: FloatArray, event: FloatArray, *, profiled: Collection[int]) -> FirthFit:
    """Return the FirthFit of visits, `dose` (n,) [log2], `event` (n,) 0/1, like doses together.

    `profiled` are the coefficients whose ends are wanted, as for `fit_firth`.
    """
    doses, row = np.unique(np.round(dose / GRID_LOG2) * GRID_LOG2, return_inverse=True)
    counts = np.bincount(row, event)
    return fit_firth(doses[:, None], counts, number=np.bincount(row), profiled=profiled)


def bins_of(dose: FloatArray, event: FloatArray) -> tuple[Bin, ...]:
    """Return the Bins that hold a visit, from the strongest fall up.

    `dose` (n,) [log2], `event` (n,) 0/1.
    """
    place = np.searchsorted(np.log2(EDGES[1:-1]), dose, side="right")
    bins = []
    for k in np.unique(place):
        here = place == k
        share = wilson_proportion(int(event[here].sum()), int(here.sum()))
        bins.append(Bin(EDGES[k], EDGES[k + 1], share, float(dose[here].mean())))
    return tuple(bins)


def group_effects(
    dose: FloatArray, event: FloatArray, group: LabelArray
) -> tuple[GroupEffect, ...]:
    """Return the GroupEffect of each group whose light differed and that had an event, by name.

    `dose` (n,) [log2], `event` (n,) 0/1, `group` (n,) labels.
    """
    names: list[str] = []
    rows: list[BoolArray] = []
    fits: list[FirthFit] = []
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


# --- A response along doses, by the log-logistic curve ---------------------------------------
@dataclass(frozen=True)
class LogLogistic:
    """response = low + (high - low) / (1 + (dose / half)^slope), with standard errors (4,).

    Doses and responses in any unit each; `slope` [1].
    """

    slope: float
    low: float  # response at an endless dose
    high: float  # response without a dose
    half: float  # dose at half of the way
    standard_errors: FloatArray  # (4,), in the order above
    residual_error: float

    def at(self, dose: ArrayLike) -> FloatArray:
        """Return the response at doses at or above zero, arrays of one shape, units as fitted."""
        parameters = [self.slope, self.low, self.high, self.half]
        return log_logistic(parameters, np.asarray(dose, float))


def fit_log_logistic(
    dose: ArrayLike, response: ArrayLike, *, weight: ArrayLike | None = None
) -> LogLogistic:
    """Return the LogLogistic through responses (n,) at doses (n,) at or above zero, any units.

    Least squares, `weight` (n,) by default alike; a slope below zero is a response that rises.
    Errors are those of the straightened curve. Raises ValueError for fewer than five points or
    doses all alike. Ritz et al. 2015, PLoS ONE 10:e0146021 (LL.4).
    """
    dose, response = np.asarray(dose, float), np.asarray(response, float)
    if len(dose) < 5 or len(np.unique(dose)) < 4 or np.any(dose < 0):
        raise ValueError("Four unknowns need five points at four doses or more.")
    root = np.sqrt(np.ones(len(dose)) if weight is None else np.asarray(weight, float))

    def misses(p: FloatArray) -> FloatArray:
        off: FloatArray = root * (log_logistic([*p[:3], np.exp(p[3])], dose) - response)
        return off

    fit = least_squares(
        misses,
        first_guess(dose, response),
        x_scale=[1.0, *(2 * [max(np.ptp(response), 1e-9)]), 1.0],
        xtol=1e-14, ftol=1e-14, gtol=1e-14,
    )  # fmt: skip
    left = len(dose) - 4
    variance = 2 * fit.cost / left
    jacobian = np.asarray(fit.jac, float)
    errors = np.sqrt(np.diag(np.linalg.pinv(jacobian.T @ jacobian)) * variance)
    slope, low, high = (float(part) for part in fit.x[:3])
    half = float(np.exp(fit.x[3]))
    errors[3] *= half
    return LogLogistic(slope, low, high, half, errors, float(np.sqrt(variance)))


def first_guess(dose: FloatArray, response: FloatArray) -> list[float]:
    """Return (slope, low, high, log half) to start from; `dose`, `response` (n,), any units."""
    middle = np.median(dose)
    falls = response[dose <= middle].mean() >= response[dose >= middle].mean()
    ends = (response.min(), response.max()) if falls else (response.max(), response.min())
    return [1.0, *ends, np.log(np.exp(np.mean(np.log(dose[dose > 0]))))]


def log_logistic(parameters: Sequence[float], dose: FloatArray) -> FloatArray:
    """Return the response of (slope, low, high, half) at doses at or above zero.

    Arrays of one shape, any units, as in `LogLogistic`.
    """
    slope, low, high, half = parameters
    with np.errstate(divide="ignore"):
        exponent = np.clip(slope * (np.log(dose) - np.log(half)), -EXPONENT_MAX, EXPONENT_MAX)
    response: FloatArray = low + (high - low) / (1 + np.exp(exponent))
    return response


# --- Like effects of several groups ----------------------------------------------------------
@dataclass(frozen=True)
class Pooled:
    """The common effect, and each group's own drawn towards it; arrays (g,), in one unit."""

    middle: float
    middle_error: float
    spread: float  # standard deviation of the groups' true effects
    effect: FloatArray
    error: FloatArray

    @property
    def low(self) -> FloatArray:
        """The lower ends of the 95 % intervals (g,), in that one unit."""
        return self.effect - NORMAL_95 * self.error

    @property
    def high(self) -> FloatArray:
        """The upper ends of the 95 % intervals (g,), in that one unit."""
        return self.effect + NORMAL_95 * self.error


def partial_pooling(effect: ArrayLike, error: ArrayLike) -> Pooled:
    """Return the Pooled of groups' effects (g,) with standard errors (g,) above zero, any one unit.

    The spread between groups is that of DerSimonian & Laird 1986, Control Clin Trials 7:177; each
    group is then the mean of its own effect and the middle, weighed by what each is worth (Morris
    1983, JASA 78:47, without its correction for few groups). Raises ValueError without a group.

    >>> pooled = partial_pooling([1.0, 3.0], [0.1, 2.0])
    >>> pooled.effect.round(2).tolist(), pooled.spread
    ([1.0, 1.0], 0.0)
    """
    effect, error = np.asarray(effect, float), np.asarray(error, float)
    if not len(effect) or np.any(error <= 0) or not np.all(np.isfinite([effect, error])):
        raise ValueError("Pooling needs an effect and an error above zero of each group.")
    weight = 1 / error**2
    fixed = weight @ effect / weight.sum()
    excess = weight @ (effect - fixed) ** 2 - (len(effect) - 1)
    scale = weight.sum() - np.sum(weight**2) / weight.sum()
    spread2 = max(0.0, excess / scale) if scale > 0 else 0.0
    own = 1 / (error**2 + spread2)
    middle, middle_error = own @ effect / own.sum(), 1 / np.sqrt(own.sum())
    pull = error**2 / (error**2 + spread2)  # towards the middle
    return Pooled(
        middle=float(middle),
        middle_error=float(middle_error),
        spread=float(np.sqrt(spread2)),
        effect=(1 - pull) * effect + pull * middle,
        error=np.sqrt((1 - pull) * error**2 + (pull * middle_error) ** 2),
    )
