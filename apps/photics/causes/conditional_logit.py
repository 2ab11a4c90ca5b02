"""Conditional logistic regression: each stratum is compared only with itself, exactly."""

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray, LabelArray

# Chosen, because a fit that takes so many goes nowhere.
MAX_STEPS = 60
# The longest step of a coefficient at once [log odds]. Chosen, because Newton's own may leap far
# out of where its parabola holds.
STEP_MAX = 2.0
# A coefficient beyond this is a separation: the data put no bound on it [log odds]. Chosen,
# because odds of exp(15) are more than three million.
SEPARATED = 15.0


@dataclass(frozen=True)
class ConditionalFit:
    """Coefficients (k,) with standard errors (k,) [log odds], and the log likelihoods."""

    coefficients: FloatArray
    standard_errors: FloatArray
    log_likelihood: float
    null_log_likelihood: float  # without the coefficients
    separated: bool
    n_strata: int  # strata that hold events, others than events, and a difference between them


def fit_conditional(
    x: ArrayLike, event: ArrayLike, stratum: ArrayLike, *, spreads: ArrayLike | None = None
) -> ConditionalFit:
    """Return the ConditionalFit of event (n,) 0/1 on x (n, k) or (n,) within stratum (n,).

    The exact conditional likelihood (Breslow & Day 1980, Statistical Methods in Cancer Research 1,
    ch. 7; recursion of Gail, Lubin & Rubinstein 1981, Biometrika 68:703). Strata without contrast
    drop out. `spreads` (k,) [log odds] are normal expectations of the coefficients around none,
    inf for no expectation; log likelihoods are then penalised by them. `separated` says that at
    least one coefficient has no finite estimate.
    """
    x = np.asarray(x, float)
    x = x[:, None] if x.ndim == 1 else x
    strata, level = informative_strata(x, np.asarray(event).astype(bool), np.asarray(stratum))
    weight = np.zeros(x.shape[1]) if spreads is None else 1 / np.asarray(spreads, float) ** 2

    def terms(beta: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        value, gradient, information = conditional_terms(beta, strata)
        penalised = value - float(weight @ beta**2) / 2
        return penalised, gradient - weight * beta, information + np.diag(weight)

    beta = np.zeros(x.shape[1])
    value, gradient, information = terms(beta)
    null = value
    for _ in range(MAX_STEPS if strata else 0):
        step = np.linalg.lstsq(information, gradient, rcond=1e-10)[0]
        step *= min(1.0, STEP_MAX / max(np.abs(step).max(), 1e-300))
        trial = terms(beta + step)
        while trial[0] < value - 1e-9:
            step = step / 2
            trial = terms(beta + step)
        beta, (value, gradient, information) = beta + step, trial
        if np.abs(step).max() < 1e-9 or np.abs(beta).max() > SEPARATED:
            break
    with np.errstate(divide="ignore"):
        variance = np.diag(np.linalg.pinv(information)) if strata else np.full(len(beta), np.inf)
    separated = bool(np.abs(beta).max(initial=0.0) > SEPARATED)
    return ConditionalFit(
        beta, np.sqrt(variance), level + value, level + null, separated, len(strata)
    )


Strata = list[tuple[FloatArray, BoolArray]]  # x (m, k) and event (m,) of each


def informative_strata(
    x: FloatArray, event: BoolArray, stratum: LabelArray
) -> tuple[Strata, float]:
    """Return (x, event) of the strata with events, others and differing x, and the others' level.

    Of x (n, k), event (n,) and the labels stratum (n,). A stratum whose x is all the same adds the
    same log likelihood whatever the coefficients.
    """
    order = np.argsort(stratum, kind="stable")
    kept, level = [], 0.0
    for rows in np.split(order, np.flatnonzero(np.diff(stratum[order])) + 1):
        n, m = len(rows), int(event[rows].sum())
        if not 0 < m < n:
            continue
        if np.ptp(x[rows], axis=0).max(initial=0.0) > 1e-9:
            kept.append((x[rows], event[rows]))
        else:
            level -= gammaln(n + 1) - gammaln(m + 1) - gammaln(n - m + 1)
    return kept, float(level)


def conditional_terms(beta: FloatArray, strata: Strata) -> tuple[float, FloatArray, FloatArray]:
    """Return the log likelihood at beta (k,), its gradient (k,), the information (k, k) [1]."""
    k = len(beta)
    value, gradient, information = 0.0, np.zeros(k), np.zeros((k, k))
    for x, event in strata:
        x = x - x.mean(0)
        score = x @ beta
        top = score.max()
        total, first, second = subset_sums(np.exp(score - top), x, int(event.sum()))
        mean = first / total
        value += score[event].sum() - event.sum() * top - np.log(total)
        gradient += x[event].sum(0) - mean
        information += second / total - np.outer(mean, mean)
    return value, gradient, information


def subset_sums(weight: FloatArray, x: FloatArray, m: int) -> tuple[float, FloatArray, FloatArray]:
    """Return the sum over all m-subsets of their weights, and its first and second moments.

    `weight` (n,) of each row, x (n, k), moments (k,) and (k, k), in any units of x.
    """
    if m == 1:
        part = weight[:, None] * x
        return float(weight.sum()), part.sum(0), part.T @ x
    k = x.shape[1]
    total, first, second = np.zeros(m + 1), np.zeros((m + 1, k)), np.zeros((m + 1, k, k))
    total[0] = 1.0
    for w, row in zip(weight, x, strict=True):
        t, f, s = total[:-1], first[:-1], second[:-1]
        cross = f[:, :, None] * row + row[:, None] * f[:, None, :]
        grown = s + cross + t[:, None, None] * np.outer(row, row)
        second[1:] += w * grown
        first[1:] += w * (f + t[:, None] * row)
        total[1:] += w * t
    return float(total[m]), first[m], second[m]
