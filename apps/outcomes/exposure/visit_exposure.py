"""What a coral's light was before a visit: against what it was used to, and above its band."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from apps.corals.models import Band, Coral
from apps.lighting.day_run import Schedule
from apps.lighting.history import LightHistory
from apps.lightmap.logged_factors import CHANGE_LOG_DEVIATION, deviation_of, guesses
from apps.lightmap.spot_light import SpotLight
from apps.outcomes.exposure.exposure import DAY, LightBook
from apps.photics.causes.exposure import CHANGE_LOG2, TIME_CONSTANT_DAYS
from apps.photics.causes.light_before import LightBefore, light_before
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.normal import NORMAL_90

# Days before a visit over which light is averaged and rises and falls are summed [d]: corals
# shift their pigments over weeks. House rule.
WINDOW_DAYS = 21
# Light longer ago than this leaves a thousandth of the running mean or less [d].
ACCLIMATION_DAYS = 7 * TIME_CONSTANT_DAYS


# A stretch of steady light: when it began, and the light at the coral.
LitStretch = tuple[dt.datetime, SpotLight]


@dataclass(frozen=True)
class Hours:
    """Hours a day, with the least and the most the light's interval allows [h]."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class VisitExposure:
    """The light of one coral before one visit."""

    light: SpotLight  # on the eve
    before: LightBefore  # in daily light; in PAR where `by_par`
    by_par: bool
    hours_above: Hours | None  # above its band's upper end; None where the hours are not known

    @property
    def ratio(self) -> float:
        """Light for 1 that it was used to [1]."""
        return 2**self.before.log2_ratio

    @property
    def ratio_low(self) -> float:
        return 2**self.before.low_log2

    @property
    def ratio_high(self) -> float:
        return 2**self.before.high_log2

    @property
    def side(self) -> str:
        """Where its light stood against what it was used to: "above", "below" or "near"."""
        if abs(self.before.log2_ratio) < CHANGE_LOG2:
            return "near"
        return "above" if self.before.log2_ratio > 0 else "below"

    @property
    def days_since_change(self) -> int | None:
        """Days from the date of the last change to the note's, as a keeper counts; None: none.

        `before` counts from the midnight before the note, whatever the hour of the change.
        """
        days = self.before.days_since_change
        return None if days is None else math.ceil(days)

    @property
    def sure(self) -> bool:
        """Whether the interval lies on that side, too."""
        return self.before.low_log2 > 0 or self.before.high_log2 < 0


def visit_exposure(book: LightBook, coral: Coral, day: dt.date) -> VisitExposure | None:
    """Return the VisitExposure of a LightBook's coral on a date, or None without known light."""
    eve = book.eve(day)
    light = book.light_at(coral, eve)
    if light is None:
        return None
    stretches = stretches_before(book, coral, eve, light.survey_pk)
    by_par = any(seen.dli_mol is None for _, seen in stretches)
    # Where no daily light is missing each stretch has its own.
    values = [
        seen.par_umol if by_par or seen.dli_mol is None else seen.dli_mol for _, seen in stretches
    ]
    if min(values) <= 0:
        return None
    proportions, deviations = roots_of(book, coral, stretches)
    schedule = book.light.history.schedule_at(eve)
    return VisitExposure(
        light=light,
        before=light_before(
            [(eve - began) / DAY for began, _ in stretches],
            values,
            proportions,
            deviations,
            window_days=WINDOW_DAYS,
        ),
        by_par=by_par,
        hours_above=hours_above(light, coral.band(light.full_hours), schedule),
    )


def stretches_before(
    book: LightBook, coral: Coral, eve: dt.datetime, survey_pk: int
) -> list[LitStretch]:
    """Return (start, SpotLight) of the stretches of steady light before an eve, oldest first.

    All by one survey's map, so that two maps' difference does not pass for a change of light; back
    to where the coral's light begins to be known.
    """
    turns = [eve - dt.timedelta(days=ACCLIMATION_DAYS)]
    turns += [*book.turns_between(turns[0], eve), eve]
    stretches = []
    for began, ended in reversed(list(pairwise(turns))):
        seen = book.light_in(coral, book.stretch_at(began), survey_pk)
        if seen is None:
            break
        if began < ended:
            stretches.append((began, seen))
    return stretches[::-1]


def roots_of(
    book: LightBook, coral: Coral, stretches: Sequence[LitStretch]
) -> tuple[FloatArray, list[float]]:
    """Return how much of each root's error each stretch carries (m, r), and the deviations (r,).

    Roots are the map at each spot the coral sat on, and each light change between the survey and
    a stretch that fixtures do not explain in full, counted against its direction in time. The scale
    of the survey's meter is in all of them alike and falls out of a ratio.
    """
    spots = [coral.spot_on(book.date(began)).pk for began, _ in stretches]
    places = list(dict.fromkeys(spots))
    deviations = dict.fromkeys(places, 0.0)
    by_meter = meter_deviation(book, stretches[0][1].survey_pk)
    for spot, (began, seen) in zip(spots, stretches, strict=True):
        many = guesses(book.light.history.vague_between(seen.surveyed_at, began))
        whole = math.log(seen.high_umol / seen.low_umol) / (2 * NORMAL_90)
        common = many * CHANGE_LOG_DEVIATION**2 + by_meter**2
        deviations[spot] = math.sqrt(max(whole**2 - common, 0.0))
    at_spot = np.array([[spot == place for place in places] for spot in spots], float)
    by_change, errors = proportions_of_changes(book.light.history, stretches)
    proportions = np.concatenate([at_spot, by_change], axis=1)
    return proportions, [*deviations.values(), *errors]


def meter_deviation(book: LightBook, survey_pk: int) -> float:
    """Return how far the scale of a survey's meter may be off [log], 0 where nobody said."""
    served = (one for one in book.light.maps if one.survey_pk == survey_pk)
    return next((one.mapped.meter_deviation for one in served), 0.0)


def proportions_of_changes(
    history: LightHistory, stretches: Sequence[LitStretch]
) -> tuple[FloatArray, list[float]]:
    """Return how much of each vague change's error each stretch carries, (m, changes), and those.

    All stretches are seen through one survey: 1 after a change since it, -1 before one before it.
    """
    surveyed = stretches[0][1].surveyed_at
    moments = [surveyed, *(began for began, _ in stretches)]
    changes = history.vague_between(min(moments), max(moments))
    happened = np.array([change.happened_at.timestamp() for change in changes])
    began = np.array([moment.timestamp() for moment in moments[1:]])[:, None]
    after = (happened > surveyed.timestamp()) & (happened <= began)
    before = (happened > began) & (happened <= surveyed.timestamp())
    return after.astype(float) - before, [deviation_of(change) for change in changes]


def hours_above(light: SpotLight, band: Band, schedule: Schedule | None) -> Hours | None:
    """Return the Hours of a day above a band's upper end, None without a known schedule."""
    if schedule is None:
        return None
    result = [
        schedule.hours_at_or_above(band.high_umol / par) if par > band.high_umol else 0.0
        for par in (light.par_umol, light.low_umol, light.high_umol)
    ]
    return Hours(*result)
