"""From a survey's rows to its light field, and from there to the light of any spot on any day."""

import datetime as dt
import hashlib
import logging
import math
from dataclasses import dataclass, replace
from dataclasses import field as dataclass_field
from functools import cached_property

import numpy as np
from django.core.cache import caches
from django.db.models import Prefetch, prefetch_related_objects
from django.utils import timezone

from apps.common.kept import keep, kept
from apps.common.reading_once import read_once
from apps.lighting.history import LightHistory, light_history
from apps.lightmap.rig_transition import Followed, field_after, transition_between
from apps.photics.field.light_field import LightField, NotEnoughReadings, fit_light_field
from apps.photics.ground.dose import dli_mol
from apps.photics.ground.estimate import Estimate
from apps.photics.ground.scene import Rock, in_rock
from apps.surveys.models import Reading

logger = logging.getLogger(__name__)

UNFITTED = (
    "No map could be worked out of these readings, the rock and the fixtures as they are entered. "
    "Check the rock’s and the fixtures’ measures; the readings are kept."
)
# Part of every cache key: raise it when the fit changes, so that no old map is shown.
FIT_VERSION = 4
# What a keeper's own factor of a light change is worth, as a deviation in log PAR.
# House rule: "a fifth less" is right to about a tenth.
CHANGE_LOG_DEVIATION = 0.10
# 90 % of a normal distribution lies within so many deviations.
NORMAL_90 = 1.645
DARK_UMOL = 1e-9
# How often the light of ageing tubes is told anew.
AGEING_STEP = dt.timedelta(days=14)
DAWN = dt.datetime(1, 1, 2, tzinfo=dt.UTC)


@dataclass(frozen=True)
class SurveyMap:
    """A survey's light field at the day's peak, or the sentence that says why there is none."""

    survey_pk: int
    taken_at: dt.datetime
    field: LightField | None
    problem: str
    cache_key: str = ""


@dataclass(frozen=True)
class SpotLight:
    """The light of one spot at one moment [umol m-2 s-1], and what it rests on."""

    par_umol: float
    low_umol: float
    high_umol: float
    extrapolated: bool
    dli_mol: float | None
    survey_pk: int
    surveyed_at: dt.datetime
    changes_since: int
    measured_later: bool
    # When the light first changed after the survey: from then on it is predicted.
    predicted_since: dt.datetime | None = None


@dataclass(frozen=True)
class LightColumns:
    """The light of spots at one moment as columns (m,), and what all of it rests on."""

    par_umol: np.ndarray
    low_umol: np.ndarray
    high_umol: np.ndarray
    extrapolated: np.ndarray
    inside: np.ndarray  # within rock, where nobody reads light
    dli_mol: np.ndarray | None  # None where no hours are told
    rests_on: dict  # by the names of SpotLight

    def row(self, place):
        """Return the SpotLight of one spot by its place in the columns, None within rock."""
        if self.inside[place]:
            return None
        return SpotLight(
            par_umol=float(self.par_umol[place]),
            low_umol=float(self.low_umol[place]),
            high_umol=float(self.high_umol[place]),
            extrapolated=bool(self.extrapolated[place]),
            dli_mol=None if self.dli_mol is None else float(self.dli_mol[place]),
            **self.rests_on,
        )

    def rows(self):
        """Return `row` of all spots."""
        # As lists: taking numbers out of arrays one by one costs more than the light itself.
        names = ("par_umol", "low_umol", "high_umol", "extrapolated", "inside")
        told = [getattr(self, name).tolist() for name in names]
        daily = [None] * len(told[0]) if self.dli_mol is None else self.dli_mol.tolist()
        return [
            None if inside else SpotLight(par, low, high, beyond, dli, **self.rests_on)
            for par, low, high, beyond, inside, dli in zip(*told, daily, strict=True)
        ]


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
        asked = {"tank": tank, "fixtures": rig, "rocks": rocks, "spread": spread}
        try:
            return fit_light_field(points, values, **asked), ""
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


def surveys_for_fitting(tank, asked_pk=None):
    """Return the tank's present surveys with readings, oldest first, for `fit_survey`.

    A survey made beforehand says nothing of the light yet. It comes only when it is asked for by
    its key or when there is no other, so that the map can say so.
    """
    rows = Reading.objects.order_by("position", "pk")
    # One channel alone is a part of the light: no map of the tank's light rests on it.
    surveys = tank.surveys.present().filter(channel="")
    surveys = surveys.select_related("meter").prefetch_related(Prefetch("readings", queryset=rows))
    prefetch_related_objects([tank], "rocks")
    read = [s for s in surveys if s.readings.all() or s.pk == asked_pk]
    result = sorted(read or surveys, key=lambda s: (s.taken_at, s.pk))
    for survey in result:
        # The same tank object for all, so that its rocks are read once.
        survey.tank = tank
    return result


class LazyMap:
    """A survey's SurveyMap, fitted when first asked for."""

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


@dataclass(frozen=True)
class TankLight:
    """Everything known of a tank's light, asked for spots and moments."""

    maps: tuple[LazyMap, ...]
    history: LightHistory
    rocks: tuple[Rock, ...] = ()
    _followed: dict = dataclass_field(default_factory=dict, compare=False)
    _transitions: dict = dataclass_field(default_factory=dict, compare=False)

    @property
    def has_map(self):
        """Whether any survey carries a map."""
        return any(m.field is not None for m in reversed(self.maps))

    def map_for(self, moment):
        """Return the map that serves a moment: the last one before it, else the first after.

        No more surveys are fitted than needed to find it.
        """
        before = [m for m in self.maps if m.taken_at <= moment]
        after = self.maps[len(before) :]
        return next((m for m in [*reversed(before), *after] if m.field is not None), None)

    def transition(self, serving, moment):
        """Return the RigTransition from a map's survey to a moment; None where nothing changed.

        Between changes it stays the same, unless a fixture ages.
        """
        key = serving.survey_pk, moment
        if not self.history.has_ageing:
            key = serving.survey_pk, len(self.history.between(DAWN, moment))
        if key not in self._transitions:
            self._transitions[key] = transition_between(self.history, serving.taken_at, moment)
        return self._transitions[key]

    def followed(self, serving, points_cm):
        """Return the Followed of a map at points (m, 3) [cm], made once."""
        points = np.asarray(points_cm, float).reshape(-1, 3)
        key = serving.survey_pk, points.tobytes()
        if key not in self._followed:
            self._followed[key] = Followed(serving.field, points, self.rocks)
        return self._followed[key]

    def at(self, points_cm, moment):
        """Return a SpotLight for each point (m, 3) of x, y, depth [cm].

        None where there is no map, and within rock.
        """
        result = self.columns_at(points_cm, moment)
        return [None] * len(points_cm) if result is None else result.rows()

    def columns_at(self, points_cm, moment):
        """Return what `at` does as LightColumns, None where there is no map or no point."""
        serving = self.map_for(moment) if len(points_cm) else None
        if serving is None:
            return None
        result = self.followed(serving, points_cm).under(self.transition(serving, moment))
        factor = self.history.factor_between(serving.taken_at, moment)
        vague = len(self.history.vague_between(serving.taken_at, moment))
        par = result.par_umol * factor
        low, high = widened(par, result.low_umol * factor, result.high_umol * factor, vague)
        schedule = self.history.schedule_at(moment)
        full_hours = schedule.full_hours if schedule else None
        return LightColumns(
            par_umol=par,
            low_umol=low,
            high_umol=high,
            extrapolated=result.extrapolated,
            inside=self.in_rock(points_cm),
            dli_mol=None if full_hours is None else dli_mol(par, full_hours=full_hours),
            rests_on=self.provenance(serving, moment),
        )

    def in_rock(self, points_cm):
        """Return whether each point (m, 3) lies within rock, where nobody reads light; (m,)."""
        return in_rock(self.rocks, *np.asarray(points_cm, float).reshape(-1, 3).T)

    def provenance(self, serving, moment):
        """Return what the light of all spots rests on, by the names of SpotLight."""
        changes = self.history.between(*sorted((serving.taken_at, moment)))
        later = serving.taken_at > moment
        touched = [c.happened_at for c in changes if c.touches_light]
        return {
            "survey_pk": serving.survey_pk,
            "surveyed_at": serving.taken_at,
            "changes_since": len(changes),
            "measured_later": later,
            "predicted_since": touched[0] if touched and not later else None,
        }

    def dli_on(self, points_cm, day, zone):
        """Return the daily light of a date at points (m, 3) [mol m-2 d-1], None where unknown.

        Exact over the pieces of the date between light changes, and over its 23 to 25 hours.
        """
        result = [0.0] * len(points_cm)
        for moment, hours in self.history.day_pieces(day, zone):
            for i, light in enumerate(self.at(points_cm, moment)):
                told = light is not None and hours is not None and result[i] is not None
                result[i] = result[i] + dli_mol(light.par_umol, full_hours=hours) if told else None
        return result

    def steps_between(self, start, end):
        """Return the moments in (start, end] at which the light or what is known of it changes.

        Where a fixture ages, the light also sinks between them: a step for each AGEING_STEP.
        """
        turns = [m.taken_at for m in self.maps] + [c.happened_at for c in self.history.changes]
        if self.history.has_ageing:
            begun = self.history.changes[0].happened_at
            steps = (min(end, timezone.now()) - begun) // AGEING_STEP
            turns += [begun + n * AGEING_STEP for n in range(1, steps + 1)]
        return sorted({t for t in turns if start < t <= end})


def widened(par_umol, low_umol, high_umol, changes):
    """Return the 90 % interval widened by what `changes` keeper-told factors add.

    Scalars or arrays of one shape [umol m-2 s-1].
    """
    if changes == 0:
        return low_umol, high_umol
    extra = NORMAL_90 * CHANGE_LOG_DEVIATION * math.sqrt(changes)
    # In the dark there is nothing to be unsure of.
    par, low, high = (np.maximum(v, DARK_UMOL) for v in (par_umol, low_umol, high_umol))
    down = np.hypot(np.log(par / low), extra)
    up = np.hypot(np.log(high / par), extra)
    return par_umol * np.exp(-down), par_umol * np.exp(up)


@dataclass(frozen=True)
class ShownField:
    """A light field as another moment sees it: times what keepers told besides, and wider.

    What the fixtures tell is in the field already (`map_after`).
    """

    field: LightField
    factor: float
    changes: int
    cache_key: str = ""

    def at(self, points_cm):
        """Return the Estimate at points (m, 3) of x, y, depth [cm]."""
        return self.moved(self.field.at(points_cm))

    def grid(self, depth_cm, step_cm):
        """Return the GridEstimate of a level cut at one depth [cm]."""
        return self.moved(self._cut("grid", depth_cm, step_cm))

    def section(self, y_cm, step_cm):
        """Return the SectionEstimate of an upright cut at one y [cm]."""
        return self.moved(self._cut("section", y_cm, step_cm))

    def block(self, x_cm, y_cm, depth_cm):
        """Return the Estimate on the grid of three axes [cm], each array (nx, ny, nz)."""
        return self.moved(Estimate(*self._cut("cut", x_cm, y_cm, depth_cm)))

    def _cut(self, way, *where):
        """Return a cut of the field, kept where every node of it has to be worked out."""
        if self.field.is_smooth or not self.cache_key:
            return getattr(self.field, way)(*where)
        place = hashlib.sha256(b"".join(np.asarray(axis, float).tobytes() for axis in where))
        key = f"{self.cache_key}-{way}-{place.hexdigest()}"
        return caches["planes"].get_or_set(key, lambda: getattr(self.field, way)(*where))

    def directness(self, points_cm):
        """Return the share of PAR straight from one fixture at points (m, 3), (m,) [1]."""
        return self.field.directness(points_cm)

    def explain(self, point_cm):
        """Return the Explanation of one point (3,), every part of it scaled alike."""
        result = self.moved(self.field.explain(point_cm))
        parts = tuple(
            replace(
                part,
                direct_umol=part.direct_umol * self.factor,
                by_panes_umol=part.by_panes_umol * self.factor,
                by_bottom_umol=part.by_bottom_umol * self.factor,
            )
            for part in result.contributions
        )
        correction = result.correction_umol * self.factor
        return replace(result, contributions=parts, correction_umol=correction)

    def moved(self, found):
        """Return any of the field's answers scaled and widened."""
        par = found.par_umol * self.factor
        low, high = widened(
            par, found.low_umol * self.factor, found.high_umol * self.factor, self.changes
        )
        return replace(found, par_umol=par, low_umol=low, high_umol=high)


def map_after(fitted, transition, rocks):
    """Return the SurveyMap after a RigTransition that is not dark, kept like the map itself."""
    if transition is None:
        return fitted
    key = "light-map-" + hashlib.sha256(repr((fitted.cache_key, transition)).encode()).hexdigest()
    result = kept(key, lambda: (field_after(fitted.field, transition, rocks), ""))
    return replace(fitted, field=result[0], cache_key=key)


def tank_light(tank):
    """Return the TankLight of a tank in at most seven queries, however much it holds."""
    return read_once(("tank light", tank.pk), lambda: read_light(tank))


def read_light(tank):
    """Return `tank_light` as the database has it now."""
    history = light_history(tank)
    maps = tuple(LazyMap(survey, history) for survey in surveys_for_fitting(tank))
    return TankLight(maps, history, tank.scene_rocks())
