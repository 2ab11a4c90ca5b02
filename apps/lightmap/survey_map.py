"""From a survey's rows to its light field, fitted once for all who ask for it."""

import datetime as dt
import hashlib
import logging
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from django.db.models import Prefetch, prefetch_related_objects

from apps.common.kept import keep, kept
from apps.lighting.history import LightHistory
from apps.lightmap.rig_transition import RigTransition, field_after
from apps.photics.field.light_field import LightField, NotEnoughReadings, fit_light_field
from apps.photics.ground import scene
from apps.photics.ground.arrays import FloatArray
from apps.surveys.models import Reading, Survey
from apps.tanks.models import Tank

logger = logging.getLogger(__name__)

UNFITTED = (
    "No map could be worked out of these readings, the rock and the fixtures as they are entered. "
    "Check the rock’s and the fixtures’ measures; the readings are kept."
)
# Part of every cache key: raise it when the fit changes, so that no old map is shown.
FIT_VERSION = 4


@dataclass(frozen=True)
class SurveyMap:
    """A survey's light field at the day's peak, or the sentence that says why there is none."""

    survey_pk: int
    taken_at: dt.datetime
    field: LightField | None
    problem: str
    cache_key: str = ""

    @property
    def mapped(self) -> LightField:
        """The field of a survey that carries a map."""
        if self.field is None:
            raise ValueError(self.problem)
        return self.field


def fit_survey(survey: Survey, history: LightHistory) -> SurveyMap:
    """Return the SurveyMap of a survey, from the cache when nothing it rests on has changed.

    Readings are brought to the day's peak: divided by the level the lights were at. The
    fixtures are those that hung on the day.
    """
    readings = list(survey.readings.all())
    if not readings:
        return SurveyMap(survey.pk, survey.taken_at, None, "This survey has no readings yet.")
    readings_to_fit = fit_input(survey, readings, history)
    key = "light-map-" + hashlib.sha256(readings_to_fit.text.encode()).hexdigest()
    try:
        field, problem = kept(key, readings_to_fit.fit)
    except Exception:
        # One tank's odd geometry must not take its every page down with it.
        logger.exception("The light of survey %s could not be fitted", survey.pk)
        return SurveyMap(survey.pk, survey.taken_at, None, UNFITTED, key)
    return SurveyMap(survey.pk, survey.taken_at, field, problem, key)


@dataclass(frozen=True)
class FitInput:
    """All that a survey's fit rests on: its readings at the day's peak, and the scene."""

    points_cm: FloatArray  # (n, 3)
    par_umol: FloatArray  # (n,)
    spread_umol: FloatArray  # (n,), nan where a reading has none
    tank: scene.Tank
    rocks: tuple[scene.Rock, ...]
    rig: tuple[scene.Fixture, ...]

    @property
    def text(self) -> str:
        """All of it as a text: two inputs of one text have one fit."""
        arrays = self.points_cm.tolist(), self.par_umol.tolist(), self.spread_umol.tolist()
        return repr((FIT_VERSION, self.tank, self.rocks, self.rig, arrays))

    def fit(self) -> tuple[LightField | None, str]:
        """Return the LightField, or None with the reason."""
        try:
            field = fit_light_field(
                self.points_cm,
                self.par_umol,
                tank=self.tank,
                fixtures=self.rig,
                rocks=self.rocks,
                spread=self.spread_umol,
            )
        except NotEnoughReadings as problem:
            return None, str(problem)
        return field, ""


def fit_input(survey: Survey, readings: Sequence[Reading], history: LightHistory) -> FitInput:
    """Return the FitInput of a survey's readings, under the fixtures that hung on its day."""
    points, par, to_peak = peak_readings(survey, readings)
    return FitInput(
        points_cm=points,
        par_umol=par,
        spread_umol=np.array([r.spread_umol or math.nan for r in readings], float) * to_peak,
        tank=survey.tank.scene(),
        rocks=survey.tank.scene_rocks(),
        rig=history.rig_at(survey.taken_at),
    )


def peak_readings(
    survey: Survey, readings: Iterable[Reading]
) -> tuple[FloatArray, FloatArray, float]:
    """Return points (n, 3) [cm], PAR at the day's peak (n,), and the factor to it [1]."""
    points = np.array([(r.x_cm, r.y_cm, r.depth_cm) for r in readings], float).reshape(-1, 3)
    values = np.array([r.value_umol for r in readings], float) * survey.to_peak
    return points, values, survey.to_peak


def ready_to_draw(fitted: SurveyMap) -> None:
    """Keep the lattice a SurveyMap is drawn from with its field: made once, not once a page."""
    field = fitted.field
    if field is not None and field.is_smooth and "lattice" not in vars(field):
        field.lattice  # noqa: B018  A cached property: asking for it makes it.
        keep(fitted.cache_key, (field, fitted.problem))


def surveys_for_fitting(tank: Tank, chosen_pk: int | None = None) -> list[Survey]:
    """Return the tank's present surveys with readings, oldest first, for `fit_survey`.

    A survey made beforehand says nothing of the light yet. It comes only when it is chosen by
    its key or when there is no other, so that the map can say so.
    """
    rows = Reading.objects.order_by("position", "pk")
    # One channel alone is a part of the light: no map of the tank's light rests on it.
    surveys = tank.surveys.present().filter(channel="")
    surveys = surveys.select_related("meter").prefetch_related(Prefetch("readings", queryset=rows))
    prefetch_related_objects([tank], "rocks")
    read = [s for s in surveys if s.readings.all() or s.pk == chosen_pk]
    result = sorted(read or surveys, key=lambda s: (s.taken_at, s.pk))
    for survey in result:
        # The same tank object for all, so that its rocks are read once.
        survey.tank = tank
    return result


class LazyMap:
    """A survey's SurveyMap, fitted when first needed."""

    def __init__(self, survey: Survey, history: LightHistory) -> None:
        self.survey, self.history = survey, history
        self.survey_pk, self.taken_at = survey.pk, survey.taken_at

    @cached_property
    def fitted(self) -> SurveyMap:
        """The SurveyMap."""
        return fit_survey(self.survey, self.history)

    @property
    def field(self) -> LightField | None:
        return self.fitted.field

    @property
    def mapped(self) -> LightField:
        return self.fitted.mapped

    @property
    def problem(self) -> str:
        return self.fitted.problem


def map_after(
    fitted: SurveyMap, transition: RigTransition | None, rocks: tuple[scene.Rock, ...]
) -> SurveyMap:
    """Return the SurveyMap after a RigTransition that is not dark, kept like the map itself."""
    if transition is None or fitted.field is None:
        return fitted
    field = fitted.field
    key = "light-map-" + hashlib.sha256(repr((fitted.cache_key, transition)).encode()).hexdigest()
    result = kept(key, lambda: (field_after(field, transition, rocks), ""))
    return replace(fitted, field=result[0], cache_key=key)
