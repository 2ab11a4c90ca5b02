"""Two groups compared by ranks, exactly: few data suffice, no shape of distribution is assumed."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import mannwhitneyu, rankdata

# Values up to which every arrangement is counted; beyond, the normal approximation [1]. House rule:
# counting is quick up to here, and from here on the two agree to about 0.001.
EXACT_MAX = 60


@dataclass(frozen=True)
class RankTest:
    """How one group of values lies against another.

    `effect` is the probability that a value drawn from the first group is above one drawn from
    the second, ties counted half (common-language effect). `p_value` is two-sided: twice the
    smaller tail, at most 1. `smallest_p_value` is the least that groups of these sizes, with
    these ties, could ever give.
    """

    n_first: int
    n_second: int
    u: float  # pairs in which the first group's value is the higher one, ties counted half
    effect: float
    direction: str  # "higher", "lower" or "same": the first group against the second
    p_value: float
    p_higher: float  # one-sided, for the first group being higher
    p_lower: float
    smallest_p_value: float
    exact: bool
    note: str


def rank_test(first, second):
    """Return the RankTest of two groups of finite values, shapes (n,) and (m,), any one unit.

    Mann-Whitney with mid-ranks for ties. Up to EXACT_MAX values the p-value counts all
    arrangements of the pooled ranks; beyond, it is scipy's normal approximation with ties and
    continuity corrected. Raises ValueError for an empty group or a value that is not finite.
    References: Mann & Whitney 1947, doi:10.1214/aoms/1177730491; McGraw & Wong 1992,
    doi:10.1037/0033-2909.111.2.361 (common-language effect).

    >>> found = rank_test([5.0], [1.0, 2.0, 3.0, 4.0, 4.5])
    >>> round(found.p_value, 3), found.direction, found.effect
    (0.333, 'higher', 1.0)
    """
    first, second = np.asarray(first, float).ravel(), np.asarray(second, float).ravel()
    if first.size == 0 or second.size == 0:
        raise ValueError("A rank test needs at least one value in each group.")
    pooled = np.concatenate([first, second])
    if not np.all(np.isfinite(pooled)):
        raise ValueError("A rank test needs finite values.")
    # Twice the mid-ranks are whole numbers, which can be counted.
    doubled = np.rint(2 * rankdata(pooled)).astype(int)
    total = int(doubled[: first.size].sum())
    u = (total - first.size * (first.size + 1)) / 2
    effect = u / (first.size * second.size)
    if pooled.size <= EXACT_MAX:
        higher, lower, smallest = exact_tails(doubled, first.size, total)
        note = ""
    else:
        higher, lower = approximate_tails(first, second)
        smallest = 0.0
        note = f"More than {EXACT_MAX} values: p-value by the normal approximation."
    return RankTest(
        n_first=first.size,
        n_second=second.size,
        u=u,
        effect=effect,
        direction="same" if effect == 0.5 else "higher" if effect > 0.5 else "lower",
        p_value=two_sided(higher, lower),
        p_higher=higher,
        p_lower=lower,
        smallest_p_value=smallest,
        exact=pooled.size <= EXACT_MAX,
        note=note,
    )


def stratified_rank_test(first, second, first_stratum, second_stratum):
    """Return the RankTest of two groups of finite values, compared within strata only.

    Values (n,) and (m,) with their strata's labels, e.g. the corals' groups. Ranks are taken
    within each stratum, mid-ranks for ties, and the p-value counts all arrangements that keep
    each stratum's numbers (van Elteren 1960, Bull Int Stat Inst 37:351, with equal weights).
    Strata with one group only say nothing. Raises ValueError where none has both.
    """
    first, second = np.asarray(first, float).ravel(), np.asarray(second, float).ravel()
    first_stratum, second_stratum = np.asarray(first_stratum), np.asarray(second_stratum)
    if not np.all(np.isfinite(np.concatenate([first, second]))):
        raise ValueError("A rank test needs finite values.")
    shares, totals, u, pairs, sizes = np.ones(1), 0, 0.0, 0, [0, 0]
    for label in np.intersect1d(first_stratum, second_stratum):
        ours, theirs = first[first_stratum == label], second[second_stratum == label]
        doubled = np.rint(2 * rankdata(np.concatenate([ours, theirs]))).astype(int)
        shares = np.convolve(shares, subset_sum_shares(doubled, len(ours)))
        total = int(doubled[: len(ours)].sum())
        totals += total
        u += (total - len(ours) * (len(ours) + 1)) / 2
        pairs += len(ours) * len(theirs)
        sizes = [sizes[0] + len(ours), sizes[1] + len(theirs)]
    if not pairs:
        raise ValueError("A stratified rank test needs a stratum with both groups.")
    sums = np.flatnonzero(shares)
    ends = two_sided(shares[sums[-1]], 1.0), two_sided(1.0, shares[sums[0]])
    higher = min(1.0, float(shares[totals:].sum()))
    lower = min(1.0, float(shares[: totals + 1].sum()))
    effect = u / pairs
    return RankTest(
        n_first=sizes[0],
        n_second=sizes[1],
        u=u,
        effect=effect,
        direction="same" if effect == 0.5 else "higher" if effect > 0.5 else "lower",
        p_value=two_sided(higher, lower),
        p_higher=higher,
        p_lower=lower,
        smallest_p_value=float(min(ends)),
        exact=True,
        note="",
    )


def two_sided(higher, lower):
    """Return twice the smaller tail, at most 1 [1]."""
    return min(1.0, 2.0 * min(higher, lower))


def exact_tails(scores, size, total):
    """Return P(sum >= total), P(sum <= total) and the smallest two-sided p possible [1].

    Over all ways to choose `size` of the whole-number `scores` (n,), each equally likely.
    """
    share = subset_sum_shares(scores, size)
    sums = np.flatnonzero(share)
    ends = two_sided(share[sums[-1]], 1.0), two_sided(1.0, share[sums[0]])
    higher, lower = share[total:].sum(), share[: total + 1].sum()
    return min(1.0, float(higher)), min(1.0, float(lower)), float(min(ends))


def subset_sum_shares(scores, size):
    """Return the share of all `size`-subsets of `scores` (n,) with each sum, shape (sum + 1,) [1].

    Scores are whole numbers >= 0. Counts by adding one score at a time (the shift algorithm,
    Streitberg & Rohmel 1986, Statistical Software Newsletter 12, 10-17); all terms are positive,
    so no digits cancel.

    >>> subset_sum_shares([1, 2, 3], 2).round(3).tolist()
    [0.0, 0.0, 0.0, 0.333, 0.333, 0.333, 0.0]
    """
    scores = np.asarray(scores, int)
    if np.any(scores < 0):
        raise ValueError("Scores must be whole numbers of at least zero.")
    ways = np.zeros((size + 1, int(scores.sum()) + 1))
    ways[0, 0] = 1.0
    for score in scores:
        shifted = ways[:-1, : ways.shape[1] - score].copy()
        ways[1:, score:] += shifted
    return ways[size] / ways[size].sum()


def approximate_tails(first, second):
    """Return the two one-sided p-values of the normal approximation [1]."""
    return tuple(
        float(mannwhitneyu(first, second, alternative=side, method="asymptotic").pvalue)
        for side in ("greater", "less")
    )
