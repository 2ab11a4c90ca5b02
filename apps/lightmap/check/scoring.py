"""Each survey scores the forecast that stood on its day: predicted here, measured there."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from django.template.defaultfilters import floatformat

from apps.lighting.history import Change, LightHistory
from apps.lighting.models import LightChange
from apps.lightmap.joint_input import peak_readings
from apps.lightmap.lightmap import TankLight
from apps.lightmap.logged_factors import with_common, without_common
from apps.lightmap.rig_transition import RigTransition
from apps.lightmap.spot_light import LightColumns
from apps.lightmap.survey_map import LazyMap
from apps.photics.field.forecast_score import ForecastScore, forecast_score
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.normal import NORMAL_90
from apps.surveys.meters.scales import deviation_between, survey_deviation
from apps.surveys.models import Reading, Survey

# Readings listed one by one, the furthest off first.
LISTED = 5
# Surveys looked back on for the running score.
SURVEYS = 12


@dataclass(frozen=True)
class ScoredReading:
    """A reading, and what the forecast said there [umol m-2 s-1]."""

    number: int
    reading: Reading
    predicted_umol: float
    low_umol: float
    high_umol: float
    measured_umol: float


@dataclass(frozen=True)
class CoverRead:
    """What a cover put on or taken off passes by the readings after it, and as entered [%]."""

    change: Change
    percent: float
    low_percent: float
    high_percent: float
    entered_percent: float

    @property
    def is_other(self) -> bool:
        """Whether the readings surely show another share than was entered."""
        return not self.low_percent <= self.entered_percent <= self.high_percent


@dataclass(frozen=True)
class SurveyScore:
    """A survey against the forecast from the survey before it."""

    survey: Survey
    from_survey: Survey
    score: ForecastScore
    readings: tuple[ScoredReading, ...]
    changes: tuple[Change, ...]  # of the light in between
    # The one cleaning in between, where the log tells nothing else that is unsure.
    cleaning: Change | None
    # What a lid, screen, diffuser or dirt passes by the readings, where that alone is unsure.
    cover: CoverRead | None
    # Whether fixtures moved or got other optics: then the forecast itself may be what is off.
    moved: bool

    @property
    def worst(self) -> list[ScoredReading]:
        """The readings furthest off."""
        far = sorted(self.readings, key=lambda r: -abs(np.log(r.measured_umol / r.predicted_umol)))
        return far[:LISTED]

    @property
    def unexplained(self) -> bool:
        """Whether the light as a whole is surely other than the log says."""
        return self.score.ratio_low > 1 or self.score.ratio_high < 1

    @property
    def open_cleaning(self) -> Change | None:
        """The cleaning that may be all that the log left open; fixtures that moved may be too."""
        return None if self.moved else self.cleaning

    @property
    def reason(self) -> str:
        """What may have made the light other than predicted, in words."""
        if self.moved:
            return "Lamps moved in between, so this may be the forecast’s own error."
        if self.cover is not None:
            return f"One thing in the log is uncertain: “{self.cover.change.summary}”."
        if self.cleaning is None:
            return "The log shows no reason: salt and dust, ageing or another meter could do this."
        return (
            f"One thing in the log is uncertain: “{self.cleaning.summary}”. If that is all, "
            f"its factor is about {floatformat(self.score.ratio, 2)} times the one entered "
            f"(× {floatformat(self.cleaning.factor, -2)})."
        )


@dataclass(frozen=True)
class RunningScore:
    """All a tank's forecasts that a survey could score, newest first, and them together."""

    scores: tuple[SurveyScore, ...]
    together: ForecastScore | None


def survey_score(light: TankLight, survey: Survey) -> SurveyScore | None:
    """Return the SurveyScore of one of the surveys of a TankLight, or None where none stood.

    What is scored is the light just before: as the map of the survey before foretold it.
    """
    place = next((i for i, m in enumerate(light.maps) if m.survey_pk == survey.pk), None)
    readings = list(survey.readings.all())
    if not place or not readings:
        return None
    before = replace(light, maps=light.maps[:place], unread=None)
    points, measured, _ = peak_readings(survey, readings)
    serving = before.measured_map_for(survey.taken_at)
    columns = before.columns_at(points, survey.taken_at)
    if serving is None or columns is None:
        return None
    apart = deviation_apart(survey, serving)
    low, high = ends_as_read(columns, serving.mapped.meter_deviation, apart)
    # A reading within a rock's box has no forecast: there the box is wrong, not the light.
    rows = tuple(
        ScoredReading(
            i + 1,
            reading,
            float(columns.par_umol[i]),
            float(low[i]),
            float(high[i]),
            float(measured[i]),
        )
        for i, reading in enumerate(readings)
        if measured[i] > 0 and not columns.inside[i] and columns.par_umol[i] > 0
    )
    if not rows:
        return None
    changes = light.history.between(serving.taken_at, survey.taken_at)
    score = score_of(rows, apart)
    moved = has_moved(before.transition(serving, survey.taken_at))
    vague = only_vague(light.history, serving.taken_at, survey.taken_at)
    return SurveyScore(
        survey=survey,
        from_survey=serving.survey,
        score=score,
        readings=rows,
        changes=tuple(change for change in changes if change.touches_light),
        cleaning=vague if vague and vague.reason == LightChange.Reason.CLEANED else None,
        cover=None if moved or vague is None else cover_read(vague, score),
        moved=moved,
    )


def deviation_apart(survey: Survey, serving: LazyMap) -> float:
    """Return how far a survey's scale may be from that of the map before it, by meters [log].

    0 for one meter, whatever it is off by, and where nobody stated anything of either.
    """
    other = serving.survey
    between = deviation_between(survey, other)
    if between is None:
        return math.hypot(survey_deviation(survey), survey_deviation(other))
    return between


def ends_as_read(
    columns: LightColumns, meter_deviation: float, apart: float
) -> tuple[FloatArray, FloatArray]:
    """Return the ends of intervals (m,) for what the later survey's meter reads [umol m-2 s-1].

    What a meter's scale adds to PAR is left out, and how far two meters may be apart put in [log].
    """
    par = columns.par_umol
    low, high = without_common(
        par, columns.low_umol, columns.high_umol, NORMAL_90 * meter_deviation
    )
    return with_common(par, low, high, NORMAL_90 * apart)


def score_of(rows: Sequence[ScoredReading], scale_deviation: float = 0.0) -> ForecastScore:
    """Return the ForecastScore of ScoredReadings; see `forecast_score`."""
    names = ("predicted_umol", "low_umol", "high_umol", "measured_umol")
    return forecast_score(
        *([getattr(row, name) for row in rows] for name in names), scale_deviation=scale_deviation
    )


def only_vague(history: LightHistory, start: dt.datetime, end: dt.datetime) -> Change | None:
    """Return the one change between two moments that left something to a guess, if it is one."""
    vague = history.vague_between(start, end)
    return vague[0] if len(vague) == 1 else None


def cover_read(change: Change, score: ForecastScore) -> CoverRead | None:
    """Return the CoverRead of a change by the score of the survey after it.

    All the readings show beyond the forecast is counted as the cover's. None without a cover, and
    where there is surely more light than any cover leaves.
    """
    if change.factor_deviation is None:
        return None
    # Taken off, it passed the less the brighter the light came out.
    ratios = (score.ratio, score.ratio_low, score.ratio_high)
    if change.factor > 1.0:
        percents = [100.0 / (change.factor * ratio) for ratio in ratios]
    else:
        percents = [100.0 * change.factor * ratio for ratio in ratios]
    if min(percents) > 100.0:
        return None
    best, low, high = (
        min(percent, 100.0) for percent in (percents[0], min(percents), max(percents))
    )
    entered = 100.0 * min(change.factor, 1.0 / change.factor)
    return CoverRead(change, best, low, high, entered)


def has_moved(transition: RigTransition | None) -> bool:
    """Return whether a RigTransition is more than levels turned."""
    if transition is None:
        return False
    return not transition.measured or any(
        replace(after, level=before.level) != before
        for before, after in zip(transition.before, transition.after, strict=False)
        if after.level > 0
    )


def running_score(light: TankLight) -> RunningScore:
    """Return the RunningScore of a TankLight over its newest surveys."""
    scored = (survey_score(light, m.survey) for m in reversed(light.maps[-SURVEYS:]))
    scores = tuple(score for score in scored if score is not None)
    rows = [row for score in scores for row in score.readings]
    return RunningScore(scores, score_of(rows) if rows else None)
