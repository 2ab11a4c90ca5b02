"""Shares of few: how sure a count out of a count is."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import fisher_exact, norm


@dataclass(frozen=True)
class Share:
    """A count out of a number, with the interval of the share behind it [1]."""

    count: int
    number: int
    low: float
    high: float

    @property
    def value(self):
        return self.count / self.number


def wilson_share(count, number, *, level=0.95):
    """Return the Share of `count` out of `number`, with Wilson's score interval.

    Holds down to no or all out of few. Raises ValueError unless 0 <= count <= number and
    number > 0. Wilson 1927, JASA 22:209; Newcombe 1998, Stat Med 17:857, method 3.

    >>> found = wilson_share(0, 20)
    >>> round(found.low, 4), round(found.high, 4)
    (0.0, 0.1611)
    """
    if not 0 <= count <= number or number <= 0:
        raise ValueError("A share is a count out of a number above zero.")
    z = norm.ppf(0.5 + level / 2)
    centre = (count + z**2 / 2) / (number + z**2)
    reach = z / (number + z**2) * np.sqrt(count * (number - count) / number + z**2 / 4)
    low = 0.0 if count == 0 else max(0.0, centre - reach)
    high = 1.0 if count == number else min(1.0, centre + reach)
    return Share(int(count), int(number), float(low), float(high))


def more_often(first, second):
    """Return the chance that as many or more of the `first` Share's would have had it, were there
    no difference from the `second` (Fisher's exact test, one-sided) [1].

    >>> round(more_often(wilson_share(3, 4), wilson_share(1, 4)), 4)
    0.2429
    """
    table = [[share.count, share.number - share.count] for share in (first, second)]
    return float(fisher_exact(table, alternative="greater").pvalue)
