"""The light of a tank: of any spot at any moment, by the survey that serves it."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from dataclasses import field as dataclass_field

import numpy as np
from django.utils import timezone

from apps.common.reading_once import read_once
from apps.lighting.history import LightHistory, light_history
from apps.lightmap.logged_factors import guesses, widened
from apps.lightmap.rig_transition import Followed, RigTransition, transition_between
from apps.lightmap.spot_light import LightColumns, Provenance, SpotLight
from apps.lightmap.stated_outputs import StatedOutputs
from apps.lightmap.survey_map import LazyMap, SurveyMap, TankMap, map_after, surveys_for_fitting
from apps.lightmap.unread_maps import DAWN, UnreadMaps
from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray
from apps.photics.ground.dose import dli_mol
from apps.photics.ground.scene import Rock, in_rock, out_of_water
from apps.photics.ground.scene import Tank as SceneTank
from apps.tanks.models import Tank

# How often the light of ageing tubes is worked out anew.
AGEING_STEP = dt.timedelta(days=14)
# Points (m, 3) of x, y, depth [cm].
Points = Sequence[tuple[float, float, float]] | FloatArray


@dataclass(frozen=True)
class TankLight:
    """Everything known of a tank's light, at any spots and moments."""

    maps: tuple[LazyMap, ...]
    history: LightHistory
    rocks: tuple[Rock, ...] = ()
    water: SceneTank | None = None  # what bounds it; a point is never outside where unknown
    # The light by stated outputs, where no survey carries a map; None to know of readings alone.
    unread: UnreadMaps | None = None
    # The one map by which all light is seen, whatever else there is.
    pinned: TankMap | None = None
    _followed: dict[tuple[int, dt.datetime, bytes], Followed] = dataclass_field(
        default_factory=dict, compare=False
    )
    _transitions: dict[tuple[int, dt.datetime, dt.datetime | int], RigTransition | None] = (
        dataclass_field(default_factory=dict, compare=False)
    )

    @property
    def has_map(self) -> bool:
        """Whether any survey carries a map."""
        return any(m.field is not None for m in reversed(self.maps))

    def has_light(self, moment: dt.datetime) -> bool:
        """Whether the light of a moment is known, measured or by stated outputs."""
        return self.map_for(moment) is not None

    def map_for(self, moment: dt.datetime) -> TankMap | None:
        """Return the map that serves a moment: a survey's, else the one by stated outputs."""
        if self.pinned is not None:
            return self.pinned
        measured = self.measured_map_for(moment)
        if measured is None and self.unread is not None:
            return self.unread.map_for(moment)
        return measured

    def measured_map_for(self, moment: dt.datetime) -> LazyMap | None:
        """Return the survey's map that serves a moment: the last before it, else the first after.

        No more surveys are fitted than needed to find it.
        """
        before = [m for m in self.maps if m.taken_at <= moment]
        after = self.maps[len(before) :]
        return next((m for m in [*reversed(before), *after] if m.field is not None), None)

    def transition(self, serving: TankMap, moment: dt.datetime) -> RigTransition | None:
        """Return the RigTransition from a map's rig to a moment; None where nothing changed.

        Between changes it stays the same, unless a fixture ages.
        """
        changes = len(self.history.between(DAWN, moment))
        end = moment if self.history.has_ageing else changes
        key = serving.survey_pk, serving.taken_at, end
        if key not in self._transitions:
            start = serving.followed_from
            self._transitions[key] = transition_between(self.history, start, moment)
        return self._transitions[key]

    def map_at(self, moment: dt.datetime) -> SurveyMap | None:
        """Return the map that serves a moment, followed to it; None without one or in the dark."""
        serving = self.map_for(moment)
        if serving is None:
            return None
        transition = self.transition(serving, moment)
        if transition is not None and transition.is_dark:
            return None
        return map_after(serving.fitted, transition, self.rocks)

    def followed(self, serving: TankMap, points_cm: ArrayLike) -> Followed:
        """Return the Followed of a map at points (m, 3) [cm], made once."""
        points = np.asarray(points_cm, float).reshape(-1, 3)
        key = serving.survey_pk, serving.taken_at, points.tobytes()
        if key not in self._followed:
            self._followed[key] = Followed(serving.anchored, points, self.rocks)
        return self._followed[key]

    def at(self, points_cm: Points, moment: dt.datetime) -> list[SpotLight | None]:
        """Return a SpotLight for each point (m, 3) of x, y, depth [cm].

        None where there is no map, and within rock.
        """
        result = self.columns_at(points_cm, moment)
        return [None] * len(points_cm) if result is None else result.rows()

    def columns_at(self, points_cm: Points, moment: dt.datetime) -> LightColumns | None:
        """Return what `at` does as LightColumns, None where there is no map or no point."""
        serving = self.map_for(moment) if len(points_cm) else None
        if serving is None:
            return None
        result = self.followed(serving, points_cm).under(self.transition(serving, moment))
        factor = self.history.factor_between(serving.factor_from, moment)
        # What was guessed before the survey, its readings have settled.
        vague = guesses(self.history.vague_between(serving.vague_from, moment))
        par = result.par_umol * factor
        low, high = widened(par, result.low_umol * factor, result.high_umol * factor, vague)
        full_hours = self.history.full_hours_at(moment)
        return LightColumns(
            par_umol=par,
            low_umol=low,
            high_umol=high,
            extrapolated=result.extrapolated,
            inside=self.in_rock(points_cm),
            dli_mol=None if full_hours is None else dli_mol(par, full_hours=full_hours),
            rests_on=self.provenance(serving, moment),
        )

    def in_rock(self, points_cm: ArrayLike) -> BoolArray:
        """Return whether each point (m, 3) lies within rock, where nobody reads light; (m,).

        Outside the panes counts as rock.
        """
        places = np.asarray(points_cm, float).reshape(-1, 3).T
        if self.water is None:
            return in_rock(self.rocks, *places)
        return out_of_water(self.water, self.rocks, *places)

    def provenance(self, serving: TankMap, moment: dt.datetime) -> Provenance:
        """Return what the light of all spots rests on, by the names of SpotLight."""
        changes = self.history.between(*sorted((serving.taken_at, moment)))
        later = serving.taken_at > moment
        measured = serving.measured
        touched = [c.happened_at for c in changes if c.touches_light]
        return {
            "survey_pk": serving.survey_pk,
            "surveyed_at": serving.taken_at,
            "changes_since": len(changes),
            "measured_later": later,
            "predicted_since": touched[0] if touched and measured and not later else None,
            "measured": measured,
            "full_hours": self.history.full_hours_at(moment),
        }

    def dli_on(self, points_cm: Points, day: dt.date, zone: dt.tzinfo) -> list[float | None]:
        """Return the daily light of a date at points (m, 3) [mol m-2 d-1], None where unknown.

        Exact over the pieces of the date between light changes, and over its 23 to 25 hours.
        """
        result: list[float | None] = [0.0] * len(points_cm)
        for moment, hours in self.history.day_pieces(day, zone):
            for i, light in enumerate(self.at(points_cm, moment)):
                known = result[i]
                if light is None or hours is None or known is None:
                    result[i] = None
                else:
                    result[i] = known + dli_mol(light.par_umol, full_hours=hours)
        return result

    def steps_between(self, start: dt.datetime, end: dt.datetime) -> list[dt.datetime]:
        """Return the moments in (start, end] at which the light or what is known of it changes.

        Where a fixture ages, the light also sinks between them: a step for each AGEING_STEP.
        """
        turns = [m.taken_at for m in self.maps] + [c.happened_at for c in self.history.changes]
        if self.history.has_ageing:
            begun = self.history.changes[0].happened_at
            steps = (min(end, timezone.now()) - begun) // AGEING_STEP
            turns += [begun + n * AGEING_STEP for n in range(1, steps + 1)]
        return sorted({t for t in turns if start < t <= end})


def tank_light(tank: Tank) -> TankLight:
    """Return the TankLight of a tank in at most seven queries, however much it holds."""
    return read_once(("tank light", tank.pk), lambda: read_light(tank))


def read_light(tank: Tank) -> TankLight:
    """Return `tank_light` as the database has it now."""
    history = light_history(tank)
    surveys = surveys_for_fitting(tank)
    outputs = StatedOutputs(tank, history)
    maps = tuple(LazyMap(survey, history, surveys, outputs) for survey in surveys)
    unread = UnreadMaps(tank, history, outputs)
    return TankLight(maps, history, tank.scene_rocks(), tank.scene(), unread)
