"""The map's light set against an earlier one: what to choose from, the change, how sure it is."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from apps.drawing.contours import filled_bands
from apps.drawing.cut import Drawing, Water
from apps.lighting.history import LightHistory
from apps.lightmap.difference.at_points import change_at_points
from apps.lightmap.difference.dated_light import (
    DATES,
    Comparable,
    ComparedLight,
    SeenBy,
    before_changes,
    chosen,
    of_surveys,
)
from apps.lightmap.lightmap import tank_light
from apps.lightmap.page.looks import PlaneEstimate, points_of
from apps.lightmap.page.shown_light import ChosenSurvey, MapLight
from apps.lightmap.shown_field import ShownField
from apps.photics.field.field_change import FieldChange
from apps.photics.ground.arrays import ArrayLike, BoolArray
from apps.photics.ground.estimate import GridEstimate
from apps.photics.ground.scene import out_of_water
from apps.surveys.meters.scales import scale_of
from apps.surveys.models import Survey
from apps.tanks.models import Tank

# A median change of less is none [%]: chosen, since nobody could see it.
SAME_WITHIN_PERCENT = 1.0
UNKNOWN_THEN = "No light is known of that day. Choose another."


@dataclass(frozen=True, kw_only=True)
class ChangedField(ShownField):
    """A light that knows how it differs from an earlier one."""

    earlier: ComparedLight
    later: ComparedLight
    _changes: dict[bytes, FieldChange] = field(default_factory=dict, compare=False)

    def change(self, points_cm: ArrayLike) -> FieldChange:
        """Return the FieldChange since the earlier light at points (m, 3) [cm]."""
        points = np.asarray(points_cm, float)
        key = points.tobytes()
        if key not in self._changes:
            self._changes[key] = change_at_points(self.earlier, self.later, points)
        return self._changes[key]

    def is_unsure(self, points_cm: ArrayLike) -> BoolArray:
        """Return where the change may be none (m,): within its interval, or beyond readings."""
        change = self.change(points_cm)
        return ~change.is_real | change.beyond


@dataclass(frozen=True)
class CutChange:
    """How a cut's light differs from an earlier one, over its water [%]."""

    than: str  # the earlier light, as it stands behind "than"
    percent: float  # the median
    sure_percent: float  # of the area, where it is more than the uncertainty

    @property
    def from_words(self) -> str:
        """The earlier light, as it stands behind "from"."""
        return self.than.removeprefix("on ")

    @property
    def size_percent(self) -> float:
        return abs(self.percent)

    @property
    def way(self) -> str:
        """Return which way it changed; "" for no change."""
        if self.size_percent < SAME_WITHIN_PERCENT:
            return ""
        return "brighter" if self.percent > 0 else "dimmer"


def earlier_lights(
    tank: Tank, surveys: Sequence[Survey], history: LightHistory, shown_at: dt.datetime
) -> tuple[Comparable, ...]:
    """Return what a light may be set against: the days before changes, then the surveys before.

    Surveys come newest first, and so do the lights of each kind.
    """
    changes = (change for change in history.changes if change.happened_at <= shown_at)
    before = (survey for survey in surveys if survey.taken_at < shown_at)
    return *before_changes(tank, changes), *of_surveys(tank, before)


def chosen_earlier(earlier: Sequence[Comparable], key: str, tank: Tank) -> Comparable | None:
    """Return the Comparable of a key or of any date, else the usual: before the last change."""
    return chosen(earlier, key, tank) or next(iter(earlier), None)


def changed_field(
    since: Comparable, light: MapLight, survey: ChosenSurvey, tank: Tank
) -> ChangedField | None:
    """Return the field of a MapLight that knows its change since then; None where no light is."""
    earlier = since.make()
    if earlier is None:
        return None
    shown, read = light.field, survey.survey
    later = ComparedLight(
        name="",
        tank=tank,
        light=shown,
        usual_depth_cm=tank.depth_cm / 2,
        scale=scale_of(read) if read else None,
        seen_by=seen_by(survey, light.moment, tank),
    )
    return ChangedField(
        shown.field, shown.factor, shown.changes, shown.cache_key, earlier=earlier, later=later
    )


def seen_by(survey: ChosenSurvey, moment: dt.datetime, tank: Tank) -> SeenBy | None:
    """Return by which map of the tank's light a survey's is seen at a moment; None for another."""
    light = tank_light(tank)
    serving = light.map_for(moment)
    if serving is None or serving.fitted.cache_key != survey.fitted.cache_key:
        return None
    return SeenBy(light, serving, moment)


def than_words(since: Comparable, earlier: ComparedLight) -> str:
    """Return the earlier light as it stands behind "brighter than"."""
    name = earlier.name
    return f"on {name}" if since.group == DATES else f"the {name[:1].lower()}{name[1:]}"


def cut_change(light: ChangedField, cut: PlaneEstimate, water: Water, than: str) -> CutChange:
    """Return the CutChange of a cut, over what of it is water."""
    points = points_of(cut)
    free = ~out_of_water(water.scene(), water.scene_rocks(), *points.T)
    counted = free if free.any() else np.ones(len(points), bool)
    ratio, unsure = light.change(points).ratio[counted], light.is_unsure(points)[counted]
    return CutChange(than, 100.0 * float(np.median(ratio) - 1.0), 100.0 * float((~unsure).mean()))


def with_change(drawing: Drawing, light: ChangedField, cut: PlaneEstimate, than: str) -> Drawing:
    """Return a drawing of a change with dots where it may be none, and a read-out that says it."""
    points, frame = points_of(cut), drawing.frame
    down_cm = cut.y_cm if isinstance(cut, GridEstimate) else cut.depth_cm
    unsure = light.is_unsure(points).reshape(cut.par_umol.shape)
    noise = filled_bands(frame.x(cut.x_cm), frame.y(down_cm), unsure.astype(float), [0.5])[1]
    # Within rock there is no light, and so no ratio.
    percent = np.round(np.nan_to_num(100.0 * (light.change(points).ratio - 1.0)), 1)
    change = {"percent": percent.tolist(), "unsure": unsure.ravel().astype(int).tolist()}
    return replace(
        drawing,
        light=replace(drawing.light, beyond="", noise=noise),
        readout={**drawing.readout, "change": {**change, "than": than}},
    )
