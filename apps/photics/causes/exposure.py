"""The light a coral was used to, and how far its light now stands above or below that."""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray

# Time over which a coral gets used to a light [d]. Chosen, because it is the middle of the span
# that the published times allow (3-5 d and more than 20 d for two species: DiPerna et al. 2018,
# PLoS ONE 13:e0203882; about 21 d, J Exp Biol 222:jeb195982).
TIME_CONSTANT_DAYS = 16.0
# When a light differs between two visits, the proportion of the days between that it already
# had the new one [1]. Chosen, because a change is noted when fresh, so less than a half.
NEW_LIGHT_PROPORTION = 0.25
# A dark spot counts as this proportion of the median light [1]. Chosen, because a doubling of
# nothing has no meaning.
DARK_PROPORTION = 0.01
# A smaller change is no light change [log2]. Chosen, because a meter's noise is about 7 %.
CHANGE_LOG2 = 0.1


@dataclass(frozen=True)
class Exposure:
    """The light of each coral-visit beside the light before it, arrays (n,); ratios in [log2]."""

    acclimated_mol: FloatArray  # [mol m-2 d-1]
    log2_ratio: FloatArray  # doublings above (+) or below (-) the light it was used to
    rise: FloatArray  # the doublings above, else 0
    fall: FloatArray  # the doublings below, as a positive number, else 0
    step_log2: FloatArray  # change since the coral's last visit, in doublings
    first: BoolArray  # True where no earlier visit shows what it was used to


def acclimated_light(
    day: ArrayLike, dli_mol: ArrayLike, *, time_constant_days: float = TIME_CONSTANT_DAYS
) -> FloatArray:
    """Return the running mean of one coral's light at each of its visits [mol m-2 d-1].

    `day` (n,) ascending [d] and `dli_mol` (n,) [mol m-2 d-1]. The mean forgets with exp(-days /
    time constant) and starts at the first light seen. Chosen, because it is the simplest law with
    one time (for its span see TIME_CONSTANT_DAYS). Raises ValueError when the days do not ascend or
    the time constant is not above zero.

    >>> acclimated_light([0, 16, 32], [10.0, 10.0, 10.0]).tolist()
    [10.0, 10.0, 10.0]
    """
    day, dli_mol = np.asarray(day, float), np.asarray(dli_mol, float)
    if not time_constant_days > 0:
        raise ValueError("The time a coral takes to get used to a light must be above zero.")
    if np.any(np.diff(day) <= 0):
        raise ValueError("The visits of a coral must follow one another in time.")
    gap = np.diff(day)
    # Old light first, then the new one: two exact exponential steps. Plain numbers are quicker.
    keep_old = np.exp(-gap * (1 - NEW_LIGHT_PROPORTION) / time_constant_days).tolist()
    keep_new = np.exp(-gap * NEW_LIGHT_PROPORTION / time_constant_days).tolist()
    light = dli_mol.tolist()
    used = light[:1]
    for k in range(1, len(light)):
        middle = light[k - 1] + keep_old[k - 1] * (used[k - 1] - light[k - 1])
        used.append(light[k] + keep_new[k - 1] * (middle - light[k]))
    return np.array(used)


def coral_exposure(
    coral: ArrayLike,
    day: ArrayLike,
    dli_mol: ArrayLike,
    *,
    time_constant_days: float = TIME_CONSTANT_DAYS,
) -> Exposure:
    """Return the Exposure of coral-visits in the order given.

    `coral` (n,) integers, `day` (n,) [d], `dli_mol` (n,) at or above zero [mol m-2 d-1]. Raises
    ValueError for a coral seen twice on one day.
    """
    coral, day, dli_mol = np.asarray(coral), np.asarray(day, float), np.asarray(dli_mol, float)
    lit = dli_mol[dli_mol > 0]
    light = (
        np.maximum(dli_mol, DARK_PROPORTION * np.median(lit)) if len(lit) else np.ones(len(dli_mol))
    )
    used, step, first = light.copy(), np.zeros(len(light)), np.zeros(len(light), bool)
    order = np.lexsort((day, coral))
    for rows in np.split(order, np.flatnonzero(np.diff(coral[order])) + 1):
        if not len(rows):
            continue
        used[rows] = acclimated_light(day[rows], light[rows], time_constant_days=time_constant_days)
        step[rows[1:]] = np.diff(np.log2(light[rows]))
        first[rows[0]] = True
    ratio = np.log2(light / used)
    ratio[np.abs(ratio) < 1e-9] = 0.0  # rounding is no change of light
    return Exposure(used, ratio, np.maximum(ratio, 0), np.maximum(-ratio, 0), step, first)


def log2_ratio_before(
    coral: ArrayLike,
    day: ArrayLike,
    exposure: Exposure,
    *,
    days_before: float,
    time_constant_days: float = TIME_CONSTANT_DAYS,
) -> FloatArray:
    """Return the light ratio that each coral-visit's coral had some days before it, (n,) [log2].

    `coral` (n,) integers, `day` (n,) [d], `exposure` of these visits by `coral_exposure`,
    `days_before` at or above zero [d]. Between two visits the light changes as `acclimated_light`
    takes it to; before a coral's first visit it counts as steady, so 0. Source: the same law.
    """
    coral, day = np.asarray(coral), np.asarray(day, float)
    used, ratio = exposure.acclimated_mol, np.zeros(len(day))
    light = used * 2**exposure.log2_ratio
    order = np.lexsort((day, coral))
    for rows in np.split(order, np.flatnonzero(np.diff(coral[order])) + 1):
        if not len(rows):
            continue
        moment = day[rows] - days_before
        after = np.searchsorted(day[rows], moment)
        known, after = rows[after > 0], after[after > 0]
        old, new = rows[after - 1], rows[after]
        since = day[known] - days_before - day[old]
        steady = (1 - NEW_LIGHT_PROPORTION) * (day[new] - day[old])
        lasted = np.minimum(since, steady)
        then = light[old] + np.exp(-lasted / time_constant_days) * (used[old] - light[old])
        fresh = since - lasted
        here = np.where(fresh > 0, light[new], light[old])
        then = np.where(fresh > 0, here + np.exp(-fresh / time_constant_days) * (then - here), then)
        ratio[known] = np.log2(here / then)
    ratio[np.abs(ratio) < 1e-9] = 0.0  # rounding is no change of light
    return ratio
