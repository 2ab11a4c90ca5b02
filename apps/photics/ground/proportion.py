"""Proportions of few: how sure a count out of a count is."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import binomtest, fisher_exact


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


def more_often(first: Proportion, second: Proportion) -> float:
    """Return the chance that as many or more of the `first` would have had it by chance [1].

    Were there no difference from the `second`, with both numbers and the sum of the counts as they
    are: Fisher's exact test, one-sided (Fisher 1935, J R Stat Soc 98:39). Holds for any numbers.

    >>> round(more_often(wilson_proportion(3, 4), wilson_proportion(1, 4)), 4)
    0.2429
    """
    table = np.array([[part.count, part.number - part.count] for part in (first, second)])
    return float(fisher_exact(table, alternative="greater").pvalue)
