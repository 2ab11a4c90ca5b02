"""From a survey's rows to its light field, fitted once for all who ask for it."""

import datetime as dt
import hashlib
import logging
import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from django.db.models import Prefetch, prefetch_related_objects

from apps.common.kept import keep, kept
from apps.lightmap.rig_transition import field_after
from apps.photics.field.light_field import LightField, NotEnoughReadings, fit_light_field
from apps.surveys.models import Reading

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


def fit_survey(survey, history):
    """Return the SurveyMap of a survey, from the cache when nothing it rests on has changed.

    Readings are brought to the day's peak: divided by the level the lights were at. The
    fixtures are those that hung on the day.
    """
    readings = list(survey.readings.all())
    if not readings:
        return SurveyMap(survey.pk, survey.taken_at, None, "This survey has no readings yet.")
    points, values, to_peak = peak_readings(survey, readings)
    spread = np.array([r.spread_umol or math.nan for r in readings], float) * to_peak
    tank, rocks = survey.tank.scene(), survey.tank.scene_rocks()
    rig = history.rig_at(survey.taken_at)

    arrays = points.tolist(), values.tolist(), spread.tolist()
    text = repr((FIT_VERSION, tank, rocks, rig, arrays))
    key = "light-map-" + hashlib.sha256(text.encode()).hexdigest()

    def fit():
        scene = {"tank": tank, "fixtures": rig, "rocks": rocks, "spread": spread}
        try:
            return fit_light_field(points, values, **scene), ""
        except NotEnoughReadings as problem:
            return None, str(problem)

    try:
        result = kept(key, fit)
    except Exception:
        # One tank's odd geometry must not take its every page down with it.
        logger.exception("The light of survey %s could not be fitted", survey.pk)
        return SurveyMap(survey.pk, survey.taken_at, None, UNFITTED, key)
    field, problem = result
    return SurveyMap(survey.pk, survey.taken_at, field, problem, key)


def peak_readings(survey, readings):
    """Return points (n, 3) [cm], PAR at the day's peak (n,), and the factor to it [1]."""
    points = np.array([(r.x_cm, r.y_cm, r.depth_cm) for r in readings], float).reshape(-1, 3)
    values = np.array([r.value_umol for r in readings], float) * survey.to_peak
    return points, values, survey.to_peak


def ready_to_draw(fitted):
    """Keep the lattice a SurveyMap is drawn from with its field: made once, not once a page."""
    if fitted.field.is_smooth and "lattice" not in vars(fitted.field):
        fitted.field.lattice  # noqa: B018  A cached property: asking for it makes it.
        keep(fitted.cache_key, (fitted.field, fitted.problem))


def surveys_for_fitting(tank, chosen_pk=None):
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

    def __init__(self, survey, history):
        self.survey, self.history = survey, history
        self.survey_pk, self.taken_at = survey.pk, survey.taken_at

    @cached_property
    def fitted(self):
        """The SurveyMap."""
        return fit_survey(self.survey, self.history)

    @property
    def field(self):
        return self.fitted.field

    @property
    def problem(self):
        return self.fitted.problem


def map_after(fitted, transition, rocks):
    """Return the SurveyMap after a RigTransition that is not dark, kept like the map itself."""
    if transition is None:
        return fitted
    key = "light-map-" + hashlib.sha256(repr((fitted.cache_key, transition)).encode()).hexdigest()
    result = kept(key, lambda: (field_after(fitted.field, transition, rocks), ""))
    return replace(fitted, field=result[0], cache_key=key)
