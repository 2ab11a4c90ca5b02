"""Like effects of several groups, each drawn towards the middle as far as its own data are few."""

from dataclasses import dataclass

import numpy as np

NORMAL_95 = 1.959964


@dataclass(frozen=True)
class Pooled:
    """The common effect, and each group's own drawn towards it; arrays of shape (g,)."""

    middle: float
    middle_error: float
    spread: float  # standard deviation of the groups' true effects
    effect: np.ndarray
    error: np.ndarray

    @property
    def low(self):
        return self.effect - NORMAL_95 * self.error

    @property
    def high(self):
        return self.effect + NORMAL_95 * self.error


def partial_pooling(effect, error):
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
