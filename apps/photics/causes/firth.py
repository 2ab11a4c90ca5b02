"""Firth's logistic regression: finite, nearly unbiased answers where few events separate."""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import expit
from scipy.stats import chi2

from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray

# Chosen, because a fit that takes so many goes nowhere.
MAX_STEPS = 200
# The longest step of a coefficient at once [log odds]. Chosen, because Newton's own may leap far
# out of where its parabola holds.
STEP_MAX = 3.0
# An end of an interval further off than this is no end [log odds]. Chosen, because odds of exp(200)
# mean nothing.
END_MAX = 200.0

# The design with its intercept (n, k + 1), the events (n,) and the numbers (n,) of its rows.
Data = tuple[FloatArray, FloatArray, FloatArray]


@dataclass(frozen=True)
class FirthFit:
    """Coefficients (k,) with 95 % profile intervals, intercept first [log odds].

    Ends that are not `profiled` are nan.
    """

    coefficients: FloatArray
    low: FloatArray
    high: FloatArray
    penalised_log_likelihood: float
    covariance: FloatArray  # (k, k), the inverse of the expected information


def fit_firth(
    x: ArrayLike,
    event: ArrayLike,
    *,
    number: ArrayLike | None = None,
    level: float = 0.95,
    profiled: Collection[int] | None = None,
) -> FirthFit:
    """Return the FirthFit of event (n,) 0/1 on an intercept and x (n, k).

    With `number` (n,) a row stands for so many alike, and `event` counts those that had it.
    `level` of the interval, 0 to 1 [1]. `profiled` are the places of the coefficients whose ends
    are wanted, all by default.

    Firth 1993, Biometrika 80:27; intervals from the penalised likelihood's profile: Heinze &
    Schemper 2002, Stat Med 21:2409. Raises ValueError when a column is a sum of others.
    """
    x, event = np.asarray(x, float), np.asarray(event, float)
    design = np.column_stack([np.ones(len(x)), x])
    numbers = np.ones(len(event)) if number is None else np.asarray(number, float)
    if np.linalg.matrix_rank(design) < design.shape[1]:
        raise ValueError("Two of the columns say the same, so their effects cannot be told apart.")
    free = np.ones(design.shape[1], bool)
    data = design, event, numbers
    best, top = climb(data, np.zeros(len(free)), free)
    target = top - chi2.ppf(level, 1) / 2
    low, high = np.full((2, len(best)), np.nan)
    for j in range(len(best)) if profiled is None else profiled:
        low[j], high[j] = (profile_end(data, best, target, place=j, side=s) for s in (-1, 1))
    p = expit(design @ best)
    information: FloatArray = design.T @ (design * (numbers * p * (1 - p))[:, None])
    covariance = np.linalg.pinv(information)
    return FirthFit(best, low, high, top, covariance.astype(float))


def climb(data: Data, start: FloatArray, free: BoolArray) -> tuple[FloatArray, float]:
    """Return the coefficients that maximise the penalised likelihood, and its value.

    From `start` (k,) [log odds], over the coefficients that are `free` (k,).
    """
    beta = start.copy()
    value, step = firth_step(data, beta, free)
    for _ in range(MAX_STEPS):
        step = step * min(1.0, STEP_MAX / max(np.abs(step).max(), 1e-300))
        trial = beta.copy()
        trial[free] += step
        new, new_step = firth_step(data, trial, free)
        if new < value - 1e-12:
            step = step / 2
            if np.abs(step).max() < 1e-12:
                break
            continue
        beta, value, step = trial, new, new_step
        if np.abs(step).max() < 1e-9:
            break
    return beta, value


def firth_step(data: Data, beta: FloatArray, free: BoolArray) -> tuple[float, FloatArray]:
    """Return the penalised log likelihood and the scoring step of the free coefficients, (free,).

    At `beta` (k,) [log odds]; `free` (k,).
    """
    design, event, number = data
    eta = design @ beta
    p = expit(eta)
    root = np.sqrt(number * p * (1 - p))[:, None] * design
    information = root.T @ root
    leverage = np.einsum("ij,ij->i", root @ np.linalg.pinv(information), root)
    value = (
        np.sum(event * eta - number * np.logaddexp(0, eta)) + np.linalg.slogdet(information)[1] / 2
    )
    score = design[:, free].T @ (event - number * p + leverage * (0.5 - p))
    step = np.linalg.lstsq(information[np.ix_(free, free)], score, rcond=1e-12)[0]
    return float(value), step


def profile_end(data: Data, best: FloatArray, target: float, *, place: int, side: int) -> float:
    """Return where the profile of a coefficient falls to `target`; inf when it does not.

    `best` (k,) are the coefficients at the top [log odds], `place` the one's place, `side` -1 or 1.
    """
    free = np.arange(len(best)) != place

    def above(shift: float) -> float:
        start = best.copy()
        start[place] += side * shift
        return climb(data, start, free)[1] - target

    far = 1.0
    while above(far) > 0:
        far *= 2
        if far > END_MAX:
            return side * np.inf
    return float(best[place] + side * brentq(above, 0.0, far, xtol=1e-7))
