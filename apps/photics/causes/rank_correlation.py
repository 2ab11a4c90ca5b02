"""Do two measures rise together? By ranks, exactly where the data are few."""

import itertools
from dataclasses import dataclass

import numpy as np
from scipy.stats import rankdata, spearmanr

# All orders are counted up to this many pairs (362,880), beyond it Student's t is near enough.
EXACT_MAX = 9


@dataclass(frozen=True)
class RankCorrelation:
    rho: float
    p_value: float  # two-sided
    exact: bool


def rank_correlation(x, y):
    """Return Spearman's RankCorrelation of x (n,) and y (n,), ties by mid-ranks.

    Up to EXACT_MAX pairs the p-value counts every order of one against the other; beyond, it is
    that of Student's t. Raises ValueError for fewer than three pairs or a measure that is all the
    same. Spearman 1904, Am J Psychol 15:72.

    >>> rank_correlation([1, 2, 3, 4], [10, 20, 40, 30])
    RankCorrelation(rho=0.8, p_value=0.3333333333333333, exact=True)
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    if len(x) < 3 or len(x) != len(y) or np.ptp(x) == 0 or np.ptp(y) == 0:
        raise ValueError("A correlation needs three pairs, and measures that differ.")
    rho, p = spearmanr(x, y)
    if len(x) > EXACT_MAX:
        return RankCorrelation(float(rho), float(p), exact=False)
    one, two = rankdata(x) - (len(x) + 1) / 2, rankdata(y) - (len(x) + 1) / 2
    sums = np.array(list(itertools.permutations(two))) @ one
    seen = abs(one @ two)
    p = np.mean(np.abs(sums) >= seen - 1e-9)
    return RankCorrelation(round(float(rho), 12), float(p), exact=True)
