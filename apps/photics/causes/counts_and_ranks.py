"""What few data can show: proportions, two groups by ranks, two measures by ranks, many looks.

Counted exactly where the data are few; no shape of a distribution is assumed.
"""

import itertools
from dataclasses import dataclass

import numpy as np
from scipy.stats import (
    binomtest,
    false_discovery_control,
    fisher_exact,
    mannwhitneyu,
    rankdata,
    spearmanr,
)

from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray, IntArray

# Values up to which every arrangement of two groups is counted; beyond, the normal approximation.
# Chosen, because counting is quick up to here, and from here on the two agree to about 0.001.
EXACT_MAX = 60
# Pairs of two measures up to which all orders are counted. Chosen, because nine have 362,880, and
# beyond Student's t is near enough.
EXACT_PAIRS_MAX = 9


# --- Proportions of few ----------------------------------------------------------------------
@dataclass(frozen=True)
class Proportion:
    """A count out of a number, with the interval of the proportion behind it [1]."""

    count: int
    number: int
    low: float
    high: float

    @property
    def value(self) -> float:
        """The count over the number [1]."""
        return self.count / self.number


def wilson_proportion(count: int, number: int, *, level: float = 0.95) -> Proportion:
    """Return the Proportion of `count` out of `number`, with Wilson's score interval.

    `level` of the interval, 0 to 1 [1]. Holds down to none or all out of few. Raises ValueError
    unless 0 <= count <= number and number > 0. Wilson 1927, JASA 22:209; Newcombe 1998, Stat Med
    17:857, method 3.

    >>> none = wilson_proportion(0, 20)
    >>> round(none.low, 4), round(none.high, 4)
    (0.0, 0.1611)
    """
    if not 0 <= count <= number or number <= 0:
        raise ValueError("A share is a count out of a number above zero.")
    count, number = int(count), int(number)
    ends = binomtest(count, number).proportion_ci(level, method="wilson")
    # Rounding may leave an end a hair away from none or all.
    low = 0.0 if count == 0 else float(ends.low)
    high = 1.0 if count == number else float(ends.high)
    return Proportion(count, number, low, high)


def proportion_among(event: FloatArray, chosen: BoolArray) -> Proportion | None:
    """Return the Proportion of the `chosen` (n,) that had the `event` (n,) 0/1; None of none."""
    number = int(chosen.sum())
    return wilson_proportion(int(event[chosen].sum()), number) if number else None


def more_often(first: Proportion, second: Proportion) -> float:
    """Return the chance that as many or more of the `first` would have had it by chance [1].

    Were there no difference from the `second`, with both numbers and the sum of the counts as they
    are: Fisher's exact test, one-sided (Fisher 1935, J R Stat Soc 98:39). Holds for any numbers.

    >>> round(more_often(wilson_proportion(3, 4), wilson_proportion(1, 4)), 4)
    0.2429
    """
    table = np.array([[part.count, part.number - part.count] for part in (first, second)])
    return float(fisher_exact(table, alternative="greater").pvalue)


# --- Many looks at once ----------------------------------------------------------------------
def benjamini_hochberg(p_values: ArrayLike) -> FloatArray:
    """Return the q value of each p value, array of the same shape; missing ones stay missing.

    `p_values` of any shape [1], nan where one is missing. A finding with q at or below 0.05 belongs
    to a list of which at most 5 % are expected to be chance, for p values that do not depend on
    each other or rise together. Raises ValueError outside 0 to 1. Benjamini & Hochberg 1995, J R
    Stat Soc B 57:289-300.

    >>> benjamini_hochberg([0.01, 0.02, 0.9]).round(3).tolist()
    [0.03, 0.03, 0.9]
    """
    p = np.asarray(p_values, float)
    if np.any((p < 0) | (p > 1)):
        raise ValueError("A p value lies between 0 and 1.")
    q = np.full(p.shape, np.nan)
    known = np.isfinite(p)
    if known.any():
        q[known] = false_discovery_control(p[known], method="bh")
    return q


# --- Two measures ----------------------------------------------------------------------------
@dataclass(frozen=True)
class RankCorrelation:
    """Whether two measures rise together: Spearman's rho, -1 to 1 [1]."""

    rho: float
    p_value: float  # two-sided
    exact: bool


def rank_correlation(x: ArrayLike, y: ArrayLike) -> RankCorrelation:
    """Return Spearman's RankCorrelation of x (n,) and y (n,) in any units, ties by mid-ranks.

    Up to EXACT_PAIRS_MAX pairs the p-value counts every order of one against the other; beyond, it
    is that of Student's t. Raises ValueError for fewer than three pairs or a measure that is all
    the same. Spearman 1904, Am J Psychol 15:72.

    >>> rank_correlation([1, 2, 3, 4], [10, 20, 40, 30])
    RankCorrelation(rho=0.8, p_value=0.3333333333333333, exact=True)
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    if len(x) < 3 or len(x) != len(y) or np.ptp(x) == 0 or np.ptp(y) == 0:
        raise ValueError("A correlation needs three pairs, and measures that differ.")
    rho, p = spearmanr(x, y)
    if len(x) > EXACT_PAIRS_MAX:
        return RankCorrelation(float(rho), float(p), exact=False)
    one, two = rankdata(x) - (len(x) + 1) / 2, rankdata(y) - (len(x) + 1) / 2
    sums = np.array(list(itertools.permutations(two))) @ one
    seen = abs(one @ two)
    p = np.mean(np.abs(sums) >= seen - 1e-9)
    return RankCorrelation(round(float(rho), 12), float(p), exact=True)


# --- Two groups ------------------------------------------------------------------------------
@dataclass(frozen=True)
class RankTest:
    """How one group of values lies against another.

    `effect` is the probability [1] that a value drawn from the first group is above one drawn from
    the second, ties counted half (common-language effect). `p_value` is two-sided: twice the
    smaller tail, at most 1. `smallest_p_value` is the least that groups of these sizes, with
    these ties, could ever give.
    """

    u: float  # pairs in which the first group's value is the higher one, ties counted half
    effect: float
    direction: str  # "higher", "lower" or "same": the first group against the second
    p_value: float
    p_higher: float  # one-sided, for the first group being higher
    p_lower: float
    smallest_p_value: float
    exact: bool
    note: str


def rank_test(first: ArrayLike, second: ArrayLike) -> RankTest:
    """Return the RankTest of two groups of finite values, shapes (n,) and (m,), any one unit.

    Mann-Whitney with mid-ranks for ties. Up to EXACT_MAX values the p-value counts all
    arrangements of the pooled ranks; beyond, it is scipy's normal approximation with ties and
    continuity corrected. Raises ValueError for an empty group or a value that is not finite.
    References: Mann & Whitney 1947, doi:10.1214/aoms/1177730491; McGraw & Wong 1992,
    doi:10.1037/0033-2909.111.2.361 (common-language effect).

    >>> test = rank_test([5.0], [1.0, 2.0, 3.0, 4.0, 4.5])
    >>> round(test.p_value, 3), test.direction, test.effect
    (0.333, 'higher', 1.0)
    """
    first, second = np.ravel(np.asarray(first, float)), np.ravel(np.asarray(second, float))
    if first.size == 0 or second.size == 0:
        raise ValueError("A rank test needs at least one value in each group.")
    check_finite(first, second)
    exact = first.size + second.size <= EXACT_MAX
    doubled = doubled_ranks(first, second)
    total = int(doubled[: first.size].sum())
    return tested(
        u=(total - first.size * (first.size + 1)) / 2,
        n_pairs=first.size * second.size,
        tails=exact_tails(doubled, first.size, total)
        if exact
        else (*approximate_tails(first, second), 0.0),
        exact=exact,
    )


def stratified_rank_test(
    first: ArrayLike, second: ArrayLike, first_stratum: ArrayLike, second_stratum: ArrayLike
) -> RankTest:
    """Return the RankTest of two groups of finite values, compared within strata only.

    Values (n,) and (m,) in any one unit with their strata's labels (n,) and (m,), e.g. the corals'
    groups. Ranks are taken within each stratum, mid-ranks for ties, and the p-value counts all
    arrangements that keep each stratum's numbers (van Elteren 1960, Bull Int Stat Inst 37:351,
    with equal weights). Strata with one group only say nothing. Raises ValueError where none has
    both.
    """
    first, second = np.ravel(np.asarray(first, float)), np.ravel(np.asarray(second, float))
    first_stratum, second_stratum = np.asarray(first_stratum), np.asarray(second_stratum)
    check_finite(first, second)
    proportions, totals, u, n_pairs = np.ones(1), 0, 0.0, 0
    for label in np.intersect1d(first_stratum, second_stratum):
        ours, theirs = first[first_stratum == label], second[second_stratum == label]
        doubled = doubled_ranks(ours, theirs)
        proportions = np.convolve(proportions, subset_sum_proportions(doubled, len(ours)))
        total = int(doubled[: len(ours)].sum())
        totals += total
        u += (total - len(ours) * (len(ours) + 1)) / 2
        n_pairs += len(ours) * len(theirs)
    if not n_pairs:
        raise ValueError("A stratified rank test needs a stratum with both groups.")
    tails = tails_at(proportions, totals)
    return tested(u=u, n_pairs=n_pairs, tails=tails, exact=True)


def check_finite(first: FloatArray, second: FloatArray) -> None:
    """Raise ValueError unless all values (n,) and (m,), in any unit, are finite."""
    if not np.all(np.isfinite(np.concatenate([first, second]))):
        raise ValueError("A rank test needs finite values.")


def doubled_ranks(first: FloatArray, second: FloatArray) -> IntArray:
    """Return twice the mid-ranks of both groups' values, (n + m,): whole, so they can be counted.

    Values (n,) and (m,) in any one unit.
    """
    doubled: IntArray = np.rint(2 * rankdata(np.concatenate([first, second]))).astype(int)
    return doubled


def tested(
    *,
    u: float,
    n_pairs: int,
    tails: tuple[float, float, float],
    exact: bool,
) -> RankTest:
    """Return the RankTest of so many pairs, `u` of them higher.

    `tails` [1] are the two one-sided p-values and the least two-sided one.
    """
    effect, (higher, lower, smallest) = u / n_pairs, tails
    note = f"More than {EXACT_MAX} values: p-value by the normal approximation."
    return RankTest(
        u=u,
        effect=effect,
        direction="same" if effect == 0.5 else "higher" if effect > 0.5 else "lower",
        p_value=two_sided(higher, lower),
        p_higher=higher,
        p_lower=lower,
        smallest_p_value=smallest,
        exact=exact,
        note="" if exact else note,
    )


def two_sided(higher: float, lower: float) -> float:
    """Return twice the smaller of the tails `higher` and `lower`, at most 1 [1]."""
    return min(1.0, 2.0 * min(higher, lower))


def exact_tails(scores: IntArray, size: int, total: int) -> tuple[float, float, float]:
    """Return P(sum >= total), P(sum <= total) and the smallest two-sided p possible [1].

    Over all ways to choose `size` of the whole-number `scores` (n,), each equally likely.
    """
    return tails_at(subset_sum_proportions(scores, size), total)


def tails_at(proportions: FloatArray, total: int) -> tuple[float, float, float]:
    """Return P(sum >= total), P(sum <= total) and the smallest two-sided p possible [1].

    `proportions` (sum + 1,) is how often each sum comes [1].
    """
    sums = np.flatnonzero(proportions)
    ends = two_sided(proportions[sums[-1]], 1.0), two_sided(1.0, proportions[sums[0]])
    higher, lower = proportions[total:].sum(), proportions[: total + 1].sum()
    return min(1.0, float(higher)), min(1.0, float(lower)), float(min(ends))


def subset_sum_proportions(scores: ArrayLike, size: int) -> FloatArray:
    """Return the proportion of `size`-subsets of `scores` (n,) with each sum, (sum + 1,) [1].

    Scores are whole numbers >= 0. Counts by adding one score at a time (the shift algorithm,
    Streitberg & Rohmel 1986, Statistical Software Newsletter 12, 10-17); all terms are positive,
    so no digits cancel.

    >>> subset_sum_proportions([1, 2, 3], 2).round(3).tolist()
    [0.0, 0.0, 0.0, 0.333, 0.333, 0.333, 0.0]
    """
    whole = np.asarray(scores, int)
    if np.any(whole < 0):
        raise ValueError("Scores must be whole numbers of at least zero.")
    ways = np.zeros((size + 1, int(whole.sum()) + 1))
    ways[0, 0] = 1.0
    for score in whole:
        shifted = ways[:-1, : ways.shape[1] - score].copy()
        ways[1:, score:] += shifted
    proportions: FloatArray = ways[size] / ways[size].sum()
    return proportions


def approximate_tails(first: FloatArray, second: FloatArray) -> tuple[float, float]:
    """Return the one-sided p-values of groups (n,) and (m,), in any unit, by the normal law [1].

    Mann & Whitney 1947, doi:10.1214/aoms/1177730491, ties and continuity corrected.
    """
    greater, less = (
        float(mannwhitneyu(first, second, alternative=side, method="asymptotic").pvalue)
        for side in ("greater", "less")
    )
    return greater, less
