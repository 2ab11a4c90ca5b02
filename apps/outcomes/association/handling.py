"""What hands and eyes had to do with a visit: when the coral came and moved, and who looked."""

import datetime as dt
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.corals.models import Coral
from apps.photics.ground.arrays import BoolArray, FloatArray


@dataclass(frozen=True)
class Row:
    """One visit of a coral: light on the eve, severity of an event, its last move, who looked."""

    coral: Coral
    day: dt.date
    par_umol: float
    dli_mol: float | None
    severity: int
    moved: dt.date | None
    eyes: str


def move_days(coral: Coral) -> list[dt.date]:
    """Return the dates on which a coral was moved by hand, oldest first; reads prefetched spots.

    Its first spot is where it was put when it came, or when its spots began to be kept.
    """
    return sorted(spot.since for spot in coral.spots.all())[1:]


def last_before(days: Sequence[dt.date], day: dt.date) -> dt.date | None:
    """Return the last of ascending dates before a day: what is done on it answers what was seen."""
    place = bisect_left(days, day)
    return days[place - 1] if place else None


def eyes_by_day(coral: Coral) -> dict[dt.date, str]:
    """Return whose eyes each day's note rests on, "" where nobody is named; prefetched notes.

    Of several notes of a day the first counts.
    """
    by_day: dict[dt.date, str] = {}
    for note in coral.notes.all():
        by_day.setdefault(note.noted_on, str(note.eyes or ""))
    return by_day


def since(day: FloatArray, begun: FloatArray | None, most: float) -> BoolArray:
    """Return where days (n,) lie within `most` days after `begun` (n,), NaN for never [d]."""
    if begun is None:
        return np.zeros(len(day), bool)
    with np.errstate(invalid="ignore"):
        inside: BoolArray = (day >= begun) & (day - begun <= most)
    return inside
