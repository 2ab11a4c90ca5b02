"""How sure a share in band is: the light of a plan drawn again and again with all that errs in it.

Outputs, optics, water and hanging put all points of a zone off together, so what a share may come
to is not told by the points one by one.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import RealArray

# Draws, and the seed of their numbers: chosen, because ends of an interval settle to a percent.
DRAWS, SEED = 400, 20
# Ends of a 90 % interval, by definition [1].
LOW_END, HIGH_END = 0.05, 0.95


@dataclass(frozen=True)
class DrawnZone:
    """Share of a zone in band and its mean PAR, each with the ends of its 90 % interval.

    Shares are 0 to 1 [1], PAR is [umol m-2 s-1].
    """

    surely: float
    likely: float  # the middle of the draws
    perhaps: float
    mean_low_umol: float
    mean_high_umol: float


def drawn_zone(
    log_par: RealArray,
    spread: RealArray,
    *,
    low_umol: float,
    high_umol: float,
    common: float,
    wider: float = 1.0,
) -> DrawnZone:
    """Return the DrawnZone of points by draws of a normal law.

    `log_par` (m,) the log PAR of the points [log], `spread` (m, k) what each of k independent
    causes puts it off by [log], `common` what is not explained puts all off by [log]; the band
    from `low_umol` to `high_umol`, and `wider` a factor on all deviations [1].
    """
    causes = np.concatenate([spread, np.full((len(log_par), 1), common)], axis=1)
    half = np.random.default_rng(SEED).standard_normal((DRAWS // 2, causes.shape[1]))
    # Each with its opposite, so that the middle of the draws is the best guess.
    draws = wider * np.concatenate([half, -half])
    par = np.exp(log_par + draws @ causes.T)
    shares = ((par >= low_umol) & (par <= high_umol)).mean(axis=1)
    surely, likely, perhaps = np.quantile(shares, (LOW_END, 0.5, HIGH_END))
    low, high = np.quantile(par.mean(axis=1), (LOW_END, HIGH_END))
    return DrawnZone(float(surely), float(likely), float(perhaps), float(low), float(high))
