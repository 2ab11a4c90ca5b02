"""What else than light sets the level of one coral-visit: how new it is, hands, who looked, water.

Each column adds to the log odds of an event, with a spread that is expected of its effect. A coral
that came pales from the journey and from water that it does not know, one that was moved from the
hands that moved it; keepers see paling at different strengths; values of the water drift.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray, IntArray, LabelArray

# How long a coral counts as new, and as fresh from the journey [d]. Chosen, because leaving out the
# first six weeks took false alarms of new corals from 31 % to 6 %, and most trouble shows early.
NEW_DAYS, FRESH_DAYS = 42.0, 14.0
# How long a move by hand may show, and how long it lingers [d]. Our own choice: a fortnight is what
# keepers allow a coral that was handled.
MOVED_DAYS, LINGER_DAYS = 14.0, 28.0
# Spreads expected of these levels, the longer and the shorter or later one [log odds]. Our own
# choice: a coral just arrived or handled may well be at five times the risk.
NEW_SPREAD, FRESH_SPREAD, MOVED_SPREAD, LINGER_SPREAD = 1.5, 0.7, 1.5, 0.5
# Spread expected between keepers' eyes, and of a standard deviation of a water value [log odds].
# Our own choice.
EYE_SPREAD, VALUE_SPREAD = 1.0, 0.7
# A keeper who noted on fewer days than this has no level of its own. Our own choice: a level rests
# on several rounds.
EYE_DAYS = 5
# Notes of a tank that last this long carry a smooth term, with waves no shorter than this [d].
# Chosen, because over 30 weeks it took a third of the power in one tank, and a season only shows in
# most of a year.
SMOOTH_DAYS, WAVE_DAYS = 300.0, 182.0
# Half waves over the notes at most, and from when on a wave of a year stands beside them [d].
# Chosen, because three follow a season of up to a year and a half, and more cost time.
HALF_WAVES_MAX, YEARS_DAYS, YEAR_DAYS = 3, 550.0, 365.25
# Spread expected of the longest wave; of k half waves less by the root of k [log odds]. Our own
# choice: a season or a drift may well treble the risk.
SMOOTH_SPREAD = 0.5


@dataclass(frozen=True)
class Levels:
    """Columns (n, j) of coral-visits' own levels [1], and the spread expected of each, (j,)."""

    columns: FloatArray  # [1]
    spreads: FloatArray  # [log odds]
    names: tuple[str, ...]  # "new", "moved", "keeper", "water" or "smooth", of each

    def only(self, *names: str) -> FloatArray:
        """Return the columns (n, i) of these names [1]."""
        return self.columns[:, [name in names for name in self.names]]


def visit_levels(
    day: FloatArray,
    tank: IntArray,
    arrived: FloatArray,
    moved: FloatArray,
    keeper: LabelArray | None,
    water: FloatArray | None,
) -> Levels:
    """Return the Levels of coral-visits, columns that are all alike left out.

    `day`, `arrived`, `moved` (n,) [d], NaN for never; `tank` (n,) 0, 1, ...; `keeper` (n,) labels;
    `water` (n, m) values in any units, NaN where not known.
    """
    parts: list[tuple[str, FloatArray, float]] = []
    parts += [("new", column, s) for column, s in new_columns(day, arrived)]
    parts += [("moved", column, s) for column, s in moved_columns(day, moved, arrived)]
    parts += [("keeper", column, EYE_SPREAD) for column in keeper_columns(day, keeper)]
    parts += [("water", column, VALUE_SPREAD) for column in value_columns(tank, water)]
    parts += [("smooth", column, s) for column, s in smooth_columns(day, tank)]
    parts = [part for part in parts if np.ptp(part[1]) > 0]
    return Levels(
        np.column_stack([column for _, column, _ in parts]) if parts else np.zeros((len(day), 0)),
        np.array([spread for *_, spread in parts], float),
        tuple(name for name, *_ in parts),
    )


def within(days: FloatArray, least: float, most: float) -> FloatArray:
    """Return 1.0 where days (n,) lie from `least` to `most` [d], ends included; NaN is nowhere."""
    with np.errstate(invalid="ignore"):
        inside: FloatArray = ((days >= least) & (days <= most)).astype(float)
    return inside


def new_columns(day: FloatArray, arrived: FloatArray) -> list[tuple[FloatArray, float]]:
    """Return (column, spread) of the weeks after each coral came; `day`, `arrived` (n,) [d]."""
    here = day - arrived
    return [
        (within(here, 0, NEW_DAYS), NEW_SPREAD),
        (within(here, 0, FRESH_DAYS), FRESH_SPREAD),
    ]


def moved_columns(
    day: FloatArray, moved: FloatArray, arrived: FloatArray
) -> list[tuple[FloatArray, float]]:
    """Return (column, spread) of the weeks after each coral was moved by hand.

    `day`, `moved` and `arrived` (n,) [d]. What was moved before it came, or on that day, was
    brought, not moved.
    """
    with np.errstate(invalid="ignore"):
        since = np.where(moved <= arrived, np.nan, day - moved)
    return [
        (within(since, 0, MOVED_DAYS), MOVED_SPREAD),
        (within(since, MOVED_DAYS + 1e-9, LINGER_DAYS), LINGER_SPREAD),
    ]


def keeper_columns(day: FloatArray, keeper: LabelArray | None) -> list[FloatArray]:
    """Return a column (n,) of 0/1 for each keeper who noted enough, none where only one did.

    `day` (n,) [d], `keeper` (n,) labels.
    """
    if keeper is None:
        return []
    _, first = np.unique(keeper, return_index=True)
    labels = keeper[np.sort(first)]
    seen = [(keeper == label) for label in labels]
    enough = [at.astype(float) for at in seen if len(np.unique(day[at])) >= EYE_DAYS]
    return enough if len(enough) > 1 else []


def value_columns(tank: IntArray, water: FloatArray | None) -> list[FloatArray]:
    """Return each value of the water as deviations from its tank's mean, 0 where unknown, (n,).

    `tank` (n,) labels, `water` (n, m) in any units; what is returned is in the value's own standard
    deviations over all tanks [1]. Our own choice: tanks differ in what they are used to.
    """
    columns = []
    for value in np.zeros((0, 0)) if water is None else water.T:
        known = np.isfinite(value)
        off = np.zeros(len(value))
        for number in np.unique(tank[known]):
            here = known & (tank == number)
            off[here] = value[here] - value[here].mean()
        spread = off[known].std() if known.any() else 0.0
        if spread > 1e-9 * (1 + np.abs(value[known]).max(initial=0.0)):
            columns.append(off / spread)
    return columns


def with_waves(levels: Levels, day: FloatArray, tank: IntArray) -> Levels:
    """Return the Levels with slow waves for tanks whose notes are too short to carry them.

    `day` (n,) [d], `tank` (n,) 0, 1, .... So much may hide in short notes: what is to be acted upon
    must stand it.
    """
    short = smooth_columns(day, tank, least_days=0.0, most_days=SMOOTH_DAYS)
    return Levels(
        np.column_stack([levels.columns, *(column for column, _ in short)]),
        np.r_[levels.spreads, [spread for _, spread in short]],
        levels.names + ("smooth",) * len(short),
    )


def smooth_columns(
    day: FloatArray,
    tank: IntArray,
    *,
    least_days: float = SMOOTH_DAYS,
    most_days: float = np.inf,
) -> list[tuple[FloatArray, float]]:
    """Return (column, spread) of the slow waves of each tank with notes of at least so many days.

    Cosines of half a wave over the notes and shorter, none shorter than WAVE_DAYS: a drift first,
    then what bends; for notes of years a wave of a year as well. `day` (n,) [d], `tank` (n,). They
    are those of the discrete cosine transform (Ahmed, Natarajan & Rao 1974, IEEE Trans Comput
    C-23:90; from memory).
    """
    columns = []
    for number in np.unique(tank):
        here: BoolArray = tank == number
        start, span = day[here].min(), np.ptp(day[here])
        if not max(least_days, 1.0) <= span < most_days:
            continue
        most = min(HALF_WAVES_MAX, max(1, int(2 * span / WAVE_DAYS)))
        for half_waves in range(1, most + 1):
            wave = np.cos(np.pi * half_waves * (day - start) / span)
            columns.append((np.where(here, wave, 0.0), SMOOTH_SPREAD / np.sqrt(half_waves)))
        if span >= YEARS_DAYS:
            angle = 2 * np.pi * day / YEAR_DAYS
            columns += [(np.where(here, f(angle), 0.0), SMOOTH_SPREAD) for f in (np.sin, np.cos)]
    return columns


def days_of_visits(values: ArrayLike | None, coral: LabelArray, what: str) -> FloatArray:
    """Return a day for each visit (n,) [d], NaN for never.

    `values` holds one for each visit, or one for each coral, by ascending label in `coral` (n,).
    `what` names them where they don't fit.
    """
    if values is None:
        return np.full(len(coral), np.nan)
    days = np.asarray(values, float)
    if np.isinf(days).any():
        raise ValueError(f"The day a coral {what} must be a finite number, or NaN for never.")
    if days.shape == coral.shape:
        return days
    labels, place = np.unique(coral, return_inverse=True)
    if days.shape == labels.shape:
        of_coral: FloatArray = days[place]
        return of_coral
    raise ValueError(
        f"The days corals {what} need one value for each visit, or one for each coral by label."
    )
