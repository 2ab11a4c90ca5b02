"""One step of light, on a day drawn by lot: did the corals change when it came?

The day was drawn from a few that were all as likely. Had the step done nothing, the notes would be
what they are whichever day was drawn; so the gain on the drawn day is held against the gain on
each day that could have been drawn, exactly and without any law of chance for the notes (Edgington
1975, J Psychol 90:57; Edgington & Onghena 2007, Randomization Tests, ch. 11).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import ArrayLike, FloatArray

# Notes so soon after a step speak for neither side [d]. Chosen, because corals need some days to
# answer.
SETTLE_DAYS = 10
# Notes needed on each side of every day that could have been drawn. Chosen, because one alone is no
# mean.
NOTES_MIN = 2
# Most arrangements counted. Chosen, because beyond counting is no longer quick.
ARRANGEMENTS_MAX = 2_000_000


@dataclass(frozen=True)
class StartScore:
    """How much better the corals were after the step, and how likely so much is by the draw [1]."""

    gain: float  # mean fall of severity, over corals [grades]
    p_better: float
    p_worse: float
    smallest_p: float  # the least that so many days and corals could give
    arrangements: int


def start_gains(
    day: ArrayLike, severity: ArrayLike, starts: ArrayLike, *, settle_days: float = SETTLE_DAYS
) -> FloatArray:
    """Return the gain of one coral for each day that could have been drawn, (s,).

    `day` (n,) [d] and `severity` (n,) [grades] of its notes, `starts` (s,) days [d]. A gain is the
    mean severity of notes before the day less that of notes `settle_days` or more after it; nan
    where either side has fewer than two.
    """
    day, severity = np.asarray(day, float), np.asarray(severity, float)
    gains = []
    for start in np.asarray(starts, float):
        before, after = severity[day < start], severity[day >= start + settle_days]
        enough = min(len(before), len(after)) >= NOTES_MIN
        gains.append(before.mean() - after.mean() if enough else np.nan)
    return np.array(gains)


def start_score(gains: Sequence[ArrayLike], drawn: Sequence[int]) -> StartScore:
    """Return the StartScore of corals, each with its own draw.

    `gains` is a list of arrays (s,) [grades], one a coral, `drawn` the place of each coral's drawn
    day. Exact (Edgington & Onghena 2007, Randomization Tests, ch. 11): all combinations of days are
    counted, ties included. Raises ValueError for a gain that is not known or more combinations than
    can be counted.

    >>> start_score([[0.0, 0.1, 0.9, 0.2]], [2]).p_better
    0.25
    """
    each_gain = [np.asarray(g, float) for g in gains]
    number = int(np.prod([len(g) for g in each_gain], dtype=float))
    if (
        not each_gain
        or any(np.isnan(g).any() for g in each_gain)
        or not 0 < number <= ARRANGEMENTS_MAX
    ):
        raise ValueError("Every day that could have been drawn needs its gain.")
    total = np.zeros(1)
    for each in each_gain:
        total = np.add.outer(total, each).ravel()
    seen = sum(each[place] for each, place in zip(each_gain, drawn, strict=True))
    tie = 1e-9 * (1 + np.abs(total).max())
    return StartScore(
        gain=float(seen / len(each_gain)),
        p_better=float(np.mean(total >= seen - tie)),
        p_worse=float(np.mean(total <= seen + tie)),
        smallest_p=1 / number,
        arrangements=number,
    )
