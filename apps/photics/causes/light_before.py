"""The light a coral had before a day, from the stretches of steady light it lived in.

What is not known of the light has few roots: the map of the survey at that spot, and the factor of
each light change since. Two stretches that share a root are wrong together, so a ratio of the two
is surer than either.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.causes.exposure import CHANGE_LOG2, TIME_CONSTANT_DAYS
from apps.photics.ground.arrays import ArrayLike
from apps.photics.ground.normal import NORMAL_90


@dataclass(frozen=True)
class LightBefore:
    """What a coral's light was against the light it was used to; ratios in doublings [log2].

    `low_log2` and `high_log2` hold the truth nine times in ten as far as the roots' deviations do.
    """

    acclimated: float  # running mean, in the unit of the light given
    log2_ratio: float
    low_log2: float
    high_log2: float
    rise_log2: float  # sum of all rises in the window
    fall_log2: float  # sum of all falls in the window, as a positive number
    days_since_change: float | None  # None: no change in all that is known
    days_known: float


def light_before(
    began_days_ago: ArrayLike,
    light: ArrayLike,
    root_proportion: ArrayLike,
    root_deviation: ArrayLike,
    *,
    window_days: float,
    time_constant_days: float = TIME_CONSTANT_DAYS,
) -> LightBefore:
    """Return the LightBefore of one coral at day 0.

    `began_days_ago` (m,) descending, above zero: when each stretch of steady light began, the last
    lasting until day 0; `light` (m,) above zero in one unit; `root_proportion` (m, r): how much of
    each root's log error a stretch carries [1]; `root_deviation` (r,): each root's deviation in log
    light. `window_days` is how far back rises and falls are summed. The running mean forgets with
    exp(-days / time constant) and starts at the first light known. Light before the last change
    counts as what it was used to even where the last stretch is long. Raises ValueError for empty
    or unordered stretches. First-order error propagation in log light; chosen, because light is
    felt by ratios.

    >>> before = light_before([32, 16], [100.0, 200.0], [[1], [1]], [0.1], window_days=42)
    >>> round(before.acclimated, 1), round(before.log2_ratio, 2), before.high_log2 - before.low_log2
    (163.2, 0.29, 0.0)
    """
    began, light = np.asarray(began_days_ago, float), np.asarray(light, float)
    if not len(began) or np.any(began <= 0) or np.any(np.diff(began) >= 0) or np.any(light <= 0):
        raise ValueError("Stretches of light follow one another and have light above zero.")
    proportion = np.asarray(root_proportion, float).reshape(len(began), -1)
    weight = np.diff(np.r_[0.0, np.exp(-began[1:] / time_constant_days), 1.0])
    acclimated = float(weight @ light)
    ratio = float(np.log2(light[-1] / acclimated))
    # d log(now / used to) by each root: now carries its own, the mean each by its part of it.
    lean = proportion[-1] - (weight * light / acclimated) @ proportion
    deviation = np.sqrt(np.sum((lean * np.asarray(root_deviation, float)) ** 2)) / np.log(2)
    half_width = float(NORMAL_90 * deviation)
    steps = np.diff(np.log2(light))
    steps = np.where(np.abs(steps) > CHANGE_LOG2, steps, 0.0)
    inside = began[1:] <= window_days
    changed = began[1:][steps != 0]
    return LightBefore(
        acclimated=acclimated,
        log2_ratio=0.0 if abs(ratio) < 1e-9 else ratio,
        low_log2=ratio - half_width,
        high_log2=ratio + half_width,
        rise_log2=float(np.sum(np.maximum(steps, 0)[inside])),
        fall_log2=float(np.sum(np.maximum(-steps, 0)[inside])),
        days_since_change=float(changed[-1]) if len(changed) else None,
        days_known=float(began[0]),
    )
