"""From the light a coral is acclimated to, in even steps, to its target light.

The light of a step may be PAR at the day's peak or daily light: only its ratio counts here.
"""

import math
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import ArrayLike, FloatArray, IntArray

# Chosen, because rounding must not cost a whole step: a rise of 1.2 twice is 1.44, not a hair more.
DUST = 1e-9


@dataclass(frozen=True)
class Pace:
    """How long going to another light takes: a choice, not a law."""

    key: str
    words: str
    least_days: int  # from the first step to the last [d]
    source: str


# The 28 d of the slowest are our own choice: a week beyond the published "more than 20".
PACES = (
    Pace(
        "fast",
        "fast: about 5 days",
        5,
        "Pachyseris speciosa settled in 3 to 5 days between 6 and 32 mol/m² a day "
        "(DiPerna et al. 2018, PLoS ONE 13:e0203882)",
    ),
    Pace(
        "typical",
        "typical: about 21 days",
        21,
        "Acropora muricata, moved between low and high light, had settled within 21 days "
        "(2019, J Exp Biol 222:jeb195982)",
    ),
    Pace(
        "slow",
        "slow: 28 days",
        28,
        "Acropora millepora took more than 20 days between 6 and 32 mol/m² a day "
        "(DiPerna et al. 2018, PLoS ONE 13:e0203882); four weeks is our reading of “more than”",
    ),
)


@dataclass(frozen=True)
class ReferenceLight:
    """A published daily light to hold a plan against [mol m-2 d-1]."""

    low_mol: float
    high_mol: float
    words: str
    source: str


# Each with its source; a plan is held against them, none is a law.
REFERENCE_LIGHTS = (
    ReferenceLight(
        1.2,
        1.9,
        "colour was lost below about this in a month",
        "Bessell-Browne et al. 2017, Sci Rep 7: thresholds of 30 days in the dim",
    ),
    ReferenceLight(
        6.0,
        6.0,
        "the low light of a trial of two species",
        "DiPerna et al. 2018, PLoS ONE 13:e0203882",
    ),
    ReferenceLight(
        32.0,
        32.0,
        "the high light of that trial",
        "DiPerna et al. 2018, PLoS ONE 13:e0203882",
    ),
)


@dataclass(frozen=True)
class Ramp:
    """The light after each step and when it is taken, arrays (n,)."""

    light: FloatArray  # in the unit of what it was made from
    day: IntArray  # days after the first step [d]

    @property
    def days(self) -> int:
        """Return the days from the first step to the last [d]."""
        return int(self.day[-1])


def ramp(
    from_light: float, *, to_light: float, rate: float, least_days: float, every_days: int
) -> Ramp:
    """Return the Ramp from one light to another, each step the same ratio.

    `from_light` and `to_light` above zero, in one unit; `rate` above zero, the most that light may
    change from one day to the next [1]: a rise multiplies it by at most 1 + rate, a fall divides
    it by at most that. Steps are `every_days` apart [d]; the first is taken on day 0, the last is
    `to_light` and comes no sooner than `least_days` [d] later. A change smaller than one step is
    one step. Our own choice: even ratios, since corals answer to the logarithm of light
    (log-log lines in Chalker, Dunlap & Oliver 1983).

    >>> made = ramp(100.0, to_light=207.36, rate=0.2, least_days=9, every_days=3)
    >>> made.light.round(2).tolist()
    [120.0, 144.0, 172.8, 207.36]
    """
    if not (from_light > 0 and to_light > 0):
        raise ValueError("A ramp goes from some light to some light, both above zero.")
    if not rate > 0 or every_days < 1 or least_days < 0:
        raise ValueError("The rate must be above zero and steps at least a day apart.")
    way = math.log(to_light / from_light)
    needed = math.ceil(abs(way) / math.log1p(rate) - DUST)
    # As many as the rate asks, or as the length asks, whichever is more.
    steps = max(needed, math.ceil(least_days / every_days) + 1) if needed > 0 else 1
    share = np.arange(1, steps + 1) / steps
    light = from_light * np.exp(way * share)
    light[-1] = to_light
    return Ramp(light, np.arange(steps) * int(every_days))


def settings_for(light: ArrayLike, setting: ArrayLike, light_at: ArrayLike) -> FloatArray:
    """Return the setting that gives each light, nan where no setting does, (n,) [of `setting`].

    `light` (n,) wanted, above zero, in any unit; `setting` (k,) in any unit starts at the one that
    gives the last step and leads away from it (higher, deeper); `light_at` (k,) above zero is the
    light there in the unit of `light`. Between them log light is straight. The first crossing on
    the way counts, so that a rise of light far off is never used.

    >>> settings_for([100.0, 50.0], [0.0, 10.0, 20.0], [100.0, 50.0, 25.0]).tolist()
    [0.0, 10.0]
    """
    setting, log_at = np.asarray(setting, float), np.log(np.asarray(light_at, float))
    wanted = np.log(np.atleast_1d(np.asarray(light, float)))
    return np.array([first_crossing(value, setting, log_at) for value in wanted])


def first_crossing(value: float, setting: FloatArray, log_at: FloatArray) -> float:
    """Return the first setting at which the straight pieces of log light meet a value, or nan.

    Plane geometry: where two lines cross.

    `value` a log light, `setting` (k,) in any unit, which the answer has, and `log_at` (k,) the log
    light there [1].
    """
    off = log_at - value
    if abs(off[0]) < DUST:
        return float(setting[0])
    for k in range(len(off) - 1):
        if off[k] * off[k + 1] <= 0 and off[k] != off[k + 1]:
            part = off[k] / (off[k] - off[k + 1])
            return float(setting[k] + part * (setting[k + 1] - setting[k]))
    return math.nan
